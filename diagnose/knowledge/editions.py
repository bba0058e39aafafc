"""A book with changes: the shipped files, and named parts of them put in, replaced or taken out.

A part is one entry of one section of one dough: one rule, one sign, one cause. Its text is what
stands in the file, moved to the margin. Applying changes is a pure function from texts to texts,
so the same changes always give the same book, byte for byte, and a book taken back to an earlier
state has that state's version. Everything that is not changed keeps its bytes, comments and all.

>>> files = {"d.yaml": "format: 1\\ndough: d-d\\nrules:\\n  one:\\n    says: a # said\\n"}
>>> one = PartName("d-d", "rules", "one")
>>> part_text(files, one)
'one:\\n  says: a # said\\n'
>>> print(apply(files, [Edit(one, "one:\\n  says: b\\n")])["d.yaml"].splitlines()[-1])
    says: b
"""

from __future__ import annotations

from collections.abc import Iterable
from collections.abc import Mapping as MappingOf
from dataclasses import dataclass
from functools import lru_cache

from .fields import NAME
from .nodes import PASTED, SHIPPED, Entry, Limits, Mapping, Node, Scalar, Sequence, read_nodes
from .problems import BrokenBook, Problem, did_you_mean, listed, quoted

SECTIONS = (
    "stages",
    "signs",
    "readings",
    "computed readings",
    "findings",
    "causes",
    "remedies",
    "cautions",
    "rules",
    "whole cases",
    "failure modes",
    "retired",
)
"""The sections whose entries have names, and so can be changed one by one."""


@dataclass(frozen=True, slots=True, order=True)
class PartName:
    """One entry: the dough's name, the section, the entry's own name."""

    dough: str
    section: str
    name: str

    def __str__(self) -> str:
        return f"{self.section} {self.name}"


@dataclass(frozen=True, slots=True)
class Edit:
    """A part as it shall be; None takes it out."""

    part: PartName
    text: str | None


UNSURE_ENDS = "\x85\u2028\u2029"
"""Next line, line and paragraph separator (Unicode Standard Annex 14)."""


def check_part(part: PartName, text: str, limits: Limits = PASTED) -> list[Problem]:
    """What keeps a text from being this part: one entry, of this name, within the limits.

    Whether the entry makes sense is for the reader of the whole book.
    """
    where = f"{part.section} {quoted(part.name)[1:-1]}"
    problems: list[Problem] = []
    if part.section not in SECTIONS:
        what = f"there is no section {quoted(part.section)} whose entries can be changed."
        problems.append(
            Problem("", 0, where, what, did_you_mean(part.section, SECTIONS, listed(SECTIONS)))
        )
    if not NAME.fullmatch(part.name):
        what = f"{quoted(part.name)} cannot be a name."
        advice = "Use 2 to 41 small letters, digits and hyphens, like smears-when-cut."
        problems.append(Problem("", 0, where, what, advice))
    if problems:
        return problems
    for number, line in enumerate(text.split("\n"), 1):
        # Some programs end a line here and others do not, so the text would not come back as it is.
        if any(mark in line for mark in UNSURE_ENDS):
            what = "there is a sign here that only some programs take for the end of a line."
            return [Problem("", number, where, what, "Type the line again without it.")]
    root, problems = read_nodes(text, "", limits)
    if root is None or problems:
        return problems
    if not isinstance(root, Mapping) or root.braces or len(root.entries) != 1:
        what = "this is not one entry."
        return [Problem("", root.line, where, what, f'It begins with "{part.name}:" and no more.')]
    entry = root.entries[0]
    if entry.key != part.name:
        what = f"this entry is called {quoted(entry.key)}, not {part.name}."
        advice = "Keep the name: a name stands for one thing for ever."
        return [Problem("", entry.line, where, what, advice)]
    inside, broken = read_nodes("section:\n" + _indented(text, 2), "", _one_deeper(limits))
    held = inside.get("section") if isinstance(inside, Mapping) else None
    if broken or held is None or plain_of(held) != plain_of(root):
        what = "this entry would read otherwise inside a file."
        advice = "Take out lines of three dots or three hyphens, and tabs."
        return [Problem("", root.line, where, what, advice)]
    return []


def apply(files: MappingOf[str, str], edits: Iterable[Edit]) -> dict[str, str]:
    """The files with these changes; of two changes to one part the later counts.

    New parts stand at the end of their section, in the order of the changes.

    Raises:
        BrokenBook: a dough that no file describes, or a text that is not the part it should be.
    """
    wanted: dict[PartName, str | None] = {}
    for edit in edits:
        wanted[edit.part] = edit.text
    problems = [
        problem
        for part, text in wanted.items()
        if text is not None
        for problem in check_part(part, text)
    ]
    homes = {_dough_of(text): name for name, text in files.items() if wanted}
    for part in wanted:
        if part.dough not in homes:
            what = f"there is no dough {quoted(part.dough)}."
            problems.append(Problem("", 0, str(part), what, "Choose one of the book's doughs."))
    if problems:
        raise BrokenBook(problems)
    changed = dict(files)
    for dough in sorted({part.dough for part in wanted}):
        name = homes[dough]
        here = {part: text for part, text in wanted.items() if part.dough == dough}
        changed[name] = _file(files[name]).with_parts(here)
    return changed


def part_text(files: MappingOf[str, str], part: PartName) -> str | None:
    """A part as the files have it, moved to the margin; None if they do not have it."""
    for text in files.values():
        if _dough_of(text) == part.dough:
            return _file(text).text_of(part)
    return None


def part_at(text: str, line: int) -> tuple[str, str] | None:
    """The section and name of the entry that a line of a file belongs to."""
    return _file(text).at(line)


def plain_of(node: Node) -> object:
    """A node without its lines: what it says, for comparing."""
    if isinstance(node, Scalar):
        return (node.text, node.empty)
    if isinstance(node, Sequence):
        return [plain_of(item) for item in node.items]
    return [(entry.key, plain_of(entry.value)) for entry in node.entries]


def _one_deeper(limits: Limits) -> Limits:
    return Limits(limits.bytes * 2 + 100, limits.nodes + 2, limits.depth + 1)


@lru_cache(maxsize=16)
def _dough_of(text: str) -> str:
    root, _ = read_nodes(text, "")
    named = root.get("dough") if isinstance(root, Mapping) else None
    return named.text if isinstance(named, Scalar) else ""


def _indented(text: str, by: int) -> str:
    lines = text.split("\n")
    return "\n".join(" " * by + line if line.strip() else line for line in lines)


@dataclass(frozen=True, slots=True)
class _Block:
    """Lines of one entry, from ``first`` up to but not with ``end``; counted from 0."""

    first: int
    end: int
    indent: int


class _File:
    """One knowledge file as lines, with the places of its entries."""

    def __init__(self, text: str) -> None:
        self.lines = text.split("\n")
        root, _ = read_nodes(text, "", SHIPPED)
        self.root = root if isinstance(root, Mapping) else Mapping((), 1)

    def _section(self, name: str) -> tuple[Entry | None, int]:
        """A section and the line after it."""
        entries = self.root.entries
        for number, entry in enumerate(entries):
            if entry.key == name:
                after = entries[number + 1].line - 1 if number + 1 < len(entries) else None
                return entry, len(self.lines) if after is None else after
        return None, len(self.lines)

    def _blocks(self, section: str) -> dict[str, _Block]:
        entry, end = self._section(section)
        if entry is None or not isinstance(entry.value, Mapping):
            return {}
        if entry.value.braces and entry.value.entries:
            what = f"the section {section} is written in braces, so nothing in it can be changed."
            raise BrokenBook([Problem("", entry.line, section, what, "Write it line by line.")])
        inner = entry.value.entries
        starts = [each.line - 1 for each in inner] + [end]
        return {
            each.key: self._block(first, after)
            for each, first, after in zip(inner, starts[:-1], starts[1:], strict=True)
        }

    def _block(self, first: int, after: int) -> _Block:
        indent = _spaces(self.lines[first])
        end = after
        while end > first + 1 and self._between(self.lines[end - 1], indent):
            end -= 1
        return _Block(first, end, indent)

    @staticmethod
    def _between(line: str, indent: int) -> bool:
        """Whether a line behind an entry is space, or a comment on what follows."""
        return not line.strip() or (line.lstrip().startswith("#") and _spaces(line) <= indent)

    def text_of(self, part: PartName) -> str | None:
        block = self._blocks(part.section).get(part.name)
        if block is None:
            return None
        cut = [
            line[block.indent :] if line[: block.indent].isspace() or not block.indent
            else line.lstrip()
            for line in self.lines[block.first : block.end]
        ]  # fmt: skip
        return "\n".join(cut).rstrip("\n") + "\n"

    def at(self, line: int) -> tuple[str, str] | None:
        for section in SECTIONS:
            try:
                blocks = self._blocks(section)
            except BrokenBook:
                continue
            for name, block in blocks.items():
                if block.first < line <= block.end:
                    return section, name
        return None

    def with_parts(self, wanted: MappingOf[PartName, str | None]) -> str:
        splices: list[tuple[int, int, list[str]]] = []
        for section in dict.fromkeys(part.section for part in wanted):
            splices += self._splices(section, {
                part.name: text for part, text in wanted.items() if part.section == section
            })  # fmt: skip
        lines = list(self.lines)
        for first, end, new in sorted(splices, key=lambda s: s[:2], reverse=True):
            lines[first:end] = new
        return "\n".join(lines)

    def _splices(
        self, section: str, wanted: MappingOf[str, str | None]
    ) -> list[tuple[int, int, list[str]]]:
        entry, _ = self._section(section)
        blocks = self._blocks(section)
        indent = next((block.indent for block in blocks.values()), 2)
        splices: list[tuple[int, int, list[str]]] = []
        added: list[str] = []
        for name, text in wanted.items():
            block = blocks.get(name)
            new = [] if text is None else _indented(text.rstrip("\n"), indent).split("\n")
            if block is not None:
                splices.append((block.first, block.end, new))
            elif new:
                added += new
        if not added:
            return splices
        if entry is None:
            end = len(self.lines)
            while end > 0 and not self.lines[end - 1].strip():
                end -= 1
            return [*splices, (end, end, [f"{section}:", *added])]
        if blocks:
            last = max(block.end for block in blocks.values())
            return [*splices, (last, last, added)]
        # An empty section: its one line is written anew.
        return [*splices, (entry.line - 1, entry.line, [f"{section}:", *added])]


@lru_cache(maxsize=4)
def _file(text: str) -> _File:
    return _File(text)


def _spaces(line: str) -> int:
    return len(line) - len(line.lstrip(" "))
