"""Serve the site: ``python -m web [--port N] [--folder DIR] [--share] [--desk-on-lan]``."""

from __future__ import annotations

import argparse
import contextlib
import gc
import logging
import os
import socket
import sys
import threading
import webbrowser
from collections.abc import Iterator, Sequence
from pathlib import Path

import segno
import uvicorn

from casebook.place import chosen
from casebook.problems import NotStorable
from casebook.progress import Terminal
from casebook.publishing import Press
from casebook.shipping import ship
from casebook.store import Store, StoreProblem, open_store
from casebook.taught import Teacher
from diagnose.consulting import OpenBook
from diagnose.knowledge.book import Book
from diagnose.knowledge.loading import load_texts, texts_of
from diagnose.knowledge.problems import BrokenBook
from diagnose.shelf import Shelf

from .app import LOCAL_NAMES, create_app

PORT = 8000
TRIES = 50
"""How many ports after the wanted one are tried."""


def parser() -> argparse.ArgumentParser:
    """The command's options."""
    options = argparse.ArgumentParser(prog="python -m web", description="Serve the site.")
    options.add_argument(
        "--port", type=int, default=PORT, help="port to serve on; the next free one if taken"
    )
    options.add_argument(
        "--folder", type=Path, default=None, help="where your database and files live"
    )
    options.add_argument(
        "--share", action="store_true", help="also serve phones on this Wi-Fi; shows a QR code"
    )
    options.add_argument(
        "--desk-on-lan", action="store_true",
        help="open the rule desk to other machines over plain http: anyone on the Wi-Fi can then "
        "read a passphrase that is typed there",
    )  # fmt: skip
    return options


def open_port(address: str, wanted: int) -> socket.socket:
    """A listening socket on the wanted port or the next free one; OSError when none is."""
    for port in range(wanted, min(wanted + TRIES, 65536)):
        # Named as TCP, so that asyncio sends each part at once on what it accepts here. With the
        # protocol left open it does not, and on a kept-open connection the end of every page
        # waits for the phone's delayed acknowledgement: 42 ms a page, measured.
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        if os.name == "posix":
            # Elsewhere this option would let two servers share one port.
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((address, port))
            listener.listen(128)
        except OSError:
            listener.close()
            continue
        return listener
    raise OSError(f"no port from {wanted} on is free")


def lan_address() -> str | None:
    """This computer's address on the local network, or None without a network."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Nothing is sent: connecting a datagram socket only chooses the outgoing address.
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return None
        address = str(probe.getsockname()[0])
    return None if address.startswith(("127.", "0.")) else address


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the server until it is stopped; the exit code."""
    given = parser().parse_args(arguments)
    if not 1 <= given.port <= 65535:
        print(
            f"There is no port {given.port}; a number from 1 to 65535 is accepted.", file=sys.stderr
        )
        return 2
    folder, where = chosen(given.folder)
    shared = lan_address() if given.share else None
    if given.share and shared is None:
        print("This computer is on no network, so there is nobody to share with.", file=sys.stderr)
        return 1
    try:
        shipped = texts_of()
        book = OpenBook(load_texts(shipped))
        # The book lives as long as the program: the collector need not walk it again.
        gc.collect()
        gc.freeze()
        gc.set_threshold(20_000, 20, 50)
        folder.mkdir(parents=True, exist_ok=True)
        store = open_store(where)
        teacher = Teacher(store, Terminal())
        press = Press(store, Shelf(book), shipped, teacher, teacher.latest)
        press.start()
        listener = open_port("0.0.0.0" if shared else "127.0.0.1", given.port)
    except BrokenBook as broken:
        print(f"The book cannot be used:\n{broken}", file=sys.stderr)
        return 1
    except (StoreProblem, OSError) as problem:
        print(f"The site cannot start: {problem}", file=sys.stderr)
        return 1
    port = listener.getsockname()[1]
    place = folder if isinstance(where, Path) else store.where
    for line in announcement(port, given.port, place, shared, given.desk_on_lan):
        print(line, flush=True)
    logging.basicConfig(level=logging.WARNING, format="%(name)s: %(message)s")
    hosts = (*LOCAL_NAMES, *_own_names(shared))
    config = uvicorn.Config(
        create_app(book, store, hosts=hosts, press=press, desk_on_lan=given.desk_on_lan),
        access_log=False,
        proxy_headers=False,
        server_header=False,
        log_level="warning",
        timeout_graceful_shutdown=3,
    )
    if os.environ.get("DISPLAY") and sys.stdout.isatty() and not shared:
        threading.Timer(1.0, webbrowser.open, [f"http://localhost:{port}/"]).start()
    # Beside the first pages: after an update it takes a second, else one look at an index.
    shipping = threading.Thread(target=_ship, args=(store, book.book), name="shipping")
    with store:
        shipping.start()
        with contextlib.suppress(KeyboardInterrupt):
            uvicorn.Server(config).run(sockets=[listener])
        shipping.join()
    return 0


def _ship(store: Store, book: Book) -> None:
    """See that the casebook holds the teaching cases; what is wrong with one stops nothing."""
    try:
        shipped = ship(store, book)
    except (StoreProblem, NotStorable, OSError) as problem:
        print(f"The teaching cases are not in the casebook: {problem}", file=sys.stderr)
        return
    for left_out in (*shipped.problems, *shipped.taken):
        print(f"A teaching case was left out: {left_out}", file=sys.stderr)


def announcement(
    port: int, wanted: int, place: str | Path, shared: str | None, desk_on_lan: bool = False
) -> Iterator[str]:
    """What is said at the start, one line for each thing."""
    if port != wanted:
        yield f"Port {wanted} is taken; using {port}."
    yield f"Panadier is at http://localhost:{port}/"
    yield f"Your data is in {place}"
    if shared:
        address = f"http://{shared}:{port}/"
        yield f"On this Wi-Fi: {address}"
        yield _qr(address)
        yield "Anyone on this Wi-Fi can read what is sent."
        if desk_on_lan:
            yield (
                "The rule desk is open to other machines. An instructor's passphrase typed there "
                "can be read on this Wi-Fi, and whoever has it can change the book."
            )
    yield "Stop it with Ctrl+C."


def _own_names(shared: str | None) -> tuple[str, ...]:
    if shared is None:
        return ()
    name = socket.gethostname().lower()
    return (shared, name, f"{name.split('.')[0]}.local")


def _qr(address: str) -> str:
    """A QR code of half blocks, two rows of modules to a line."""
    rows = [[bool(m) for m in row] for row in segno.make(address, error="l").matrix_iter(border=2)]
    if len(rows) % 2:
        rows.append([False] * len(rows[0]))
    # Dark modules are drawn as gaps in light blocks, which also reads right on a dark terminal.
    glyphs = {(0, 0): "█", (0, 1): "▀", (1, 0): "▄", (1, 1): " "}
    return "\n".join(
        "".join(glyphs[int(a), int(b)] for a, b in zip(top, bottom, strict=True))
        for top, bottom in zip(rows[::2], rows[1::2], strict=True)
    )


if __name__ == "__main__":
    sys.exit(main())
