"""The press of a site: what changes the book, where it can be changed."""

from __future__ import annotations

from typing import Any

from casebook.publishing import Press
from diagnose.knowledge.loading import texts_of
from diagnose.shelf import Shelf

from .site import Site

_presses: dict[int, Press] = {}


def press_of(site: Site) -> Press:
    opened: Any = site.consultant
    opened = getattr(opened, "_consultant", opened)
    return _presses.setdefault(id(site), Press(site.store, Shelf(opened), texts_of()))
