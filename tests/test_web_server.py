"""The program that serves the site, as a real child process."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx2
import pytest

from casebook.consultations import load
from casebook.place import default_folder
from casebook.store import open_store
from web.__main__ import main, open_port

ROOT = Path(__file__).parent.parent


@contextmanager
def serving(folder: Path, port: int = 18700) -> Iterator[tuple[subprocess.Popen[str], str, str]]:
    """A running server, its address and what it said at the start."""
    child = subprocess.Popen(
        [sys.executable, "-m", "web", "--port", str(port), "--folder", str(folder)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert child.stdout
    said = ""
    try:
        for line in child.stdout:
            said += line
            if "Ctrl+C" in line:
                break
        found = re.search(r"http://localhost:\d+", said)
        assert found, said
        yield child, found[0], said
    finally:
        child.kill()
        child.wait()
        child.stdout.close()


def wait_for(phone: httpx2.Client) -> None:
    for _ in range(100):
        try:
            phone.get("/")
            return
        except httpx2.TransportError:
            threading.Event().wait(0.05)
    raise AssertionError("the server did not come up")


def start(phone: httpx2.Client) -> str:
    page = phone.get("/start")
    key = re.search(r'name="key" value="([^"]+)"', page.text)
    assert key
    answer = phone.post("/start", data={"key": key[1], "kitchen": "summit", "stage": "cook-paste"})
    token = re.match(r"/c/(.{22})", answer.headers["Location"])
    assert token
    return token[1]


def test_nothing_acknowledged_is_lost_when_the_server_is_killed_mid_sentence(
    tmp_path: Path,
) -> None:
    acknowledged: list[str] = []
    answers = [("lumps", a) for a in ("none", "soft", "dry-inside")] * 67
    with serving(tmp_path) as (child, address, _):
        origin = {"Origin": address}
        with httpx2.Client(base_url=address, headers=origin, trust_env=False) as phone:
            wait_for(phone)
            token = start(phone)

            def kill_after_a_while() -> None:
                while len(acknowledged) < 60:
                    threading.Event().wait(0.005)
                child.send_signal(signal.SIGKILL)

            killer = threading.Thread(target=kill_after_a_while)
            killer.start()
            for n, (sign, answer) in enumerate(answers[:200]):
                try:
                    told = phone.post(
                        f"/c/{token}/ask/{sign}",
                        data={"key": f"test-key-{n:04}", "answer": answer},
                    )
                except httpx2.TransportError:
                    break
                assert told.status_code == 303
                acknowledged.append(answer)
            killer.join()
    assert 60 <= len(acknowledged) < 200
    with open_store(tmp_path / "casebook.sqlite3") as store:
        kept = [e.value for e in load(store, token).entries if e.kind == "sign"]
    assert kept[: len(acknowledged)] == acknowledged
    assert len(kept) - len(acknowledged) <= 1
    with (
        serving(tmp_path) as (_, address, _),
        httpx2.Client(base_url=address, trust_env=False) as phone,
    ):
        wait_for(phone)
        assert phone.get(f"/c/{token}/told").status_code == 200


def test_it_says_where_it_is_and_where_the_data_is_and_takes_the_next_free_port(
    tmp_path: Path,
) -> None:
    with open_port("127.0.0.1", 18800) as taken:
        port = taken.getsockname()[1]
        with serving(tmp_path, port) as (_, address, said):
            assert f"Port {port} is taken; using " in said
            assert not address.endswith(f":{port}")
            assert str(tmp_path) in said
    assert (tmp_path / "casebook.sqlite3").exists()


def test_it_listens_on_this_computer_alone(tmp_path: Path) -> None:
    with serving(tmp_path) as (_, address, said):
        port = int(address.rsplit(":", 1)[1])
        assert "Wi-Fi" not in said
        # Every address of 127.0.0.0/8 is this computer, but only the first is served.
        with socket.socket() as probe:
            probe.settimeout(1)
            assert probe.connect_ex(("127.0.0.2", port)) != 0


def test_an_impossible_port_is_refused_with_what_is_accepted(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["--port", "70000"]) == 2
    assert "1 to 65535" in capsys.readouterr().err


def test_a_folder_that_cannot_be_is_refused_with_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("")
    assert main(["--folder", str(tmp_path / "file")]) == 1
    assert "The site cannot start" in capsys.readouterr().err


def test_data_lives_with_the_user_and_never_in_the_checkout(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert default_folder() == tmp_path / "panadier"
    monkeypatch.delenv("XDG_DATA_HOME")
    assert not default_folder().is_relative_to(ROOT)


def test_the_listener_is_named_as_tcp_so_that_pages_are_sent_at_once() -> None:
    """With the protocol left open asyncio keeps Nagle's algorithm on (RFC 896): 42 ms a page."""
    listener = open_port("127.0.0.1", 18700)
    try:
        assert listener.proto == socket.IPPROTO_TCP
    finally:
        listener.close()
