"""A learner's progress as a cookie: kept on the device, bounded, and read whatever it holds.

The cookie is nobody's secret and is not signed: whoever changes it cheats only themselves. It
holds counts, the names of missed cases with their boxes, and short marks of cases seen.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass

from diagnose.practising import BOXES, Missed, Progress

COOKIE = "panadier-practice"
KEPT_S = 400 * 24 * 3600
"""How long a browser may keep it: browsers allow no more (RFC 6265bis, section 5.5)."""
MOST_BYTES = 3_000
"""Browsers keep at least 4,096 bytes with the name (RFC 6265, section 6.1)."""
MOST_MISSED = 60
MOST_SEEN = 250

_WHOLE = re.compile(
    r"(\d{1,6})\.(\d{1,6})\.([a-z][a-z0-9-]{1,40})?~([a-z0-9.\-_]{0,2800})~([0-9a-f]{0,1000})"
)
_MISSED = re.compile(r"([a-z][a-z0-9-]{1,40})\.([1-9])\.(\d{1,6})")
_MARK = 4


NOTHING = Progress()


@dataclass(frozen=True, slots=True)
class Practised:
    """Progress, and which cases were seen lately, as short marks, the latest last."""

    progress: Progress = NOTHING
    seen: tuple[str, ...] = ()

    def has_seen(self, name: str) -> bool:
        """Whether a case was practised lately; one in 65,536 others is taken for it."""
        return mark(name) in self.seen

    def answered(self, name: str, right: bool) -> Practised:
        """What it is after an answer."""
        seen = (*(m for m in self.seen if m != mark(name)), mark(name))
        return Practised(self.progress.answered(name, right), seen[-MOST_SEEN:])


def mark(name: str) -> str:
    """Four hexadecimal digits of a case's name."""
    return hashlib.sha256(name.encode()).hexdigest()[:_MARK]


def as_cookie(practised: Practised) -> str:
    """The cookie's text, at most 3,000 bytes.

    What takes too much room is let go: of the missed those nearest to being known, then those
    missed longest ago.
    """
    progress = practised.progress
    missed = sorted(progress.missed, key=lambda one: (one.box, -one.due))[:MOST_MISSED]
    while True:
        kept = sorted(missed, key=lambda one: (one.due, one.name))
        listed = "_".join(f"{one.name}.{one.box}.{one.due}" for one in kept)
        text = "~".join(
            (f"{progress.done}.{progress.right}.{progress.last}", listed, "".join(practised.seen))
        )
        if len(text) <= MOST_BYTES:
            return text
        missed.pop()


def from_cookie(text: str) -> Practised:
    """What a cookie holds; nothing practised if it is not one of ours.

    >>> from_cookie("3.2.b-case~a-case.1.5~").progress.due() is None
    True
    """
    whole = _WHOLE.fullmatch(text) if len(text) <= MOST_BYTES else None
    if whole is None:
        return Practised()
    done, right = int(whole[1]), int(whole[2])
    missed: dict[str, Missed] = {}
    for part in whole[4].split("_") if whole[4] else ():
        one = _MISSED.fullmatch(part)
        if one is None or int(one[2]) > BOXES:
            return Practised()
        missed[one[1]] = Missed(one[1], int(one[2]), min(int(one[3]), done + 2**BOXES))
    if len(whole[5]) % _MARK:
        return Practised()
    seen = tuple(whole[5][n : n + _MARK] for n in range(0, len(whole[5]), _MARK))
    progress = Progress(done, min(right, done), whole[3] or "", tuple(missed.values()))
    return Practised(progress, seen)
