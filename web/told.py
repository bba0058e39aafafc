"""How what a cook tells is kept: the kinds of entry, and storing one page's answers once.

======================= ==================== ===============================================
kind                    name                 value
======================= ==================== ===============================================
``kitchen``             ``place``            what to call it: "Summit", "rough guess: hills"
``kitchen``             ``elevation_m``      metres, or null when not known
``kitchen``             ``boil_c``           measured boiling point of water, degrees Celsius
``kitchen``             ``rough``            the rough place chosen, or null
``missing``             an ingredient        true when there is none left of it
``batch``               a batch field        its number or word, or null when not known
``batch-said``          a batch field        the cook's own text and how it was understood
``stage``               ``stage``            the stage's id
``complaint``           the stage's id       ``{"id": "slumps", "told": ["paste-body"]}``
``sign``                the sign's id        the answer's id
``reading``             the reading's id     ``{"value": 78, "unit": "degC"}``, as the cook gave it
``not-looked``          the question's id    null: it could not be answered, and is no evidence
``tried``               ``remedy#n``         ``{"remedy", "result", "added_g"}``, n the n-th try
``timer``               a remedy's id or a   ``{"until": ISO time, "minutes": 3, "what": "The slab
                        name from its words  chills", "free": true}``; null: stopped
``help``                a help of `helps`    ``{"text": {box: text}, "value": {box: number}}``
``units``               ``units``            ``metric`` or ``us``: which are read first
``follows``             ``recipe``           where in the recipe the cook stands: a stage, or
                                             ``plated`` after the last
``avoid``               a cause's id         null: what went wrong with the batch before this one
``plan``                ``plan``             ``{"request": as a program asks, "serving": ISO,
                                             "sized": true if the batch was weighed for it}``
``plan``                ``chill``            ``{"until": ISO time}``: when the cook says it is cold
``outcome``             ``batch``            one word of `ending.OUTCOMES`: how it came out
``look-again``          the stage's id       what was seen before this is no longer in the pan
======================= ==================== ===============================================
"""

from __future__ import annotations

import hashlib
import json
import re
import secrets
from collections.abc import Iterable, Sequence

from casebook.consultations import JSON, Consultation, load, tell
from casebook.situation import QUESTIONED
from casebook.store import Store

Telling = tuple[str, str, JSON]
"""Kind, name and value of one entry."""

SOMETHING_ELSE = "something-else"
"""The complaint of a cook who found none of the stage's complaints fitting."""

_KEY = re.compile(r"[A-Za-z0-9_-]{8,40}")


def new_key() -> str:
    """A key for one printed form, by which a double tap is known to be one answer."""
    return secrets.token_urlsafe(12)


def form_key(text: str) -> str:
    """The key a form sent, or a fresh one for a form that sent none we could have printed."""
    return text if _KEY.fullmatch(text) else new_key()


def key_for(key: str, told: Iterable[Telling]) -> str:
    """The key under which these answers of a form are stored.

    A page in the browser's memory keeps its key, so a cook who goes back on it and taps another
    answer sends the old key with new content: that is a change, not a repeat.
    """
    text = json.dumps(list(told), sort_keys=True, ensure_ascii=False)
    return f"{key}.{hashlib.sha256(text.encode()).hexdigest()[:16]}"


def record(store: Store, found: Consultation, key: str, told: Sequence[Telling]) -> Consultation:
    """Store one page's answers once, and return the consultation with them in it.

    ``found`` is the consultation as just loaded. Returns only when the answers are on the disk.
    """
    first = key_for(key, told)
    further = tell(store, found, first, told)
    if further is not None:
        return further
    consultation = load(store, found.token)
    if _in_force(consultation, told):
        return consultation
    # The same answer from the same page, but another was given in between: the cook changed
    # it back. Numbering by what is there keeps a double tap of this one answer too.
    again = f"{first}.{len(consultation.entries)}"
    return tell(store, consultation, again, told) or load(store, found.token)


def _in_force(consultation: Consultation, told: Sequence[Telling]) -> bool:
    """Whether the last word on every one of these names is what is told now."""
    for kind, name, value in told:
        same = QUESTIONED if kind in QUESTIONED else (kind,)
        last = next(
            (e for e in reversed(consultation.entries) if e.name == name and e.kind in same), None
        )
        if last is None or (last.kind, last.value) != (kind, value):
            return False
    return True
