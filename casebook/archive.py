"""The whole casebook as one ZIP file, and back: every case, every mark, every picture.

Nothing in an archive is ever unpacked to a disk. A member's name is compared with the few that are
possible, and all sizes are counted while reading, whatever the archive says of them. The same cases
give the same bytes: names in order, one date for all (ZIP has no other way to say "none").

What is imported is read and checked as a whole first, then written in one transaction.
"""

import re
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from sqlalchemy import Connection, select

from diagnose.knowledge.casefile import CaseFile, write_case
from diagnose.knowledge.casetext import CASE
from diagnose.knowledge.fields import NAME

from .cases import is_shipped
from .connecting import Store
from .exchange import (
    Taken,
    case_files,
    check_others,
    prepare_file,
    read_or_refuse,
    take,
)
from .files import written_whole
from .photos import LARGEST_UPLOAD, is_clean, take_photo
from .preparing import Prepared
from .problems import FileRefused, PhotoRefused, UnknownCase
from .progress import Progress, counted, silent
from .storing import alone
from .tables import case_photo, kept_case

__all__ = ["FileRefused", "Taken", "export_archive", "import_archive"]

HEAD = "casebook.yaml"
HEAD_TEXT = "format: 1\nholds: cases\n"
_CASE = re.compile(rf"cases/({NAME.pattern})\.yaml")
_PHOTO = re.compile(rf"photos/({NAME.pattern})-([1-9])\.jpg")
MOST_MEMBERS = 300_000
MOST_BYTES = 4_000_000_000
"""Of everything in an archive, unpacked."""
BATCH = 500
"""Cases written with one statement."""
_NO_DATE = (1980, 1, 1, 0, 0, 0)


def export_archive(
    store: Store,
    path: Path,
    *,
    ids: Sequence[str] | None = None,
    progress: Progress = silent,
) -> int:
    """Write all cases, or those named, to a new ZIP file; how many. Raises `FileRefused`.

    Shipped teaching cases are left out unless named: every casebook has its own.

    The casebook may be in use: what is written is as it was at one moment.
    """
    with store.reading() as connection, written_whole(path) as unfinished:
        if not store.is_sqlite:
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
        numbers = _numbers(connection, ids)
        with zipfile.ZipFile(unfinished, "w") as archive:
            _put(archive, HEAD, HEAD_TEXT.encode(), zipfile.ZIP_DEFLATED)
            files = case_files(connection, numbers)
            for number, file in counted(files, "cases exported", len(numbers), progress):
                text = write_case(file).encode()
                _put(archive, f"cases/{file.case.id}.yaml", text, zipfile.ZIP_DEFLATED)
                for place in range(1, len(file.photos) + 1):
                    jpeg = _jpeg(connection, number, place)
                    name = f"photos/{file.case.id}-{place}.jpg"
                    _put(archive, name, jpeg, zipfile.ZIP_STORED)
    return len(numbers)


def _numbers(connection: Connection, ids: Sequence[str] | None) -> list[int]:
    wanted = select(kept_case.c.id, kept_case.c.number)
    if ids is None:
        wanted = wanted.where(~is_shipped())
    found = {row.id: row.number for row in connection.execute(wanted)}
    if ids is not None and not set(ids) <= found.keys():
        raise UnknownCase
    return [found[id] for id in sorted(found if ids is None else set(ids))]


def _jpeg(connection: Connection, number: int, place: int) -> bytes:
    here = (case_photo.c.case_number == number, case_photo.c.number == place)
    return bytes(connection.execute(select(case_photo.c.jpeg).where(*here)).scalar_one())


def _put(archive: zipfile.ZipFile, name: str, data: bytes, method: int) -> None:
    member = zipfile.ZipInfo(name, _NO_DATE)
    # The same on every system: made on Unix, readable by its owner and everybody.
    member.create_system, member.external_attr = 3, 0o644 << 16
    member.compress_type = method
    archive.writestr(member, data, compresslevel=6)


def import_archive(store: Store, path: Path, *, progress: Progress = silent) -> Taken:
    """Take in everything in an archive, or nothing; what was taken.

    A case that is here already, the same, is left as it is and takes the marks it lacks; one that
    is here and different refuses the whole. Raises `FileRefused` with the problem and, in a case
    file, the line.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            return _import(store, _Members(archive), progress)
    except FileNotFoundError as missing:
        raise FileRefused(f"There is no file {path}.") from missing
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError) as broken:
        raise FileRefused(f"{path} is no ZIP archive that can be read ({broken}).") from broken
    except OSError as problem:
        raise FileRefused(f"{path} could not be read ({problem}).") from problem


class _Members:
    """What is in an archive, each member by its one possible name."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        self.archive = archive
        self.cases: dict[str, zipfile.ZipInfo] = {}
        self.pictures: dict[str, dict[int, zipfile.ZipInfo]] = {}
        self.left = MOST_BYTES
        members = archive.infolist()
        if len(members) > MOST_MEMBERS:
            raise FileRefused(
                f"The archive holds {len(members):,} files; up to {MOST_MEMBERS:,} are read."
            )
        seen = set[str]()
        head = None
        for member in members:
            self._check(member, seen)
            case, picture = _CASE.fullmatch(member.filename), _PHOTO.fullmatch(member.filename)
            if case:
                self.cases[case[1]] = member
            elif picture:
                self.pictures.setdefault(picture[1], {})[int(picture[2])] = member
            else:
                head = member
        if head is None or self.read(head, 1_000).decode("utf-8", "replace") != HEAD_TEXT:
            raise FileRefused(
                f"The archive does not begin with a {HEAD} that this program knows; it was made "
                "by something else or by a newer version."
            )
        lost = sorted(self.pictures.keys() - self.cases.keys())
        if lost:
            raise FileRefused(f"There are pictures of {lost[0]} in the archive, but no such case.")

    def _check(self, member: zipfile.ZipInfo, seen: set[str]) -> None:
        # orig_filename: zipfile cuts a name at its first NUL, and a short name may be a good one.
        name = member.orig_filename
        known = name == HEAD or _CASE.fullmatch(name) or _PHOTO.fullmatch(name)
        if not known or name != member.filename:
            raise FileRefused(
                f"The archive holds a file called {name[:80]!r}, which is none of a casebook's; "
                f"there may be {HEAD}, cases/NAME.yaml and photos/NAME-1.jpg."
            )
        if name in seen:
            raise FileRefused(f"The archive holds {name} twice.")
        seen.add(name)
        if member.flag_bits & 0x1:
            raise FileRefused(f"{name} is locked with a password; make an archive without one.")
        if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise FileRefused(f"{name} is packed in a way that is not read; use plain ZIP.")

    def read(self, member: zipfile.ZipInfo, most: int) -> bytes:
        """The bytes of a member, counted while they are unpacked."""
        with self.archive.open(member) as opened:
            data = opened.read(most + 1)
        if len(data) > most or member.file_size > most:
            raise FileRefused(f"{member.filename} is larger than the {most:,} bytes that are read.")
        return data


def _import(store: Store, members: _Members, progress: Progress) -> Taken:
    names = sorted(members.cases)
    read = list(counted(_read_all(members, names), "cases read", len(names), progress))
    # As they were kept, so that "newest first" stays true.
    read.sort(key=lambda one: (one[0].case.kept, one[0].case.id))
    taken = Taken()
    with store.writing() as connection:
        alone(store, connection)
        here = set(connection.scalars(select(kept_case.c.id)))
        check_others([file for file, _ in read], here | members.cases.keys())
        for first in range(0, len(read), BATCH):
            progress("cases written", first, len(read))
            some = [_with_photos(members, *one) for one in read[first : first + BATCH]]
            take(store, connection, some, here, taken)
        progress("cases written", len(read), len(read))
    return taken


def _read_all(members: _Members, names: Sequence[str]) -> Iterator[tuple[CaseFile, Prepared]]:
    for id in names:
        name = f"cases/{id}.yaml"
        data = members.read(members.cases[id], CASE.bytes)
        members.left -= len(data)
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError as broken:
            raise FileRefused(f"{name} is not UTF-8 text ({broken.reason}).") from broken
        file = read_or_refuse(text, name)
        if file.case.id != id:
            raise FileRefused(f"{name} holds the case {file.case.id}; name and case must agree.")
        pictures = members.pictures.get(id, {})
        if sorted(pictures) != list(range(1, len(file.photos) + 1)):
            raise FileRefused(
                f"{name} describes {len(file.photos)} pictures and the archive holds "
                f"{len(pictures)} of it; there must be one file for each, counted from 1."
            )
        for member in pictures.values():
            members.left -= len(_picture(members, member))
        if members.left < 0:
            raise FileRefused(f"The archive holds more than {MOST_BYTES:,} bytes, unpacked.")
        yield prepare_file(file, (), name)


def _with_photos(members: _Members, file: CaseFile, ready: Prepared) -> tuple[CaseFile, Prepared]:
    """With its pictures, read a second time: all of them at once might not fit into memory."""
    pictures = members.pictures.get(file.case.id, {})
    rows = tuple(
        {"number": place, "jpeg": _picture(members, pictures[place]), "alt": alt}
        for place, alt in enumerate(file.photos, 1)
    )
    return file, replace(ready, photos=rows)


def _picture(members: _Members, member: zipfile.ZipInfo) -> bytes:
    data = members.read(member, LARGEST_UPLOAD)
    if is_clean(data):
        return data
    try:
        return take_photo(data)
    except PhotoRefused as refused:
        raise FileRefused(f"{member.filename}: {refused}") from refused
