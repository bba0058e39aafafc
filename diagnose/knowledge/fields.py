"""Taking the entries of one mapping, one by one, and collecting every mistake on the way.

Every getter returns something of the right type even after a mistake; ``ok`` tells whether the
whole can be used. So one run reports everything.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from typing import TypeVar

from .keys import Section
from .nodes import Entry, Mapping, Node, Scalar
from .nodes import Sequence as ListNode
from .problems import Problem, did_you_mean, listed, nearest, quoted
from .syntax import COLON

NAME = re.compile("[a-z][a-z0-9-]{1,40}")
RESERVED = ("unknown", "not-looked")
_NUMBER = re.compile(r"-?[0-9]{1,9}(?:\.[0-9]{1,9})?")
_RANGE = re.compile(r"(-?[0-9]{1,9}(?:\.[0-9]{1,9})?) to (-?[0-9]{1,9}(?:\.[0-9]{1,9})?)")

Word = TypeVar("Word", bound=str)


class Report:
    """The problems of one file."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []
        self._seen: set[Problem] = set()

    def add(self, line: int, where: str, what: str, advice: str) -> None:
        """One more mistake."""
        problem = Problem(self.file, line, where, what, advice)
        if problem not in self._seen:  # a key may be looked at twice
            self._seen.add(problem)
            self.problems.append(problem)

    def unknown(self, line: int, where: str, kind: str, word: str, known: Collection[str]) -> None:
        """A name that refers to nothing."""
        what = f"there is no {kind} {quoted(word)}."
        otherwise = f"There are {listed(known)}." if known else f"No {kind} is described yet."
        self.add(line, where, what, did_you_mean(word, known, otherwise))


class Fields:
    """The entries of one mapping. Unknown and missing keys are reported at once."""

    def __init__(
        self, node: Node | None, where: str, section: Section, report: Report, line: int = 0
    ) -> None:
        self.where, self.section, self.report = where, section, report
        self._before = len(report.problems)
        self.line = line or (node.line if node else 0)
        self._entries: dict[str, Entry] = {}
        self._meant: set[str] = set()
        if isinstance(node, Mapping):
            self._take(node)
        else:
            keys = listed(section)
            self.wrong(self.line, "an entry with names is needed here.", f"Its names are {keys}.")

    @property
    def ok(self) -> bool:
        """Whether nothing was wrong since these fields were opened."""
        return len(self.report.problems) == self._before

    def wrong(self, line: int, what: str, advice: str) -> None:
        """Report a mistake in this entry."""
        self.report.add(line, self.where, what, advice)

    def _take(self, node: Mapping) -> None:
        for entry in node.entries:
            if entry.key in self.section:
                self._entries[entry.key] = entry
            else:
                self._unknown_key(entry, node.braces)
        for key, about in self.section.items():
            if about.required and not self.has_or_means(key):
                self.wrong(self.line, f'"{key}" is missing.', f"Add {key}: {about.hint}.")

    def _unknown_key(self, entry: Entry, braces: bool) -> None:
        if braces and isinstance(entry.value, Scalar) and entry.value.empty:
            self.wrong(
                entry.line,
                f"a comma inside braces starts a new entry, here {quoted(entry.key)}.",
                "Put the sentence in quotation marks.",
            )
        elif len(entry.key.split()) > 4:
            self.wrong(entry.line, *COLON)
        else:
            self._meant.add(nearest(entry.key, self.section) or "")
            otherwise = f"Known here are {listed(self.section)}."
            self.wrong(
                entry.line,
                f"{quoted(entry.key)} is not a word this file knows.",
                did_you_mean(entry.key, self.section, otherwise),
            )

    def has(self, key: str) -> bool:
        """Whether the key was written."""
        return key in self._entries

    def has_or_means(self, key: str) -> bool:
        """Whether the key was written, or misspelt: then it is not missing as well."""
        return key in self._entries or key in self._meant

    def node(self, key: str) -> Node | None:
        """The value as written."""
        entry = self._entries.get(key)
        return entry.value if entry else None

    def line_of(self, key: str) -> int:
        """The line of the key, or of the whole entry."""
        entry = self._entries.get(key)
        return entry.line if entry else self.line

    def text(self, key: str, empty_allowed: bool = False) -> str:
        """A sentence or word; empty after a mistake."""
        node = self.node(key)
        if node is None:
            return ""
        return self.text_of(node, key, empty_allowed)

    def optional_text(self, key: str) -> str | None:
        """A sentence or word, or None if the key was not written."""
        return self.text(key) if self.has(key) else None

    def text_of(self, node: Node, key: str, empty_allowed: bool = False) -> str:
        """The text of a node that should be a sentence."""
        hint = self.section[key].hint if key in self.section else "a sentence"
        if isinstance(node, Scalar):
            text = " ".join(node.text.split())
            if not text and not (empty_allowed and node.quoted):
                self.wrong(node.line, f'nothing is written under "{key}".', f"Write {hint}.")
            return text
        if isinstance(node, Mapping) and len(node.entries) == 1 and not node.braces:
            self.wrong(node.line, *COLON)
        else:
            self.wrong(node.line, f'"{key}" holds more than one text.', f"Write {hint}.")
        return ""

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of sentences or words; one alone need not be put in a list."""
        node = self.node(key)
        if node is None:
            return ()
        if isinstance(node, ListNode):
            if not node.items:
                self.wrong(node.line, f'the list under "{key}" is empty.', "Write one or more.")
            return tuple(self.text_of(item, key) for item in node.items)
        return (self.text_of(node, key),)

    def name(self, key: str, kind: str, known: Collection[str]) -> str:
        """The name of something described elsewhere in the file."""
        text = self.text(key)
        if text and text not in known:
            self.report.unknown(self.line_of(key), self.where, kind, text, known)
        return text

    def names(self, key: str, kind: str, known: Collection[str]) -> tuple[str, ...]:
        """A list of such names, each once."""
        found = self.texts(key)
        for name in found:
            if name and name not in known:
                self.report.unknown(self.line_of(key), self.where, kind, name, known)
        twice = sorted({name for name in found if name and found.count(name) > 1})
        for name in twice:
            self.wrong(self.line_of(key), f'"{key}" lists {quoted(name)} twice.', "Keep one.")
        return found

    def stages(self, key: str, known: Sequence[str]) -> tuple[str, ...]:
        """A list of stages; ``all`` stands for every one."""
        return tuple(known) if self._is_all(key) else self.names(key, "stage", known)

    def _is_all(self, key: str) -> bool:
        node = self.node(key)
        return isinstance(node, Scalar) and node.text == "all"

    def word(self, key: str, words: Sequence[Word]) -> Word:
        """One of the program's words; the first of them after a mistake."""
        text = self.text(key)
        return self.word_of(text, key, words, self.line_of(key)) if text else words[0]

    def word_of(self, text: str, key: str, words: Sequence[Word], line: int) -> Word:
        """The word among those allowed; the first of them after a mistake."""
        for word in words:
            if word == text:
                return word
        known = [str(word) for word in words]
        self.wrong(
            line,
            f'"{key}" cannot be {quoted(text)}.',
            did_you_mean(text, known, f"Write {listed(known, 'or')}."),
        )
        return words[0]

    def number(self, key: str, low: float, high: float) -> float:
        """A bare number within a range."""
        text = self.text(key)
        if not text:
            return low
        if not _NUMBER.fullmatch(text) or not low <= float(text) <= high:
            self.wrong(
                self.line_of(key),
                f'"{key}" cannot be {quoted(text)}.',
                f"Write a number from {low:g} to {high:g}, like 3 or 1.5.",
            )
            return low
        return float(text)

    def range(self, key: str) -> tuple[float, float]:
        """Two bare numbers, ``55 to 99``, the lower one first."""
        text = self.text(key)
        if not text:
            return (0.0, 0.0)
        match = _RANGE.fullmatch(text)
        if not match or float(match[1]) >= float(match[2]):
            self.wrong(
                self.line_of(key),
                f'"{key}" cannot be {quoted(text)}.',
                "Write two numbers, the lower one first, like 55 to 99.",
            )
            return (0.0, 0.0)
        return (float(match[1]), float(match[2]))

    def entries(self, key: str, may_be_empty: bool = False) -> Iterator[Entry]:
        """The entries of a mapping under this key."""
        node = self.node(key)
        if node is None:
            return
        if not isinstance(node, Mapping) or not (node.entries or may_be_empty):
            hint = self.section[key].hint
            self.wrong(self.line_of(key), f'"{key}" needs names with values.', f"It holds {hint}.")
            return
        yield from node.entries

    def items(self, key: str) -> Iterator[Node]:
        """The items of a list under this key."""
        node = self.node(key)
        if node is None:
            return
        if not isinstance(node, ListNode) or not node.items:
            hint = self.section[key].hint
            self.wrong(
                self.line_of(key),
                f'"{key}" needs a list.',
                f"Begin each item with a hyphen; it holds {hint}.",
            )
            return
        yield from node.items


def check_name(entry: Entry, where: str, report: Report) -> bool:
    """Whether an author's name is well formed and not one that the program keeps for itself."""
    if entry.key in RESERVED:
        report.add(
            entry.line,
            where,
            f"{quoted(entry.key)} cannot be described.",
            '"I did not look" is offered with every question by the program: leave it out.',
        )
        return False
    if not NAME.fullmatch(entry.key):
        report.add(
            entry.line,
            where,
            f"{quoted(entry.key)} cannot be a name.",
            "Use 2 to 41 small letters, digits and hyphens, beginning with a letter, "
            "like paste-body.",
        )
        return False
    return True
