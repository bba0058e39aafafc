"""A page's script without the spaces it does not need: written to be read, sent to be short."""

from __future__ import annotations

import re

_PART = re.compile(
    r"""(?P<text>"(?:[^"\\\n]|\\.)*")|\s*(?P<mark>[{(,;=<>?:&|*])\s*|\s*(?P<end>[})])|(?P<gap>\s+)"""
)


def tight(script: str) -> str:
    """The same script with spaces left out around marks; what stands in quotes stays.

    For our own scripts: statements end in a semicolon, text is in double quotes, and there are no
    comments. A line's end after a closing bracket is kept.

    >>> tight('if (a && b) {\\n  s.say("a { b");\\n}\\nvar x = 1;')
    'if(a&&b){s.say("a { b");}\\nvar x=1;'
    """
    return _PART.sub(_kept, script).strip()


def _kept(found: re.Match[str]) -> str:
    if found["text"] is not None:
        return found["text"]
    if found["gap"] is not None:
        return "\n" if "\n" in found["gap"] else " "
    return found["mark"] or found["end"]
