"""Reads a form of a page as a browser would send it."""

from __future__ import annotations

from html.parser import HTMLParser


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.forms: list[tuple[str, dict[str, str]]] = []
        self.select: str | None = None
        self.area: str | None = None
        self.chosen = False
        self.text = ""

    @property
    def fields(self) -> dict[str, str]:
        return self.forms[-1][1] if self.forms else {}

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        of = {name: value or "" for name, value in attributes}
        given = {name for name, _ in attributes}
        name = of.get("name", "")
        if tag == "form":
            self.forms.append((of.get("action", ""), {}))
        elif tag == "input" and name:
            box = of.get("type") in ("checkbox", "radio")
            if not box or "checked" in given:
                self.fields[name] = of.get("value", "on")
        elif tag == "select":
            self.select, self.chosen = name, False
        elif tag == "option" and self.select:
            self.text = ""
            if "selected" in given or (not self.chosen and self.select not in self.fields):
                self.chosen = self.chosen or "selected" in given
                # an option without a value sends its words
                self.fields[self.select] = of["value"] if "value" in given else "\0"
        elif tag == "textarea":
            self.area, self.text = name, ""

    def handle_data(self, data: str) -> None:
        self.text += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            self.select = None
        elif tag == "option" and self.select and self.fields.get(self.select) == "\0":
            self.fields[self.select] = self.text.strip()
        elif tag == "textarea" and self.area:
            self.fields[self.area] = self.text.removeprefix("\n")
            self.area = None


def form_in(page: str, which: int = 0) -> dict[str, str]:
    """What a page's form sends if nobody touches it; lines end as a browser ends them."""
    reader = _Reader()
    reader.feed(page)
    _, fields = reader.forms[which]
    return {name: value.replace("\n", "\r\n") for name, value in fields.items()}
