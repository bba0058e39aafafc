"""The casebook's commands do what they say, or say why not, on either database."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import httpx2
import pytest

from casebook.__main__ import main
from casebook.cases import case, keep_case
from casebook.instructors import add_first, sign_in, signed_in
from casebook.migrations import pending
from casebook.place import FILE, chosen
from casebook.progress import Terminal
from casebook.store import open_store
from casemaking import TORN

ROOT = Path(__file__).resolve().parent.parent
COMMANDS = {"backup", "restore", "export", "import", "csv", "passphrase"}


@pytest.fixture(autouse=True)
def _no_address(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DATABASE_URL", raising=False)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "kitchen"
    made.mkdir()
    with open_store(made / FILE) as store:
        keep_case(store, replace(TORN, id="torn-one"), "form")
    return made


def run(*arguments: object) -> int:
    return main([str(argument) for argument in arguments])


def test_a_case_goes_out_and_comes_back_by_every_way(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    assert run("backup", out / "b.sqlite3", "--folder", folder) == 0
    assert run("export", out / "all.zip", "--folder", folder) == 0
    assert run("export", out / "one.yaml", "--case", "torn-one", "--folder", folder) == 0
    assert run("csv", out / "all.csv", "--folder", folder) == 0
    said = capsys.readouterr().out
    assert "1 cases written to" in said
    for how, file in (("restore", "b.sqlite3"), ("import", "all.zip"), ("import", "one.yaml")):
        there = tmp_path / f"to-{file}"
        assert run(how, out / file, "--folder", there) == 0
        with open_store(there / FILE) as store:
            assert case(store, "torn-one").title == TORN.title


def test_what_cannot_be_done_is_said_in_a_sentence(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "bad.yaml").write_bytes(b"\xff")
    for arguments in (
        ("import", tmp_path / "missing.zip"),
        ("import", tmp_path / "missing.yaml"),
        ("import", tmp_path / "bad.yaml"),
        ("restore", tmp_path / "missing.sqlite3"),
        ("export", folder / FILE),
        ("export", tmp_path / "one.yaml", "--case", "nobody"),
    ):
        assert run(*arguments, "--folder", folder) == 1
        said = capsys.readouterr()
        assert said.out == ""
        assert said.err.endswith(".\n")
        assert "Traceback" not in said.err


def test_a_server_named_in_the_environment_is_used(
    address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("DATABASE_URL", address if "://" in address else f"sqlite:///{address}")
    with open_store(address) as store:
        keep_case(store, replace(TORN, id="torn-one"), "form")
    assert run("export", tmp_path / "all.zip") == 0
    assert run("import", tmp_path / "all.zip") == 0
    assert run("restore", tmp_path / "all.zip") == 1
    assert run("import", tmp_path / "all.zip", "--folder", tmp_path / "own") == 0
    assert (tmp_path / "own" / FILE).exists()
    assert not (tmp_path / "home" / "panadier" / FILE).exists()


def test_the_site_keeps_what_is_told_on_the_server_named_in_the_environment(
    address: str, tmp_path: Path
) -> None:
    where = address if "://" in address else f"sqlite:///{address}"
    with subprocess.Popen(
        [sys.executable, "-m", "web", "--port", "18760"],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "DATABASE_URL": where, "XDG_DATA_HOME": str(tmp_path / "home")},
    ) as child:
        assert child.stdout is not None
        said = [child.stdout.readline()]
        while said[-1] and not said[-1].startswith("Stop it"):
            said.append(child.stdout.readline())
        site = re.search(r"http://\S+", "".join(said))
        assert site is not None, said
        with httpx2.Client(base_url=site[0], trust_env=False, timeout=30) as phone:
            answered = phone.get("/api/v1/doughs")
        child.terminate()
    assert answered.status_code == 200
    assert not (tmp_path / "home" / "panadier" / FILE).exists()
    with open_store(address) as store:
        assert pending(store) == ()
        assert store.where in "".join(said)


def test_a_folder_that_was_named_wins_over_the_environment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert chosen(None) == (tmp_path / "panadier", tmp_path / "panadier" / FILE)
    monkeypatch.setenv("DATABASE_URL", "postgresql://db.example/casebook")
    assert chosen(None) == (tmp_path / "panadier", "postgresql://db.example/casebook")
    assert chosen(tmp_path / "x") == (tmp_path / "x", tmp_path / "x" / FILE)


def test_it_runs_as_a_program_and_names_its_commands() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "casebook", "--help"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert all(command in done.stdout for command in COMMANDS)


def test_the_readme_names_every_command() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert all(f"python -m casebook {command}" in readme for command in COMMANDS)
    assert "DATABASE_URL" in readme


def test_progress_is_shown_once_something_takes_long() -> None:
    quick, slow = io.StringIO(), io.StringIO()
    for out, patience in ((quick, 60.0), (slow, 0.0)):
        tell = Terminal(out, patience_s=patience)
        for done in range(0, 301, 100):
            tell("cases read", done, 300)
    assert quick.getvalue() == ""
    assert slow.getvalue().splitlines() == ["cases read: 0 of 300", "cases read: 300 of 300"]


def test_progress_counts_up_on_one_line_of_a_terminal() -> None:
    class Screen(io.StringIO):
        def isatty(self) -> bool:
            return True

    screen = Screen()
    tell = Terminal(screen, patience_s=0.0)
    tell("cases read", 0, 3)
    tell("cases read", 3, 3)
    assert screen.getvalue() == "\rcases read: 0 of 3\rcases read: 3 of 3\n"


def test_a_forgotten_passphrase_is_replaced_at_the_computer_and_ends_every_session(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    old, new = "whisk ladle copper window", "sieve butter marble morning"
    with open_store(folder / FILE) as store:
        add_first(store, "Instructor A", old)
        session = sign_in(store, "Instructor A", old)
        assert session is not None
    typed = [new, new + "s", "too short", "too short", new, new, new, new]
    monkeypatch.setattr("casebook.__main__.getpass", lambda _: typed.pop(0))
    for name, code, said in (
        ("Instructor A", 1, "not the same"),
        ("Instructor A", 1, "at least 15"),
        ("Instructor B", 1, "There are: Instructor A."),
        ("Instructor A", 0, "every session of theirs is over"),
    ):
        assert run("passphrase", name, "--folder", folder) == code
        shown = capsys.readouterr()
        assert said in shown.out + shown.err
        assert new not in shown.out + shown.err
    with open_store(folder / FILE) as store:
        assert signed_in(store, session) is None
        assert sign_in(store, "Instructor A", old) is None
        assert sign_in(store, "Instructor A", new) is not None
