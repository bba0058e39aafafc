"""A cook's phone inside the process: reads the forms of a page and taps their buttons."""

from __future__ import annotations

import re
from html import unescape

from httpx2 import Response
from starlette.testclient import TestClient


class Phone:
    """One cook, one page at a time."""

    def __init__(self, client: TestClient) -> None:
        self.client = client
        self.page: Response = client.get("/")

    def go(self, path: str) -> Response:
        self.page = self.client.get(path)
        return self.page

    def post(self, path: str, **fields: str) -> Response:
        """Send a form of the present page, with its key."""
        self.page = self.client.post(path, data={"key": self.key, **fields})
        return self.page

    def start(self, kitchen: str = "summit", **fields: str) -> str:
        """Open a consultation; its token."""
        self.go("/start")
        self.post("/start", kitchen=kitchen, **fields)
        return self.token

    def at_stage(self, stage: str, complaint: str = "something-else") -> str:
        """Open a consultation and tell where it stands and what is wrong; its token."""
        token = self.start()
        self.post(f"/c/{token}/stage", stage=stage)
        self.post(f"/c/{token}/complaint", stage=stage, complaint=complaint)
        return token

    @property
    def path(self) -> str:
        return str(self.page.url.path)

    @property
    def token(self) -> str:
        found = re.match(r"/c/([^/]+)", self.path)
        assert found, self.path
        return found[1]

    @property
    def key(self) -> str:
        found = re.search(r'name="key" value="([^"]+)"', self.page.text)
        return found[1] if found else ""

    @property
    def words(self) -> str:
        """The page's text without its marks."""
        main = re.search(r"<main>(.*)</main>", self.page.text, re.DOTALL)
        text = re.sub(r"<svg.*?</svg>|<[^>]+>", " ", main[1] if main else "", flags=re.DOTALL)
        return " ".join(unescape(text).split())
