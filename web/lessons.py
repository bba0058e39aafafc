"""What the confirmed cases teach the book that is open, each list of cases worked out once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from casebook.acts import Act, acts, in_force
from casebook.judged import Comparison, Report, compare, report
from casebook.listing import Listing, listing, listing_of
from casebook.progress import Progress
from casebook.publishing import Press
from casebook.store import Store
from casebook.taught import Records, Teacher, records
from diagnose.consulting import OpenBook
from diagnose.knowledge.book import Book, Dough
from diagnose.learning.recalibrating import Learned, learn

from .works import Work, Works


@dataclass(frozen=True)
class Lesson:
    """The confirmed cases of one dough, and what they teach."""

    act: Act | None
    """The act in force, if learning is in use."""
    now: Listing
    records: Records
    learned: Learned
    """What all of them teach, in use or not."""
    used: Learned | None
    """What is in use; None for the words alone."""

    @property
    def in_use(self) -> bool:
        """Whether the book goes by what cases taught."""
        return self.used is not None

    @property
    def lost(self) -> bool:
        """Whether an act put learning in use whose cases are not here as they were."""
        return self.act is not None and self.used is None

    @property
    def aside(self) -> tuple[tuple[str, int], ...]:
        """Why cases are not counted, with how many each, most first."""
        reasons: dict[str, int] = {}
        for _, reason in (*self.records.aside, *self.learned.counts.set_aside):
            reasons[reason] = reasons.get(reason, 0) + 1
        if self.now.shipped:
            reasons["came with the program, and is invented"] = self.now.shipped
        return tuple(sorted(reasons.items(), key=lambda item: (-item[1], item[0])))

    @property
    def met(self) -> Mapping[str, int]:
        """By cause, in how many confirmed cases it was a true one."""
        counts: dict[str, int] = {}
        for case in self.records.cases:
            for cause in case.causes:
                counts[cause] = counts.get(cause, 0) + 1
        return counts


class Lessons:
    """Asks the casebook, and remembers what was worked out for a list of cases and a book."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._works = Works()
        self._opening: Work[OpenBook] | None = None

    def lesson(self, book: Book, dough: Dough) -> Work[Lesson]:
        """What the cases teach as they are marked now."""
        now, act = listing(self._store, dough.id), in_force(self._store).get(dough.id)

        def run(progress: Progress) -> Lesson:
            found = records(self._store, dough, now, progress)
            learned = learn(dough, found.cases)
            used = self._used(dough, act, now, learned, progress)
            return Lesson(act, now, found, learned, used)

        return self._works.work((*self._about(book, act, now), "lesson"), run)

    def comparison(self, book: Book, dough: Dough, lesson: Lesson) -> Work[Comparison]:
        """The words beside what the cases make of them."""

        def run(progress: Progress) -> Comparison:
            ready = OpenBook(book).ready(dough.id)
            return compare(ready, lesson.learned, lesson.records.cases, progress)

        return self._works.work((book.version, lesson.now.digest, "compared"), run)

    def report(self, book: Book, dough: Dough, lesson: Lesson) -> Work[Report]:
        """How well the house does, as it judges now."""

        def run(progress: Progress) -> Report:
            ready = OpenBook(book).ready(dough.id)
            return report(ready, self._judge_by(lesson), lesson.records.cases, progress)

        return self._works.work((*self._about(book, lesson.act, lesson.now), "report"), run)

    def reopen(self, press: Press, lesson: Lesson | None = None) -> Work[OpenBook]:
        """Open the running book anew, after an act of learning from this lesson, or against it."""
        act = in_force(self._store).get(lesson.now.dough) if lesson else None
        if lesson and act and act.digest == lesson.now.digest:
            teacher = press.open_book
            if isinstance(teacher, Teacher):
                teacher.know(lesson.learned.dough, act, lesson.records.cases)

        def run(progress: Progress) -> OpenBook:
            progress("opening the book", 0, 0)
            return press.reopen()

        last = max((act.number for act in acts(self._store)), default=0)
        self._opening = self._works.work(("opened", last), run)
        return self._opening

    def opening(self) -> Work[OpenBook] | None:
        """The last time that the book was opened anew here, if it was."""
        return self._opening

    def _used(
        self, dough: Dough, act: Act | None, now: Listing, learned: Learned, progress: Progress
    ) -> Learned | None:
        if act is None:
            return None
        if act.digest == now.digest:
            return learned
        listed = listing_of(self._store, dough.id, act.marked)
        if listed.digest != act.digest:
            return None
        return learn(dough, records(self._store, dough, listed, progress).cases)

    @staticmethod
    def _judge_by(lesson: Lesson) -> Learned | None:
        """What is in use, from the cases that are marked as they were then.

        A case that was marked otherwise since could not be left out of what it taught.
        """
        if lesson.used is None or lesson.act is None:
            return None
        if lesson.used is lesson.learned:
            return lesson.used
        then = set(lesson.act.marked)
        same = {
            case.id
            for case, pair in zip(lesson.records.cases, lesson.records.marked, strict=True)
            if pair in then
        }
        return learn(
            lesson.learned.dough, [case for case in lesson.records.cases if case.id in same]
        )

    @staticmethod
    def _about(book: Book, act: Act | None, now: Listing) -> tuple[object, ...]:
        return (book.version, now.dough, now.digest, act.number if act else 0)
