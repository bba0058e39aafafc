"""What a computation that a knowledge file may name consists of."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Protocol, TypeVar

from .doses import Dose, Minutes
from .state import KitchenState


@dataclass(frozen=True, slots=True)
class Computation:
    """A computed reading: a number in ``unit``, or None."""

    name: str
    unit: str
    needs: tuple[str, ...]
    function: Callable[[KitchenState], float | None]
    uses: tuple[str, ...] = ()
    means: str = ""


@dataclass(frozen=True, slots=True)
class DoseComputation:
    """A computed amount to add, or None when it is not known or does not apply."""

    name: str
    needs: tuple[str, ...]
    function: Callable[[KitchenState], Dose | None]
    uses: tuple[str, ...] = ()
    means: str = ""


@dataclass(frozen=True, slots=True)
class MinutesComputation:
    """Computed minutes, or None when they are not known."""

    name: str
    needs: tuple[str, ...]
    function: Callable[[KitchenState], Minutes | None]
    uses: tuple[str, ...] = ()
    means: str = ""


class _Named(Protocol):
    @property
    def name(self) -> str: ...


_AnyNamed = TypeVar("_AnyNamed", bound=_Named)


def by_name(entries: Iterable[_AnyNamed]) -> Mapping[str, _AnyNamed]:
    """The entries by their names, as authors write them."""
    return MappingProxyType({entry.name: entry for entry in entries})
