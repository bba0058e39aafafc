"""An instructor's browser, inside the process: on this computer, and sending forms as pages do."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from starlette.testclient import TestClient

from casebook.publishing import Press
from casebook.store import Store
from diagnose.consulting import OpenBook
from diagnose.knowledge.editions import PartName
from diagnose.knowledge.loading import load_texts
from diagnose.knowledge.situation import Situation
from diagnose.shelf import Shelf

NAME = "Instructor A"
PASSPHRASE = "copper ladle under seven lamps"
FIELD = "desk-token"

BOOKS = Path(__file__).parent / "books"
DOUGH = "ten-minutes"
WET = PartName(DOUGH, "rules", "undercooked-looks-wet")
TOLD = Situation(
    dough=DOUGH,
    stage="cook-paste",
    signs={"paste-body": "slumps"},
    readings={"paste-temperature": 78},
)


def texts() -> dict[str, str]:
    names = ("ten-minutes.yaml", "sources.yaml")
    return {name: (BOOKS / name).read_text(encoding="utf-8") for name in names}


def press_on(store: Store) -> Press:
    shipped = texts()
    press = Press(store, Shelf(OpenBook(load_texts(shipped))), shipped)
    press.start()
    return press


def now(press: Press, part: PartName = WET) -> str:
    text, _ = press.text_of(part)
    assert text is not None
    return text


def words(page: str) -> str:
    """What stands in the main part of a page, without its marks."""
    main = re.search("<main>(.*)</main>", page, re.DOTALL)
    assert main
    return " ".join(unescape(re.sub("<[^>]+>", " ", main[1])).split())


def ready(desk: TestClient, path: str) -> str:
    """A page once what it shows is worked out."""
    for _ in range(30):
        answer = desk.get(path)
        assert answer.status_code == 200, answer.text
        if "Working it out" not in answer.text:
            return answer.text
    raise AssertionError(f"{path} is never worked out")


class Browser(TestClient):
    """A browser that may stand anywhere; ``send_form`` posts a form with the token of its page."""

    def __init__(
        self, app: FastAPI, *, machine: str = "127.0.0.1", origin: str = "http://testserver"
    ) -> None:
        super().__init__(app, origin, client=(machine, 50000), headers={"Origin": origin})

    def begin(self, name: str = NAME, passphrase: str = PASSPHRASE) -> None:
        """Make the first instructor, and be signed in as that one."""
        answer = self.post("/desk/first", data={"name": name, "passphrase": passphrase})
        assert answer.status_code == 200, answer.text

    def sign_in(self, name: str = NAME, passphrase: str = PASSPHRASE, back: str = "/desk") -> Any:
        """Sign in; the answer, not followed."""
        data = {"name": name, "passphrase": passphrase, "back": back}
        return self.post("/desk/sign-in", data=data, follow_redirects=False)

    def token(self, page: str = "/desk") -> str:
        """The token that this page prints on its forms."""
        found = re.search(rf'name="{FIELD}" value="([0-9a-f]*)"', self.get(page).text)
        assert found, f"{page} has no form of the desk"
        return found[1]

    def send_form(self, path: str, data: dict[str, Any] | None = None, **more: Any) -> Any:
        """Post a form to a page of the desk."""
        return self.post(path, data={FIELD: self.token(), **(data or {})}, **more)
