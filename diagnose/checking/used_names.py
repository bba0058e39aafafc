"""A name stands for one thing for ever: a part that was taken out leaves its name unused."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from diagnose.knowledge.editions import PartName
from diagnose.knowledge.problems import Problem


def used_again(
    added: Iterable[PartName], there: Collection[PartName], ever: Collection[PartName]
) -> list[Problem]:
    """The parts to be put in whose names belonged to something that is no longer there.

    ``there`` are the parts of the book as it is, ``ever`` those that any revision was about.
    Taking a change back puts the same thing in its place again and is not for this check. Names in
    the list of retired rules are refused by the reader of the book.

    >>> one = PartName("d-d", "rules", "smears")
    >>> [problem.what for problem in used_again([one], [], [one])]
    ['the name "smears" was used before, for something that was taken out.']
    """
    return [
        Problem(
            "",
            0,
            str(part),
            f'the name "{part.name}" was used before, for something that was taken out.',
            "Give it another name: old cases and answers still speak of the first one.",
        )
        for part in added
        if part not in there and part in ever
    ]
