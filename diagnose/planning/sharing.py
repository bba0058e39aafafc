"""A slab that is made already, shared among the guests who come."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.kitchen.refusing import require_between

from .formula import MOST_GUESTS, PORTIONS, portion_called


@dataclass(frozen=True, slots=True)
class Share:
    """Pieces for each guest from the slab in hand."""

    pieces: int
    each: int
    enough: bool
    """Whether each gets at least the fewest of the portion."""
    say: str


def share(pieces: int, guests: int, portion: str) -> Share:
    """How ``pieces`` go round among ``guests`` (1 to 500); ``ValueError`` outside.

    6 to 8 pieces a small plate (common practice, no source).

    >>> share(100, 14, "small-plate").say
    'The slab gives about 100 pieces: 7 for each of 14 guests.'
    >>> share(100, 20, "small-plate").enough
    False
    """
    asked = portion_called(portion)
    require_between("Guests", guests, 1, MOST_GUESTS, "guests")
    require_between("Pieces", pieces, 0, 100_000, "pieces")
    each = min(asked.most, pieces // guests)
    say = f"The slab gives about {pieces} pieces: {each} for each of {guests} guests."
    if each >= asked.fewest:
        return Share(pieces, each, True, say)
    say += f" A {asked.say} has {asked.fewest} to {asked.most}."
    smaller = [p for p in PORTIONS.values() if p.most < asked.fewest and p.fewest <= each]
    if smaller:
        say += f" It is enough for a {smaller[-1].say} each"
        say += f", or for {pieces // asked.fewest} full portions."
    else:
        say += f" It is enough for {pieces // asked.fewest} full portions."
    return Share(pieces, each, False, say)
