"""First pass over a file: which names it describes, so that references can be checked.

Names are taken from the entries themselves, also from entries that hold mistakes. So one mistake
is reported once and not again wherever its entry is used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .fields import Report
from .nodes import Mapping, Node, Scalar
from .problems import quoted

_FACTS = ("signs", "readings", "computed readings", "findings")


@dataclass(frozen=True, slots=True)
class Names:
    """What a file describes; the units of readings as far as they could be read."""

    stages: tuple[str, ...]
    signs: dict[str, tuple[str, ...]]
    readings: dict[str, str]
    computed: dict[str, str]
    bands: dict[str, tuple[str, ...]]
    findings: tuple[str, ...]
    causes: tuple[str, ...]
    remedies: tuple[str, ...]
    cautions: tuple[str, ...]
    rules: tuple[str, ...]
    whole_cases: tuple[str, ...]
    sources: frozenset[str] | None
    """Keys of ``sources.yaml``; None if that file could not be read."""

    @property
    def facts(self) -> tuple[str, ...]:
        """Everything a condition may be about."""
        return (*self.signs, *self.readings, *self.computed, *self.findings, "stage")

    @property
    def scaled(self) -> dict[str, str]:
        """Readings and computed readings with their units."""
        return {**self.readings, **self.computed}


def collect(root: Mapping, sources: Sequence[str] | None, report: Report) -> Names:
    """The names in a file; a name that two kinds of fact share is reported."""
    _check_shared(root, report)
    signs = {name: _keys(_inside(node, "answers")) for name, node in _entries(root, "signs")}
    readings = dict(_entries(root, "readings"))
    computed = dict(_entries(root, "computed readings"))
    return Names(
        stages=_keys(root.get("stages")),
        signs=signs,
        readings={name: _text(node, "unit") for name, node in readings.items()},
        computed={name: _text(node, "unit") for name, node in computed.items()},
        bands={
            name: _keys(_inside(node, "bands"))
            for name, node in (readings | computed).items()
            if _inside(node, "bands") is not None
        },
        findings=_keys(root.get("findings")),
        causes=_keys(root.get("causes")),
        remedies=_keys(root.get("remedies")),
        cautions=_keys(root.get("cautions")),
        rules=_keys(root.get("rules")),
        whole_cases=_keys(root.get("whole cases")),
        sources=None if sources is None else frozenset(sources),
    )


def _check_shared(root: Mapping, report: Report) -> None:
    seen: dict[str, tuple[str, int]] = {"stage": ("the program", 0)}
    for section in _FACTS:
        node = root.get(section)
        for entry in node.entries if isinstance(node, Mapping) else ():
            if entry.key not in seen:
                seen[entry.key] = (section, entry.line)
                continue
            kind, line = seen[entry.key]
            place = f" (line {line})" if line else ""
            report.add(
                entry.line,
                section,
                f"the name {quoted(entry.key)} is already used by {kind}{place}.",
                "Choose another: a condition must know which one is meant.",
            )


def _entries(root: Mapping, section: str) -> list[tuple[str, Node]]:
    node = root.get(section)
    return [(e.key, e.value) for e in node.entries] if isinstance(node, Mapping) else []


def _keys(node: Node | None) -> tuple[str, ...]:
    return tuple(entry.key for entry in node.entries) if isinstance(node, Mapping) else ()


def _inside(node: Node, key: str) -> Node | None:
    return node.get(key) if isinstance(node, Mapping) else None


def _text(node: Node, key: str) -> str:
    inner = _inside(node, key)
    return inner.text if isinstance(inner, Scalar) else ""
