"""From a change to a book in use: tried first, stored, then put on the shelf; or refused.

The rows of the casebook are the truth and the running book follows from them. A book is built and
checked before its revision is stored, and put on the shelf after; a program that dies in between
finds the revision at its next start. Only one book is built at a time.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from diagnose.checking.lints import Found
from diagnose.checking.used_names import used_again
from diagnose.consulting import OpenBook
from diagnose.inspecting import inspect
from diagnose.knowledge.book import Book
from diagnose.knowledge.editions import Edit, PartName, apply, check_part, part_at, part_text
from diagnose.knowledge.loading import load_texts
from diagnose.knowledge.problems import BrokenBook, Problem
from diagnose.shelf import Shelf

from .connecting import Store
from .revisions import Change, Kind, Revision, all_revisions, edits_of, head, keep, latest


class Refused(Exception):
    """A change that cannot go live: every problem, each a sentence, with facts that show it."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(map(str, problems)))


class ChangedMeanwhile(Exception):
    """Somebody changed the same part: what it is now, who did it, and why."""

    def __init__(self, part: PartName, now: str | None, by: Revision) -> None:
        self.part, self.now, self.by = part, now, by
        super().__init__(f"{by.who} changed {part.name} meanwhile: {by.why}")


@dataclass(frozen=True, slots=True)
class Trial:
    """A book that could go live, what it was worked out on, and what the checks found in it."""

    after: int
    texts: Mapping[str, str]
    opened: OpenBook
    found: tuple[Found, ...]

    @property
    def errors(self) -> tuple[Problem, ...]:
        """What keeps it from going live."""
        return tuple(problem for lint, problem in self.found if lint.level == "error")


@dataclass(frozen=True, slots=True)
class SetAside:
    """A part whose revision does not fit the shipped book any more, and why."""

    part: PartName
    problems: tuple[Problem, ...]


class Press:
    """Publishes revisions of one book into one shelf. One for each running program."""

    def __init__(
        self,
        store: Store,
        shelf: Shelf,
        shipped: Mapping[str, str],
        open_book: Callable[[Book], OpenBook] = OpenBook,
        besides: Callable[[], object] = lambda: None,
    ) -> None:
        """``open_book`` makes a loaded book ready to answer, with what else it shall know.

        ``besides`` tells that from what it was before: another value, and the book is opened anew.
        """
        self.store, self.shelf, self.shipped = store, shelf, dict(shipped)
        self.open_book, self.besides = open_book, besides
        self._known = besides()
        self.set_aside: tuple[SetAside, ...] = ()
        self._seen = 0
        self._lock = threading.Lock()
        self._kept: dict[str, tuple[OpenBook, tuple[Found, ...]]] = {}

    def start(self) -> OpenBook:
        """Put the book on the shelf that the revisions make, setting aside what does not fit."""
        with self._lock:
            # What is learned is no part of the version that tells whether a book has changed.
            return self._start(anyway=self.open_book is not OpenBook)

    def look(self) -> OpenBook:
        """The book as it is now: another program with the same database may have changed it."""
        if self._is_newest():
            return self.shelf.current
        with self._lock:
            if self._is_newest():
                return self.shelf.current
            return self._start(anyway=self.besides() != self._known)

    def reopen(self) -> OpenBook:
        """Open the book in use once more: what it shall know beside its files has changed."""
        with self._lock:
            self._kept.clear()
            self._known = self.besides()
            self.shelf.put(self.open_book(self.shelf.current.book))
            return self.shelf.current

    def _is_newest(self) -> bool:
        return head(self.store) == self._seen and self.besides() == self._known

    def _start(self, anyway: bool = False) -> OpenBook:
        revisions = all_revisions(self.store)
        book, self.set_aside = with_revisions(self.shipped, revisions)
        self._seen = len(revisions)
        # Taken before the book is opened: an act that comes in between is then noticed.
        if (known := self.besides()) != self._known:
            self._kept.clear()
            self._known = known
        if anyway or book.version != self.shelf.current.book.version:
            self.shelf.put(self.open_book(book))
        return self.shelf.current

    def texts(self, upto: int | None = None) -> dict[str, str]:
        """The book's files as they are now, or were after a revision."""
        return apply(self.shipped, self._edits(all_revisions(self.store), upto))

    def edits(self) -> tuple[Edit, ...]:
        """Every part that is not as it was shipped."""
        return self._edits(all_revisions(self.store))

    def text_of(self, part: PartName) -> tuple[str | None, int]:
        """A part as it is now, and the number of its latest revision (0: as shipped)."""
        revisions = all_revisions(self.store)
        return self._text(revisions, part), latest(revisions, part)

    def try_out(self, changes: Mapping[PartName, str | None]) -> Trial:
        """The book with these changes, checked by every lint; nothing is stored.

        Raises:
            Refused: the changes cannot even be read.
        """
        with self._lock:
            return self._try_out(all_revisions(self.store), changes)

    def publish(
        self,
        changes: Mapping[PartName, str | None],
        who: str,
        why: str,
        *,
        bases: Mapping[PartName, int] | None = None,
        kind: Kind = "change",
        undoes: int | None = None,
        at: datetime | None = None,
    ) -> tuple[int, ...]:
        """Check changes, store them, and let the running book be the changed one; their numbers.

        ``bases`` are the latest revisions of the parts that whoever made the change had seen.

        Raises:
            ChangedMeanwhile: a part has a later revision than that.
            Refused: the changed book cannot be read, or a check finds an error in it.
            NotStorable: no reason is given.
            MovedOn: another program changed the same database at this moment.
        """
        with self._lock:
            revisions = all_revisions(self.store)
            for part, base in (bases or {}).items():
                if latest(revisions, part) != base:
                    by = next(r for r in reversed(revisions) if r.part == part)
                    raise ChangedMeanwhile(part, self._text(revisions, part), by)
            wanted = []
            for part, text in changes.items():
                before = self._text(revisions, part)
                if before != text:
                    wanted.append(Change(part, before, text))
            if kind in ("change", "import"):
                self._refuse_used_names(revisions, wanted)
            # On the revisions that were looked at above: with later ones somebody's change, stored
            # by another program in between, would be overwritten unseen.
            trial = self._try_out(revisions, {change.part: change.after for change in wanted})
            if trial.errors:
                raise Refused(trial.errors)
            numbers = keep(
                self.store, wanted, who, why, after=trial.after, kind=kind, undoes=undoes, at=at
            )
            self.shelf.put(trial.opened)
            self._seen = numbers[-1]
            return numbers

    def undo(
        self, number: int, who: str, why: str, *, at: datetime | None = None
    ) -> tuple[int, ...]:
        """Take back one revision, with those made in one go with it.

        Raises what ``publish`` raises, and ChangedMeanwhile if a part is not any more what this
        change made of it. Where later changes were taken back, it is.
        """
        revisions = all_revisions(self.store)
        one = next((r for r in revisions if r.number == number), None)
        if one is None:
            raise LookupError(f"There is no revision {number}.")
        group = [r for r in revisions if r.together == one.together]
        for r in group:
            text = self._text(revisions, r.part)
            if text != r.after:
                by = next(other for other in reversed(revisions) if other.part == r.part)
                raise ChangedMeanwhile(r.part, text, by)
        return self.publish(
            {r.part: r.before for r in group},
            who,
            why,
            bases={r.part: latest(revisions, r.part) for r in group},
            kind="undo",
            undoes=one.together,
            at=at,
        )

    def roll_back(
        self, number: int, who: str, why: str, *, at: datetime | None = None
    ) -> tuple[int, ...]:
        """Make the whole book what it was after a revision (0: as shipped)."""
        revisions = all_revisions(self.store)
        if not 0 <= number <= len(revisions):
            raise LookupError(f"There is no revision {number}.")
        then = {edit.part: edit.text for edit in edits_of(revisions, number)}
        shipped = {one.part: part_text(self.shipped, one.part) for one in revisions}
        return self.publish(
            {**shipped, **then},
            who,
            why,
            kind="roll-back",
            undoes=number,
            at=at,
        )

    def _refuse_used_names(self, revisions: Sequence[Revision], wanted: Sequence[Change]) -> None:
        """Refuse a new part with the name of one that was taken out."""
        added = [c.part for c in wanted if c.before is None and c.after is not None]
        ever = {r.part for r in revisions}
        again = used_again(added, (), ever)
        if again:
            raise Refused(again)

    def _text(self, revisions: Sequence[Revision], part: PartName) -> str | None:
        """A part as it is now, exactly as it was written."""
        for edit in self._edits(revisions):
            if edit.part == part:
                return edit.text
        return part_text(self.shipped, part)

    def _edits(self, revisions: Sequence[Revision], upto: int | None = None) -> tuple[Edit, ...]:
        aside = {one.part for one in self.set_aside}
        edits = {e.part: e for e in edits_of(revisions, upto) if e.part not in aside}
        return tuple(_differing(self.shipped, edits).values())

    def _try_out(
        self, revisions: Sequence[Revision], changes: Mapping[PartName, str | None]
    ) -> Trial:
        problems = [
            problem
            for part, text in changes.items()
            if text is not None
            for problem in check_part(part, text)
        ]
        if problems:
            raise Refused(problems)
        added = tuple(Edit(part, text) for part, text in changes.items())
        # In the order in which the rows will stand, so that a restart gives the same texts.
        edits = {e.part: e for e in (*self._edits(revisions), *added)}
        edits = _differing(self.shipped, _in_order(revisions, edits))
        try:
            texts = apply(self.shipped, edits.values())
            opened, found = self._opened(texts)
        except BrokenBook as broken:
            raise Refused([_placed(problem, changes) for problem in broken.problems]) from None
        return Trial(len(revisions), texts, opened, found)

    def _opened(self, texts: Mapping[str, str]) -> tuple[OpenBook, tuple[Found, ...]]:
        """The book of these texts with what the checks find; the last few are kept."""
        key = "\0".join(f"{name}\0{text}" for name, text in sorted(texts.items()))
        if key not in self._kept:
            book = load_texts(texts)
            self._kept[key] = (self.open_book(book), tuple(inspect(book)))
            while len(self._kept) > 3:
                del self._kept[next(iter(self._kept))]
        return self._kept[key]


def _placed(problem: Problem, changes: Mapping[PartName, str | None]) -> Problem:
    """A problem without the line of the composed file, which nobody has seen."""
    where = problem.where or next((str(part) for part in changes), "")
    return Problem("", 0, where, problem.what, problem.advice)


def with_revisions(
    shipped: Mapping[str, str], revisions: Sequence[Revision]
) -> tuple[Book, tuple[SetAside, ...]]:
    """The book that shipped files and revisions make; what does not fit any more is set aside.

    A revision was checked when it was made, but against the files that were shipped then.

    Raises:
        BrokenBook: the shipped files alone cannot be used.
    """
    edits = _differing(shipped, {edit.part: edit for edit in edits_of(revisions)})
    aside: list[SetAside] = []
    while edits:
        try:
            texts = apply(shipped, edits.values())
        except BrokenBook as broken:
            bad = {
                part: check_part(part, edit.text) or list(broken.problems)
                for part, edit in edits.items()
                if edit.text is not None and check_part(part, edit.text)
            } or {part: list(broken.problems) for part in edits}
            aside += [SetAside(part, tuple(found)) for part, found in bad.items()]
            edits = {part: edit for part, edit in edits.items() if part not in bad}
            continue
        try:
            book = load_texts(texts)
            problems = [p for lint, p in inspect(book) if lint.level == "error"]
        except BrokenBook as broken:
            problems = list(broken.problems)
        if not problems:
            return book, tuple(aside)
        blamed = _blamed(texts, edits, problems)
        aside += [SetAside(part, tuple(found)) for part, found in blamed.items()]
        edits = {part: edit for part, edit in edits.items() if part not in blamed}
    return load_texts(shipped), tuple(aside)


def _in_order(
    revisions: Sequence[Revision], edits: Mapping[PartName, Edit]
) -> dict[PartName, Edit]:
    """The edits in the order of each part's first revision, new parts last."""
    first = dict.fromkeys(one.part for one in revisions)
    return {part: edits[part] for part in (*first, *edits) if part in edits}


def _differing(shipped: Mapping[str, str], edits: Mapping[PartName, Edit]) -> dict[PartName, Edit]:
    """Without the edits that make a part what it is shipped as: those leave the file's bytes."""
    return {p: e for p, e in edits.items() if e.text != part_text(shipped, p)}


def _blamed(
    texts: Mapping[str, str], edits: Mapping[PartName, Edit], problems: Sequence[Problem]
) -> dict[PartName, list[Problem]]:
    """The changed parts in which the problems stand; all of them if none does."""
    blamed: dict[PartName, list[Problem]] = {}
    for problem in problems:
        place = part_at(texts[problem.file], problem.line) if problem.file in texts else None
        for part in edits:
            if place == (part.section, part.name):
                blamed.setdefault(part, []).append(problem)
    return blamed or {part: list(problems) for part in edits}


__all__ = [
    "ChangedMeanwhile",
    "Press",
    "Refused",
    "SetAside",
    "Trial",
    "head",
    "with_revisions",
]
