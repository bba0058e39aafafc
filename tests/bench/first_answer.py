"""Timings of the first consultation, printed; nothing here is a test.

    .venv/bin/python tests/bench/first_answer.py

Start-up to the first page, bytes of each kind of page, server time per answer, and the engine's
rules per second beside experta's own network in the same process. Ratios carry over to another
machine; milliseconds do not.
"""

from __future__ import annotations

import gzip
import http.client
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.parse
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from diagnose.consulting import open_book
from diagnose.engine import session
from diagnose.engine.compiling import compile_rules
from diagnose.knowledge.facts import facts_of
from diagnose.knowledge.situation import Situation
from experta.matchers import ReteMatcher

PORT = 8791


class OwnNetwork(session._Run):
    """The same rules on experta's own network: the peer."""

    __matcher__ = ReteMatcher


def milliseconds(action, times: int) -> tuple[float, float]:  # type: ignore[no-untyped-def]  # any action
    """Median and 95th percentile over ``times`` runs after one to warm up."""
    action()
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        action()
        taken.append((time.perf_counter() - start) * 1000)
    taken.sort()
    return statistics.median(taken), taken[int(len(taken) * 0.95)]


def engine() -> None:
    start = time.perf_counter()
    opened = open_book()
    print(f"read and compile the book        {1000 * (time.perf_counter() - start):8.0f} ms")
    dough = opened.book.doughs[0]
    told = Situation(
        dough=dough.id,
        stage="cook-paste",
        signs={"paste-body": "slumps", "bubbling": "none", "pulls-away": "no"},
        readings={"paste-temperature": 78.0},
    )
    facts = facts_of(told, dough)
    rules = compile_rules(dough)
    ours, ours95 = milliseconds(lambda: session.run(rules, facts), 200)
    peer, peer95 = milliseconds(lambda: session.run(rules, facts, OwnNetwork), 15)
    count = len(rules.rules)
    print(f"one run of {count} rules, counting    {ours:8.2f} ms  (p95 {ours95:.2f})")
    print(f"the same on experta's network    {peer:8.2f} ms  (p95 {peer95:.2f})")
    print(f"ratio                            {peer / ours:8.0f} x")
    print(f"rules per second                 {count / ours * 1000:8.0f}")
    whole, whole95 = milliseconds(lambda: opened.diagnose(told), 50)
    print(f"a whole diagnosis                {whole:8.1f} ms  (p95 {whole95:.1f})")


def site() -> None:
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        server = subprocess.Popen(
            [sys.executable, "-m", "web", "--port", str(PORT), "--folder", folder],
            cwd=ROOT,
            stdout=subprocess.DEVNULL,
        )
        try:
            first = _first_page(start)
            print(f"start-up to the first page       {first * 1000:8.0f} ms")
            _walk()
        finally:
            server.terminate()
            server.wait(10)


def _first_page(start: float) -> float:
    while True:
        try:
            _get("/")
        except OSError:
            time.sleep(0.01)
        else:
            return time.perf_counter() - start


def _ask(method: str, path: str, body: dict[str, str] | None = None) -> tuple[int, str, bytes]:
    connection = http.client.HTTPConnection("localhost", PORT, timeout=10)
    headers = {}
    data = None
    if body is not None:
        data = urllib.parse.urlencode(body)
        headers = {
            "Origin": f"http://localhost:{PORT}",
            "Content-Type": "application/x-www-form-urlencoded",
        }
    connection.request(method, path, data, headers)
    answer = connection.getresponse()
    text = answer.read()
    connection.close()
    return answer.status, answer.headers.get("Location", ""), text


def _get(path: str) -> bytes:
    status, where, text = _ask("GET", path)
    while status == 303:
        status, where, text = _ask("GET", where)
    if status != 200:
        raise SystemExit(f"{path} answered {status}")
    return text


def _size(name: str, text: bytes) -> None:
    print(f"page {name:22} {len(text):8} bytes, {len(gzip.compress(text, 6)):6} gzip")


def _fields(text: bytes) -> dict[str, str]:
    import re

    inputs = re.findall(rb'<input[^>]*name="([^"]+)"[^>]*value="([^"]*)"', text)
    selects = re.findall(rb'<select[^>]*name="([^"]+)".*?<option[^>]*value="([^"]*)"', text, re.S)
    return {k.decode(): v.decode() for k, v in (*selects, *inputs)}


def _walk() -> None:
    _size("doors", _get("/"))
    text = _get("/start")
    _size("kitchen and batch", text)
    status, where, _ = _ask("POST", "/start", {**_fields(text), "kitchen": "summit"})
    if status != 303:
        raise SystemExit(f"/start answered {status}")
    token = where.rstrip("/").split("/")[2]
    steps = [("stage", "stage", "cook-paste"), ("complaint", "complaint", "slumps")]
    steps.append(("ask/held-hot", "answer", "no"))
    for path, name, value in steps:
        text = _get(f"/c/{token}/{path}")
        _size(path, text)
        status, where, _ = _ask("POST", f"/c/{token}/{path}", {**_fields(text), name: value})
        if status != 303:
            raise SystemExit(f"{path} answered {status}")
    _size("remedy", _get(f"/c/{token}"))
    page, page95 = milliseconds(lambda: _get(f"/c/{token}"), 40)
    print(f"next step and its page           {page:8.1f} ms  (p95 {page95:.1f})")
    keys = iter(range(10**6))

    def answer() -> None:
        body = {"key": f"bench-{next(keys)}", "answer": "lazy"}
        _ask("POST", f"/c/{token}/ask/bubbling", body)

    taps, taps95 = milliseconds(answer, 100)
    print(f"one answer stored, acknowledged  {taps:8.1f} ms  (p95 {taps95:.1f})")


if __name__ == "__main__":
    engine()
    site()
