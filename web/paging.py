"""Long lists, a page at a time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from fastapi import HTTPException

PAGE_LENGTH = 25
"""Entries on one page of a list: keeps a page within its budget of bytes."""

Thing = TypeVar("Thing")


def paged(things: Sequence[Thing], page: int) -> tuple[Sequence[Thing], int]:
    """The entries of one page, counted from 1, and how many pages there are.

    Raises:
        HTTPException: 404, if there is no such page.
    """
    pages = max(1, -(-len(things) // PAGE_LENGTH))
    if not 1 <= page <= pages:
        raise HTTPException(404, f"There are {pages} pages of these.")
    return things[(page - 1) * PAGE_LENGTH : page * PAGE_LENGTH], pages
