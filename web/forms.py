"""Reading a form: its fields by name, an empty box told as empty, and what is wrong with one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, HTTPException, Request

URLENCODED = "application/x-www-form-urlencoded"


@dataclass(frozen=True, slots=True)
class FieldProblem:
    """One mistake in a form: the field's name and one sentence, printed in both places."""

    field: str
    sentence: str


class Fields(dict[str, str]):
    """A form's fields. A field that was not sent reads as empty."""

    def __init__(self, sent: Mapping[str, str] | None = None) -> None:
        self._sent = dict(sent or {})
        super().__init__({name: value.strip() for name, value in self._sent.items()})

    def untrimmed(self, name: str) -> str:
        """A field as it was sent, with the space around it: a passphrase, a text of the book."""
        return self._sent.get(name, "")

    def __missing__(self, name: str) -> str:
        return ""


async def read_fields(request: Request) -> Fields:
    """The fields of a form post, each trimmed; of a doubled field the last counts.

    Raises 415 with a sentence for anything but an ordinary form.
    """
    kind = request.headers.get("content-type", "").split(";")[0].strip().lower()
    if kind != URLENCODED:
        raise HTTPException(415, "Answers are accepted only from a form on one of these pages.")
    form = await request.form()
    return Fields({name: str(value) for name, value in form.multi_items()})


Form = Annotated[Fields, Depends(read_fields)]
"""A page's form, for the signature of an endpoint."""
