"""The press of a site: what changes the book, where it can be changed."""

from __future__ import annotations

from fastapi import HTTPException

from casebook.publishing import Press

from .site import Site


def press_of(site: Site) -> Press:
    """What publishes changes of the book; 409 where a book is served that nobody can change."""
    if site.press is None:
        raise HTTPException(409, "The book that is served here cannot be changed.")
    return site.press
