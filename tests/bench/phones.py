"""Thirty phones on one kitchen computer: from a tap to the whole next page; printed, no test.

    .venv/bin/python tests/bench/phones.py [--phones 30] [--taps 20] [--think 1 3] [--where]

A real ``python -m web`` on this computer alone, and one thread with one kept-open connection for
each phone. Every phone walks consultations of its own: kitchen, stage, complaint, answers, how the
remedy went, and again. A tap is timed from sending the form to the last byte of the next page; the
answer is on the disk by then. No two phones stand at the same elevation, so that none is served
from what another's diagnosis left in memory.

Without ``--think`` both classes are run: phones that take 1 to 3 seconds between taps, and the
flood, phones that tap again at once. ``--where`` adds where the server's time goes.
"""

from __future__ import annotations

import argparse
import gzip
import http.client
import json
import random
import re
import resource
import signal
import subprocess
import sys
import tempfile
import threading
import time
import urllib.parse
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from diagnose.knowledge.book import Dough, Reading
from diagnose.knowledge.loading import load_book

FIRST_PORT = 18900
TARGET_MS = 50.0
RESULTS = ("worked", "no-change", "no-change", "worse", "cannot")
SHRUG = 0.1
"""How often a cook taps "I did not look"."""


@dataclass(frozen=True, slots=True)
class Tap:
    """One form and the page after it."""

    page: str
    """The kind of page the form was on."""
    seconds: float


@dataclass
class Page:
    """What a phone shows."""

    path: str
    text: str

    @property
    def kind(self) -> str:
        """start, stage, complaint, ask, remedy, done or over."""
        parts = self.path.strip("/").split("/")
        return parts[2] if parts[0] == "c" and len(parts) > 2 else parts[0]

    @property
    def token(self) -> str:
        """The consultation's."""
        return self.path.split("/")[2]

    def buttons(self, name: str) -> list[str]:
        """The values of the buttons of that name."""
        return re.findall(rf'<button[^>]*name="{name}" value="([^"]+)"', self.text)

    def hidden(self, name: str) -> str:
        """The value of an input of that name, or nothing."""
        found = re.search(rf'name="{name}" value="([^"]*)"', self.text)
        return found[1] if found else ""


@dataclass
class Phone:
    """One cook's phone: a kept-open connection, and luck of its own."""

    number: int
    address: str
    dough: Dough
    think: tuple[float, float]
    luck: random.Random = field(init=False)
    taps: list[Tap] = field(default_factory=list)
    problem: str = ""

    def __post_init__(self) -> None:
        self.luck = random.Random(self.number)
        self.readings = {r.id: r for r in self.dough.readings}
        host = self.address.removeprefix("http://")
        self.connection = http.client.HTTPConnection(host, timeout=60)
        self.opened = 0
        self.cookie = ""
        self.refused: set[str] = set()

    def walk(self, taps: int) -> None:
        """Consult until so many taps are made."""
        try:
            time.sleep(self.luck.uniform(0, self.think[1]))
            page = self._get("/start")
            while len(self.taps) < taps:
                page = self._tap(page)
                time.sleep(self.luck.uniform(*self.think))
        except Exception as problem:  # the thread's end must reach the report
            self.problem = f"phone {self.number}: {problem!r}"
        finally:
            self.connection.close()

    def _tap(self, page: Page) -> Page:
        path, fields = self._form(page)
        if not fields:
            return self._get("/start")
        began = time.perf_counter()
        there, where, text = self._ask("POST", path, fields)
        if there == 303:
            following = self._get(where)
        elif there == 422 and page.kind == "ask":
            # A number that cannot be, beside what was told before: the cook leaves it out.
            following = Page(path, text)
            self.refused.add(path)
        else:
            raise RuntimeError(f"{path} answered {there}")
        self.taps.append(Tap(page.kind, time.perf_counter() - began))
        return following

    def _form(self, page: Page) -> tuple[str, dict[str, str]]:
        """Where the tap goes and what it says; no fields: there is nothing to tap but the door."""
        luck, fields = self.luck, {"key": page.hidden("key")}
        match page.kind:
            case "start":
                self.opened += 1
                # house amounts as printed; an elevation that no other phone has
                metres = 31 * self.number + self.opened
                return "/start", {**fields, "kitchen": "other", "elevation": f"{metres} m"}
            case "stage":
                return page.path, {**fields, "stage": luck.choice(page.buttons("stage"))}
            case "complaint":
                chosen = luck.choice(page.buttons("complaint")[:-1])
                fields |= {"stage": page.hidden("stage"), "complaint": chosen}
                return page.path, fields
            case "ask":
                return page.path, {**fields, **self._answer(page)}
            case "remedy":
                if not page.buttons("result"):
                    return "", {}
                fields |= {"time": page.hidden("time"), "result": luck.choice(RESULTS)}
                return page.path, {**fields, "added": "1"}
            case "done":
                onward = page.hidden("next") or "".join(page.buttons("next")[:1])
                return page.path, {**fields, "next": onward} if onward else {}
            case "right":
                return page.path, {**fields, "right": "no"}
            case "over":
                return f"/c/{page.token}/again", fields
        raise RuntimeError(f"no such page: {page.path}")

    def _answer(self, page: Page) -> dict[str, str]:
        reading = self.readings.get(page.path.rsplit("/", 1)[1])
        if self.luck.random() < SHRUG or page.path in self.refused:
            return {"answer": "not-looked"}
        if isinstance(reading, Reading):
            number = self.luck.uniform(*reading.likely)
            return {"answer": "number", "value": f"{number:.0f}", "unit": reading.unit}
        return {"answer": self.luck.choice(page.buttons("answer")[:-1])}

    def _get(self, path: str) -> Page:
        status, where, text = self._ask("GET", path)
        while status == 303:
            path = where
            status, where, text = self._ask("GET", path)
        if status != 200:
            raise RuntimeError(f"{path} answered {status}")
        return Page(path, text)

    def _ask(
        self, method: str, path: str, body: dict[str, str] | None = None
    ) -> tuple[int, str, str]:
        data = None if body is None else urllib.parse.urlencode(body).encode()
        headers = {"Origin": self.address, "Accept-Encoding": "gzip", "Cookie": self.cookie}
        if data is not None:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        self.connection.request(method, path, data, headers)
        answer = self.connection.getresponse()
        self.cookie = answer.headers.get("Set-Cookie", self.cookie).partition(";")[0]
        text = answer.read()
        if answer.headers.get("Content-Encoding") == "gzip":
            text = gzip.decompress(text)
        return answer.status, answer.headers.get("Location", ""), text.decode()


@contextmanager
def serving(timed: bool) -> Iterator[tuple[str, Callable[[], str]]]:
    """A server on a new database: its address, and a call that stops it and tells its last word."""
    script = ["-m", "web"] if not timed else [str(Path(__file__)), "--serve-timed"]
    with (
        tempfile.TemporaryDirectory() as folder,
        open(Path(folder) / "complaints.txt", "w+") as complaints,
    ):
        child = subprocess.Popen(
            [sys.executable, *script, "--port", str(FIRST_PORT), "--folder", folder],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=complaints,
            text=True,
        )
        assert child.stdout is not None

        def stop() -> str:
            if child.poll() is None:
                child.send_signal(signal.SIGINT)
            last = child.stdout.read() if child.stdout else ""
            child.wait(30)
            complaints.seek(0)
            for line in complaints.read().splitlines()[-1:]:
                print(f"the server's last complaint: {line}")
            return last

        try:
            said = ""
            for line in child.stdout:
                said += line
                if "Ctrl+C" in line:
                    break
            found = re.search(r"http://localhost:\d+", said)
            if found is None:
                raise SystemExit(f"the server did not start:\n{said}")
            _wait_for(found[0])
            yield found[0], stop
        finally:
            if child.poll() is None:
                child.kill()
            child.wait(30)
            child.stdout.close()


def _wait_for(address: str) -> None:
    for _ in range(200):
        connection = http.client.HTTPConnection(address.removeprefix("http://"), timeout=5)
        try:
            connection.request("GET", "/")
            connection.getresponse().read()
        except OSError:
            time.sleep(0.05)
        else:
            return
        finally:
            connection.close()
    raise SystemExit("the server did not come up")


def run(phones: int, taps: int, think: tuple[float, float], timed: bool) -> list[Tap]:
    """All phones at once; prints one line, and where the time went if it was measured."""
    dough = load_book().doughs[0]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    with serving(timed) as (address, stop):
        handsets = [Phone(n, address, dough, think) for n in range(phones)]
        threads = [threading.Thread(target=p.walk, args=(taps,)) for p in handsets]
        began = time.perf_counter()
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        whole = time.perf_counter() - began
        last = stop()
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    for phone in handsets:
        if phone.problem:
            print(phone.problem)
    made = [tap for phone in handsets for tap in phone.taps]
    name = f"{phones} phones, {think[0]:g} to {think[1]:g} s between taps" if think[1] else (
        f"{phones} phones, the flood"
    )  # fmt: skip
    p50, p95, p99 = percentiles([t.seconds for t in made])
    print(
        f"{name:40} | {len(made):5} taps | {p50:6.0f} | {p95:6.0f} | {p99:6.0f} ms | "
        f"{len(made) / whole:5.1f} taps/s | p95 / target {p95 / TARGET_MS:.2f}"
    )
    print(f"{'':40} | server start and work: {1000 * spent / len(made):.0f} ms CPU a tap")
    for kind, count in Counter(t.page for t in made).most_common():
        p50, p95, _ = percentiles([t.seconds for t in made if t.page == kind])
        print(f"    after a tap on {kind:10} {count:5} | {p50:6.0f} | {p95:6.0f} ms")
    if timed:
        _print_where(last, len(made))
    return made


def percentiles(seconds: Sequence[float]) -> tuple[float, float, float]:
    """Median, 95th and 99th percentile, in milliseconds."""
    ranked = sorted(seconds)
    at = [ranked[min(len(ranked) - 1, int(len(ranked) * p))] for p in (0.5, 0.95, 0.99)]
    return at[0] * 1000, at[1] * 1000, at[2] * 1000


# Where the server's time goes


def _print_where(last: str, taps: int) -> None:
    print(f"    {'where the server spends a tap':32} calls | CPU ms | ms with waiting")
    for name, (calls, cpu, wall) in json.loads(last.strip().splitlines()[-1]).items():
        each = [1000 * seconds / taps for seconds in (cpu, wall)]
        print(f"    {name:32} {calls / taps:5.2f} | {each[0]:6.2f} | {each[1]:6.2f}")


def serve_timed(arguments: Sequence[str]) -> int:
    """The site with a clock around its parts; prints their sums as its last word."""
    from jinja2 import Template

    import web.__main__
    from diagnose import answering, consulting, deciding
    from diagnose.reasoning.asking import Ahead
    from web import doors, remembered, site, told

    sums: dict[str, list[float]] = {}
    lock = threading.Lock()

    def clocked(owner: Any, name: str, say: str) -> None:
        inner = getattr(owner, name)

        def around(*given: Any, **named: Any) -> Any:
            began, wall = time.thread_time(), time.perf_counter()
            try:
                return inner(*given, **named)
            finally:
                with lock:
                    sum_ = sums.setdefault(say, [0, 0.0, 0.0])
                    sum_[0] += 1
                    sum_[1] += time.thread_time() - began
                    sum_[2] += time.perf_counter() - wall

        setattr(owner, name, around)

    clocked(consulting.OpenBook, "diagnose", "diagnosis, worked out")
    clocked(consulting, "infer", "  rules and chances")
    clocked(deciding, "Ahead", "  worlds ahead")
    clocked(Ahead, "questions", "  worth of questions")
    clocked(deciding, "best_course", "  order of remedies")
    clocked(deciding, "trace_of", "  trace")
    clocked(answering, "two_causes", "  two things at once")
    clocked(remembered.Remembered, "diagnose", "diagnosis, asked for")
    clocked(site.Site, "situation", "entries to situation")
    clocked(told, "tell", "answer appended")
    clocked(site, "load", "consultation loaded by a page")
    clocked(told, "load", "consultation loaded after a post")
    clocked(doors, "open_consultation", "consultation opened")
    clocked(Template, "render", "page rendered")
    code = web.__main__.main(arguments)
    sums["everything, start included"] = [1, time.process_time(), 0.0]
    print(json.dumps(sums), flush=True)
    return code


def main(arguments: Sequence[str] | None = None) -> None:
    """Print what thirty phones wait."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    if given[:1] == ["--serve-timed"]:
        raise SystemExit(serve_timed(given[1:]))
    options = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    options.add_argument("--phones", type=int, default=30)
    options.add_argument("--taps", type=int, default=20, help="taps of each phone")
    options.add_argument("--think", type=float, nargs=2, metavar=("LEAST", "MOST"), default=None)
    options.add_argument("--where", action="store_true", help="also where the server's time goes")
    chosen = options.parse_args(given)
    classes = [tuple(chosen.think)] if chosen.think else [(1.0, 3.0), (0.0, 0.0)]
    print(f"{'post to whole next page':40} |            |    p50 |    p95 |    p99")
    for think in classes:
        run(chosen.phones, chosen.taps, think, chosen.where)


if __name__ == "__main__":
    main()
