"""A PostgreSQL server of the tests' own: started for them, empty, and gone with them."""

from __future__ import annotations

import importlib.util
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

INSTALLED = Path("/usr/lib/postgresql")
PATIENCE_S = 60
USER = "kitchen"


def programs() -> Path | None:
    """The folder with `initdb` and `postgres` in it, or None: the newest that is installed."""
    named = shutil.which("postgres")
    folders = [Path(named).resolve().parent] if named else []
    folders += sorted(INSTALLED.glob("*/bin"), key=lambda one: _version(one), reverse=True)
    return next((f for f in folders if (f / "initdb").exists() and (f / "postgres").exists()), None)


def _version(folder: Path) -> float:
    try:
        return float(folder.parent.name)
    except ValueError:
        return 0.0


def missing() -> str | None:
    """Why there can be no server here, or None if there can."""
    if programs() is None:
        return "no PostgreSQL: install the package postgresql"
    if importlib.util.find_spec("psycopg") is None:
        return "no PostgreSQL driver: install psycopg[binary]"
    return None


class Server:
    """A running server; reached by a socket in a folder of its own, so it takes no port."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._made = 0

    def address(self, database: str) -> str:
        """The address of one of its databases."""
        return f"postgresql://{USER}@/{database}?host={self.folder}"

    def new_database(self) -> str:
        """The address of a fresh, empty database."""
        import psycopg

        self._made += 1
        name = f"casebook_{self._made}"
        with psycopg.connect(self.address("postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name} TEMPLATE template0 ENCODING 'UTF8'")
        return self.address(name)


@contextmanager
def running(*, durable: bool = False) -> Iterator[Server]:
    """A server while the block lasts; ``durable`` flushes to the disk as a real one does."""
    bin = programs()
    assert bin is not None, missing()
    folder = Path(tempfile.mkdtemp(prefix="casebook-pg-"))
    # The server refuses to run as root.
    person = _unprivileged() if os.geteuid() == 0 else None
    process = None
    try:
        if person is not None:
            os.chown(folder, person.pw_uid, person.pw_gid)
        data = folder / "data"
        subprocess.run(
            [str(bin / "initdb"), "-D", str(data), "-U", USER, "-A", "trust", "-E", "UTF8",
             "--locale=C", "--no-sync"],
            check=True, capture_output=True, **_as(person), cwd=folder,
        )  # fmt: skip
        with (folder / "log").open("wb") as log:
            process = subprocess.Popen(
                [str(bin / "postgres"), "-D", str(data), "-k", str(folder),
                 "-c", "listen_addresses=", "-c", f"fsync={'on' if durable else 'off'}",
                 "-c", "max_connections=200"],
                stdout=log, stderr=log, **_as(person), cwd=folder,
            )  # fmt: skip
        server = Server(folder)
        _wait(server, process, folder / "log")
        yield server
    finally:
        if process is not None:
            # "Immediate": nothing of it is wanted any more.
            process.send_signal(signal.SIGQUIT)
            process.wait()
        shutil.rmtree(folder, ignore_errors=True)


def _unprivileged() -> pwd.struct_passwd:
    for name in ("postgres", "nobody"):
        try:
            return pwd.getpwnam(name)
        except KeyError:
            continue
    raise RuntimeError("There is no user to run PostgreSQL as; make one called postgres.")


def _as(person: pwd.struct_passwd | None) -> dict[str, Any]:
    if person is None:
        return {}
    return {"user": person.pw_uid, "group": person.pw_gid, "extra_groups": []}


def _wait(server: Server, process: subprocess.Popen[bytes], log: Path) -> None:
    import psycopg

    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            psycopg.connect(server.address("postgres")).close()
            return
        except psycopg.OperationalError as problem:
            if process.poll() is not None or time.monotonic() > until:
                said = log.read_text(errors="replace")
                raise RuntimeError(f"PostgreSQL did not start:\n{said}") from problem
            time.sleep(0.05)
