"""Fisher's exact test, one-sided, and how many of many tests to believe. Pure Python.

Sources: R. A. Fisher, Journal of the Royal Statistical Society 85 (1922) 87-94, and The Design of
Experiments, 1935, chapter II; Y. Benjamini and Y. Hochberg, Journal of the Royal Statistical
Society B 57 (1995) 289-300. The chances of single tables follow C. Loader, Fast and accurate
computation of binomial probabilities, 2000, whose terms do not lose figures when the counts are
large. All four from memory; the tests compare with a general library.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

FALSE_AMONG_FOUND: Final = 0.05
"""Share of false patterns among those offered that is put up with; common practice, no source."""


@dataclass(frozen=True, slots=True)
class TwoByTwo:
    """Counts of cases: seen (or not) against true (or not).

    ============ ======== =============
    .            the cause another cause
    seen         both     only_seen
    not seen     only_true neither
    ============ ======== =============
    """

    both: int
    only_seen: int
    only_true: int
    neither: int

    @property
    def cases(self) -> int:
        """How many cases there are in all."""
        return self.both + self.only_seen + self.only_true + self.neither

    @property
    def share(self) -> float:
        """Share of the cause among the cases with the pattern; 0 where there are none."""
        seen = self.both + self.only_seen
        return self.both / seen if seen else 0.0

    @property
    def lift(self) -> float:
        """How many times more frequent the cause is with the pattern than in all cases.

        >>> TwoByTwo(12, 3, 8, 57).lift
        3.2
        """
        true = self.both + self.only_true
        return self.share * self.cases / true if true else 0.0

    @property
    def factor(self) -> float:
        """Factor on the odds: P(seen | cause) over P(seen | another), half a case added to each.

        The half keeps a nought from meaning certainty (Jeffreys' prior; common practice).
        """
        here = (self.both + 0.5) / (self.both + self.only_true + 1)
        there = (self.only_seen + 0.5) / (self.only_seen + self.neither + 1)
        return here / there


def log_tail(table: TwoByTwo) -> float:
    """Logarithm of the chance of so many in ``both``, or more, if nothing went together.

    Fisher's tea: all four cups told apart, 1 in 70 (The Design of Experiments, 1935, chapter II;
    from memory):

    >>> round(math.exp(log_tail(TwoByTwo(4, 0, 0, 4))) * 70, 9)
    1.0
    """
    k = table.both
    seen, true, cases = k + table.only_seen, k + table.only_true, table.cases
    # the tail is summed from its first table outwards, as shares of that one
    terms, term = [1.0], 1.0
    others = cases - seen - true
    while k < min(seen, true) and term > 1e-18 * terms[0]:
        term *= (seen - k) * (true - k) / ((k + 1) * (others + k + 1))
        terms.append(term)
        if term > 1e290:
            return 0.0  # so far below what is usual that the tail is all there is
        k += 1
    return min(_log_of_one(table) + math.log(math.fsum(terms)), 0.0)


def tail(table: TwoByTwo) -> float:
    """The same as a chance; 0 below what a number can hold."""
    return math.exp(log_tail(table))


def believed(log_chances: Iterable[float], tests: int, rate: float = FALSE_AMONG_FOUND) -> float:
    """The largest log chance to believe, so that about ``rate`` of the believed are false.

    ``tests`` is how many were made in all: those not listed are taken to have found nothing.
    Minus infinity if none is to be believed.

    >>> round(math.exp(believed(map(math.log, [0.001, 0.02, 0.9]), tests=3)), 9)
    0.02
    """
    limit = -math.inf
    for place, log_chance in enumerate(sorted(log_chances), start=1):
        if log_chance <= math.log(rate * place / tests):
            limit = log_chance
    return limit


def _log_of_one(table: TwoByTwo) -> float:
    """Log chance of exactly this table, by three binomials with one common share."""
    seen, true = table.both + table.only_seen, table.both + table.only_true
    cases = table.cases
    if seen in (0, cases) or true in (0, cases):
        return 0.0
    share = seen / cases
    return (
        _log_binomial(table.both, true, share)
        + _log_binomial(table.only_seen, cases - true, share)
        - _log_binomial(seen, cases, share)
    )


def _log_binomial(x: int, n: int, p: float) -> float:
    """Log of the binomial chance, by Loader's saddle point."""
    if x == 0:
        return n * math.log1p(-p)
    if x == n:
        return n * math.log(p)
    rest = n - x
    return (
        _stirling_error(n)
        - _stirling_error(x)
        - _stirling_error(rest)
        - _deviance(x, n * p)
        - _deviance(rest, n * (1 - p))
        + 0.5 * math.log(n / (2 * math.pi * x * rest))
    )


def _stirling_error(n: int) -> float:
    """log n! less Stirling's formula for it."""
    if n < len(_SMALL):
        return _SMALL[n]
    n2 = n * n
    series = 1 / 12 - (1 / 360 - (1 / 1260 - (1 / 1680 - 1 / 1188 / n2) / n2) / n2) / n2
    return series / n


def _deviance(x: float, mean: float) -> float:
    """x log(x / mean) + mean - x, without losing figures when the two are near."""
    gap = x - mean
    if abs(gap) < 0.1 * (x + mean):
        ratio = gap / (x + mean)
        total, term, square, odd = gap * ratio, 2 * x * ratio, ratio * ratio, 1
        while True:
            term *= square
            odd += 2
            more = total + term / odd
            if more == total:
                return total
            total = more
    return x * math.log(x / mean) + mean - x


def _small_errors(count: int) -> tuple[float, ...]:
    """The first Stirling errors, from exact factorials."""
    root = 0.5 * math.log(2 * math.pi)
    found = [0.0]
    for n in range(1, count):
        found.append(math.log(math.factorial(n)) - (n + 0.5) * math.log(n) + n - root)
    return tuple(found)


_SMALL: Final = _small_errors(16)
