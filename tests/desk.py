"""An instructor's browser, inside the process: on this computer, and sending forms as pages do."""

from __future__ import annotations

import re
from typing import Any

from fastapi import FastAPI
from starlette.testclient import TestClient

NAME = "Instructor A"
PASSPHRASE = "copper ladle under seven lamps"
FIELD = "desk-token"


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
