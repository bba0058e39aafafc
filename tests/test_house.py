"""The house itself: where the packages come from, who imports whom, and documents that are true."""

from __future__ import annotations

import importlib
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
TOP_LEVEL = {"diagnose", "rules", "web", "tests", "casebook"}
FILES = {"README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", "requirements.lock"}


@pytest.mark.parametrize("name", ["diagnose", "casebook", "web"])
def test_our_own_packages_win_over_foreign_ones_of_the_same_name(name: str) -> None:
    found = Path(importlib.import_module(name).__path__[0]).resolve()
    assert found == ROOT / name, (
        f"{name} was imported from {found}. Run the tests from the checkout, in its own "
        "environment, so that another package of that name cannot get in the way."
    )


def test_imports_run_one_way() -> None:
    done = subprocess.run(
        [str(Path(sys.executable).with_name("lint-imports"))],
        cwd=ROOT,
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_rules_folder_holds_no_code() -> None:
    assert list((ROOT / "rules").rglob("*.py")) == []


def test_the_top_level_is_what_it_was_meant_to_be() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\n")
    tops = {line.split("/")[0] for line in listed if line and not line.startswith(".")}
    assert tops == TOP_LEVEL | FILES


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md", "rules/README.md"])
def test_every_path_that_a_document_names_exists(document: str) -> None:
    text = (ROOT / document).read_text(encoding="utf-8")
    named = set(re.findall(r"`((?:diagnose|rules|web|tests|casebook)/[\w./-]*)`", text))
    named |= {
        target for target in re.findall(r"\]\(([\w./-]+)\)", text) if not target.startswith("http")
    }
    here = (ROOT / document).parent
    missing = {n for n in named if not (ROOT / n).exists() and not (here / n).exists()}
    assert missing == set()
    assert named


def commands_in_readme() -> dict[str, str]:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    found = re.findall(r"<!-- (\w+) command -->\n```sh\n(.+?)\n```\n<!-- end -->", text)
    return dict(found)


def test_the_readme_gives_exactly_one_command_to_serve_and_one_to_test() -> None:
    commands = commands_in_readme()
    assert set(commands) == {"serve", "test"}
    assert commands["serve"].endswith("-m web")
    assert "-m pytest" in commands["test"]


def test_the_readme_opens_with_the_job_in_one_paragraph() -> None:
    blocks = (ROOT / "README.md").read_text(encoding="utf-8").split("\n\n")
    assert blocks[0] == "# Panadier"
    assert blocks[1].startswith("A cook-teacher")


def test_the_readme_names_every_option_of_the_server() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "web", "--help"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    offered = set(re.findall(r"--[a-z]+", done.stdout)) - {"--help"}
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    table = set(re.findall(r"^\| `(--[a-z]+)", readme, re.M))
    assert table == offered


def test_every_declared_library_is_pinned_in_the_lock() -> None:
    project = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    lock = (ROOT / "requirements.lock").read_text(encoding="utf-8").lower()
    pinned = {line.split("==")[0] for line in lock.split("\n") if "==" in line}
    parts = re.findall(r"^(dependencies|test) = \[\n(.+?)^\]", project, re.M | re.S)
    names = {
        re.split(r"[<>=\[]", name)[0].lower()
        for _, block in parts
        for name in re.findall(r'^\s+"([^"]+)"', block, re.M)
    }
    assert {n for n in names if n not in pinned} == set()
    assert len(names) > 10
