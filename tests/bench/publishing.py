"""Publishing while thirty phones cook: what a tap waits, and whether any page was wrong.

    .venv/bin/python tests/bench/publishing.py [--phones 30] [--taps 20]

A real ``python -m web``; thirty phones with 1 to 3 seconds between taps, as in ``phones.py``, and
an instructor's browser who changes one rule again and again for as long as they cook. A
second program asks for a diagnosis all the while and holds every answer to the book it names: one
answer of each book is remembered, and all others that name it must be the same bytes.
"""

from __future__ import annotations

import argparse
import http.client
import json
import re
import sys
import threading
import time
import urllib.parse
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(Path(__file__).parent)]

import phones
from desk import FIELD, NAME, PASSPHRASE

from casebook.additions import written
from diagnose.knowledge.editions import Edit, PartName, part_text
from diagnose.knowledge.loading import load_texts, texts_of

TOLD = {"dough": "milk-panade-slab", "stage": "cook-paste", "signs": {"paste-body": "slumps"}}


class Browser:
    """An instructor's browser."""

    def __init__(self, address: str) -> None:
        self.host = address.removeprefix("http://")
        self.cookie = ""

    def ask(self, method: str, path: str, fields: dict[str, str] | None = None) -> tuple[int, str]:
        """Status, and the page or where to go."""
        connection = http.client.HTTPConnection(self.host, timeout=120)
        headers = {"Origin": f"http://{self.host}", "Cookie": self.cookie}
        body = None
        if fields is not None:
            body = urllib.parse.urlencode(fields)
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        connection.request(method, path, body, headers)
        answer = connection.getresponse()
        text = answer.read().decode()
        self.cookie = answer.headers.get("Set-Cookie", self.cookie).partition(";")[0]
        connection.close()
        return answer.status, answer.headers.get("Location", text)

    def send(self, path: str, **fields: str) -> tuple[int, str]:
        """A form, with the token of the desk."""
        _, page = self.ask("GET", "/desk")
        found = re.search(rf'name="{FIELD}" value="([0-9a-f]+)"', page)
        assert found
        return self.ask("POST", path, {FIELD: found[1], **fields})


def main() -> None:
    """Print the figures."""
    options = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    options.add_argument("--phones", type=int, default=30)
    options.add_argument("--taps", type=int, default=20)
    chosen = options.parse_args()
    shipped = texts_of()
    dough = load_texts(shipped).doughs[0]
    rule = PartName(dough.id, "rules", dough.rules[0].id)
    before = part_text(shipped, rule)
    assert before is not None
    cooking, wrong, took, books = threading.Event(), [], [], {}

    def publish(browser: Browser) -> None:
        number = 0
        while not cooking.is_set():
            began = time.perf_counter()
            number += 1
            # Another text each time, so that no book is served from what was built before.
            text = written([Edit(rule, f"{before}  # tried {number}\n")], "0")
            said = {"text": text, "act": "take", "why": "Bench", f"take {rule.dough} {rule}": "yes"}
            status, _ = browser.send("/desk/additions", **said)
            took.append(time.perf_counter() - began)
            if status != 303:
                wrong.append(f"publishing answered {status}")
                return

    def watch(address: str) -> None:
        host = address.removeprefix("http://")
        while not cooking.is_set():
            connection = http.client.HTTPConnection(host, timeout=120)
            body, kind = json.dumps(TOLD), {"Content-Type": "application/json"}
            connection.request("POST", "/api/v1/diagnose", body, kind)
            answer = connection.getresponse()
            said = answer.read()
            connection.close()
            if answer.status != 200 or books.setdefault(json.loads(said)["book"], said) != said:
                wrong.append(f"a diagnosis: {answer.status}, or another answer of the same book")
            time.sleep(0.25)

    with phones.serving(False) as (address, stop):
        browser = Browser(address)
        browser.ask("POST", "/desk/first", {"name": NAME, "passphrase": PASSPHRASE})
        handsets = [phones.Phone(n, address, dough, (1.0, 3.0)) for n in range(chosen.phones)]
        cooks = [threading.Thread(target=p.walk, args=(chosen.taps,)) for p in handsets]
        others = [
            threading.Thread(target=publish, args=(browser,)),
            threading.Thread(target=watch, args=(address,)),
        ]
        for thread in (*cooks, *others):
            thread.start()
        for thread in cooks:
            thread.join()
        cooking.set()
        for thread in others:
            thread.join()
        stop()
    wrong += [phone.problem for phone in handsets if phone.problem]
    taps = [tap.seconds for phone in handsets for tap in phone.taps]
    p50, p95, p99 = phones.percentiles(taps)
    print(
        f"{chosen.phones} phones, {len(taps)} taps: p50 {p50:.0f}, p95 {p95:.0f}, p99 {p99:.0f} ms"
    )
    print(f"{len(took)} changes published, {sorted(took)[len(took) // 2]:.1f} s each (median)")
    print(
        f"{len(books)} books answered, each always with the same bytes; wrong: {wrong or 'nothing'}"
    )


if __name__ == "__main__":
    main()
