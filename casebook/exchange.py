"""One case as one YAML file, to and from the casebook."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace

from sqlalchemy import Connection, insert, select

from diagnose.knowledge.case import EnteredBy, Mark, Photo
from diagnose.knowledge.casefile import CaseFile, read_case, write_case

from .cases import insert_prepared, marks_at, set_standing
from .connecting import Store
from .preparing import Prepared, case_from, mark_from, mark_row, prepare
from .problems import FileRefused, NotStorable, UnknownCase
from .storing import alone
from .tables import case_mark, case_photo, kept_case

BATCH = 500
"""Cases read with one statement."""

__all__ = ["Taken", "export_case", "import_case"]

ALREADY = "imported "
"""What the idempotency key of a case that came in a file begins with; a form's key has no space."""


class Taken:
    """What an import did: cases added, cases that were here already, marks added to those."""

    def __init__(self) -> None:
        self.cases = self.known = self.marks = 0

    def __str__(self) -> str:
        said = f"{self.cases:,} added, {self.known:,} already here"
        return said + (f", {self.marks:,} marks added to those" if self.marks else "")


def export_case(store: Store, id: str) -> str:
    """The text of a case's file. Raises `UnknownCase`.

    Its pictures are described in it but not held by it: an archive of the one case holds both.
    """
    wanted = select(kept_case.c.number).where(kept_case.c.id == id)
    with store.reading() as connection:
        number = connection.scalar(wanted)
        if number is None:
            raise UnknownCase
        ((_, file),) = case_files(connection, [number])
    return write_case(file)


def case_files(connection: Connection, numbers: Sequence[int]) -> Iterator[tuple[int, CaseFile]]:
    """What the files of these cases hold, in the order given."""
    for first in range(0, len(numbers), BATCH):
        some = numbers[first : first + BATCH]
        rows = connection.execute(select(kept_case).where(kept_case.c.number.in_(some))).all()
        found = {row.number: case_from(row) for row in rows}
        marks: dict[int, list[Mark]] = {}
        for row in connection.execute(
            select(case_mark)
            .where(case_mark.c.case_number.in_(some))
            .order_by(case_mark.c.case_number, case_mark.c.number)
        ):
            marks.setdefault(row.case_number, []).append(mark_from(row))
        alts: dict[int, list[str]] = {}
        for row in connection.execute(
            select(case_photo.c.case_number, case_photo.c.alt)
            .where(case_photo.c.case_number.in_(some))
            .order_by(case_photo.c.case_number, case_photo.c.number)
        ):
            alts.setdefault(row.case_number, []).append(row.alt)
        for n in some:
            yield n, CaseFile(found[n], tuple(marks.get(n, ())), tuple(alts.get(n, ())))


def import_case(store: Store, text: str, name: str = "case.yaml") -> str:
    """Take in one case from a file's text; its id. Its pictures are not in the file.

    It is kept as ``imported``, whoever entered it elsewhere, unless it was shipped. Raises
    `FileRefused` with every problem, line by line, also for a case of that name that is here and
    different.
    """
    found = read_or_refuse(text, name)
    shipped = found.case.entered_by == "shipped"
    entered_by: EnteredBy = "shipped" if shipped else "imported"
    case = replace(found.case, entered_by=entered_by)
    with store.writing() as connection:
        alone(store, connection)
        known = connection.execute(select(kept_case).where(kept_case.c.id == case.id)).one_or_none()
        if known is not None:
            # It may have gone out from here and come back.
            case = replace(case, entered_by=known.entered_by)
        file, ready = prepare_file(replace(found, case=case), (), name)
        ids = {o for o in _others(file) if _is_here(connection, o)} | {case.id}
        check_others([file], ids)
        take(store, connection, [(file, ready)], ids if known is not None else (), Taken())
    return case.id


def read_or_refuse(text: str, name: str) -> CaseFile:
    """The case in a file's text, or `FileRefused` with every problem in it."""
    found, problems = read_case(text, name)
    if found is None:
        raise FileRefused("\n".join(str(problem) for problem in problems))
    return found


def prepare_file(file: CaseFile, photos: Sequence[Photo], name: str) -> tuple[CaseFile, Prepared]:
    """A read case with its rows; `FileRefused` for what reading let pass and keeping does not."""
    try:
        return file, prepare(file.case, ALREADY + file.case.id, marks=file.marks, photos=photos)
    except NotStorable as problem:
        raise FileRefused(f"{name}: {problem}") from problem


def check_others(files: Sequence[CaseFile], ids: Collection[str]) -> None:
    """Refuse a mark that says "the same as" a case which is neither here nor to come."""
    for file in files:
        for other in _others(file):
            if other not in ids:
                raise FileRefused(
                    f"The case {file.case.id} is marked the same as {other}, and there is no such "
                    "case; import that one too."
                )


def _others(file: CaseFile) -> set[str]:
    return {mark.other for mark in file.marks if mark.other is not None}


def _is_here(connection: Connection, id: str) -> bool:
    return connection.scalar(select(kept_case.c.number).where(kept_case.c.id == id)) is not None


def take(
    store: Store,
    connection: Connection,
    files: Sequence[tuple[CaseFile, Prepared]],
    here: Collection[str],
    taken: Taken,
) -> None:
    """Insert the cases that are not here, and add to those that are the marks they lack.

    ``here`` holds at least those ids among theirs that are in the casebook. Raises `FileRefused`
    for a case that is here and different.
    """
    new = [ready for file, ready in files if file.case.id not in here]
    insert_prepared(store, connection, new)
    taken.cases += len(new)
    for file, _ in files:
        if file.case.id not in here:
            continue
        row = connection.execute(select(kept_case).where(kept_case.c.id == file.case.id)).one()
        if case_from(row) != file.case:
            raise FileRefused(
                f"There is already a case {file.case.id} here, and it is a different one; "
                "take it out of what is imported, or give it another name there."
            )
        taken.known += 1
        taken.marks += _add_marks(connection, row.number, file)


def _add_marks(connection: Connection, number: int, file: CaseFile) -> int:
    here = marks_at(connection, number)
    shared = min(len(here), len(file.marks))
    if here[:shared] != file.marks[:shared]:
        raise FileRefused(
            f"The case {file.case.id} was marked here and there by different people, and nobody "
            "can tell in which order; take it out of what is imported."
        )
    more: tuple[Mark, ...] = file.marks[len(here) :]
    for mark in more:
        key = f"{ALREADY}{file.case.id} {mark.number}"
        connection.execute(insert(case_mark), {**mark_row(mark, key), "case_number": number})
    if more:
        set_standing(connection, number, more[-1])
    return len(more)
