"""Cases leave and come back the same: as one YAML file, as an archive, as a table."""

from __future__ import annotations

import csv
import io
import os
import re
import signal
import subprocess
import sys
import zipfile
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from PIL import Image
from ruamel.yaml import YAML

import casebook
from casebook.archive import HEAD, HEAD_TEXT, export_archive, import_archive
from casebook.cases import (
    Photo,
    case,
    insert_prepared,
    keep_case,
    mark,
    marks,
    photo,
    photos,
    queue,
    standing,
)
from casebook.consultations import open_consultation
from casebook.exchange import export_case, import_case
from casebook.photos import take_photo
from casebook.preparing import prepare
from casebook.problems import FileRefused, UnknownCase
from casebook.searching import search_cases
from casebook.spreadsheet import COLUMNS, export_csv, safe
from casebook.store import Store, open_store
from casemaking import MADE_EACH, NOON, PLAIN, TORN, case_files, json_values
from diagnose.knowledge.case import JSON
from diagnose.knowledge.casefile import CaseFile, read_case, write_case
from diagnose.knowledge.casetext import CASE, plain_of, read_written, text_of
from diagnose.knowledge.nodes import read_nodes

ROOT = Path(casebook.__file__).parent.parent


def a_photo(colour: str = "brown") -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (50, 30), colour).save(out, "PNG")
    return take_photo(out.getvalue())


def fill(store: Store) -> None:
    """Everything that there can be: marks, doubles, pictures, a consultation behind it."""
    for n, (name, made) in enumerate(MADE_EACH.items()):
        kept = replace(made, id=name, kept=NOON + timedelta(minutes=n))
        pictures = [Photo(a_photo(), "Torn"), Photo(a_photo("tan"), "Browned")] if n == 2 else []
        keep_case(store, kept, f"form {n}", photos=pictures)
    mark(store, "soupy-at-harbour", "1", by="Instructor", verdict="doubtful", at=NOON)
    mark(store, "soupy-at-harbour", "2", by="Instructor", verdict="confirmed",
         causes=["undercooked-paste"], first_remedy="cook-on-hotter", at=NOON)  # fmt: skip
    mark(store, "greasy-somewhere", "3", by="Instructor", verdict="same-as",
         other="torn-at-summit", at=NOON)  # fmt: skip


# One case, one file


@settings(deadline=None)
@given(case_files())
def test_a_case_comes_back_from_its_file_as_it_was(file: CaseFile) -> None:
    text = write_case(file)
    found, problems = read_case(text, "case.yaml")
    assert problems == []
    assert found == file
    assert write_case(found) == text


@settings(deadline=None)
@given(case_files())
def test_reading_by_lines_gives_what_reading_yaml_gives(file: CaseFile) -> None:
    text = write_case(file)
    node, problems = read_nodes(text, "case.yaml", CASE)
    assert problems == []
    quick = read_written(text)
    assert quick is None or quick == node


@settings(deadline=None)
@given(json_values.filter(lambda value: isinstance(value, dict | list) and bool(value)))
def test_any_value_comes_back_from_its_text(value: JSON) -> None:
    text = text_of(value)
    node, problems = read_nodes(text, "value.yaml", CASE)
    assert problems == []
    assert node is not None
    assert plain_of(node) == value
    quick = read_written(text)
    assert quick is None or quick == node


def test_what_is_written_is_read_by_lines() -> None:
    """So that thousands of cases are read in seconds."""
    assert read_written(write_case(CaseFile(replace(TORN, id="torn-one")))) is not None


def test_another_reader_of_yaml_finds_the_same_text_in_it() -> None:
    """Against ruamel.yaml's own loader of YAML 1.2."""
    text = write_case(CaseFile(replace(TORN, id="torn-one")))
    found = YAML(typ="safe", pure=True).load(text)
    assert found["title"] == TORN.title
    assert found["note"] == TORN.note
    assert found["situation"] == TORN.situation
    assert found["said"] == list(TORN.said)


@pytest.mark.parametrize(
    "text",
    [
        "a: 1 # why\n", "a: 'x'\n", "a: [1, 2]\n", "a: {b: 1}\n", "a: |\n  x\n", "a: x y\n", "a:\n",
        "a:  1\n", "a: 1", "a: 1\na: 2\n", "a: &x 1\n", "a: *x\n", "a: !x 1\n",
        "%YAML 1.2\n---\na: 1\n", "---\na: 1\n", "a: 1\n\n", "a:\n   b: 1\n", "a:\n- 1\n",
        "? a\n: 1\n", 'a: "\\ud83e\\udd5a"\n',
        "a: 1\n b: 2\n", "- 1\na: 2\n", "a: ~\n", "a: 0o7\n", "a: Yes\n", "\ta: 1\n", "a: \"x\n",
        "- - - 1\n    - 2\n", "a: 1_000\n", "a: .inf\n", "\ufeffa: 1\n", 'a: "\x7f"\n', "a b : 1\n",
    ],
)  # fmt: skip
def test_text_of_another_hand_is_read_in_full_or_alike(text: str) -> None:
    quick = read_written(text)
    assert quick is None or quick == read_nodes(text, "x.yaml", CASE)[0]


GOOD = write_case(CaseFile(replace(TORN, id="torn-one")))


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (("format: 1", "format: 2"), r'line 1: format "2" is not known here'),
        (("title: ", "tilte: "), r'line 3: "tilte" is .* Did you mean "title"'),
        (('title: "The crust is torn"', 'title: ""'), r"line 3, title: .*one line of 1 to 120"),
        (("outcome: not-quite", "outcome: eaten"), r'outcome: there is no outcome "eaten"'),
        (("elevation: 2310", "elevation: high"), r'"high" is not a number'),
        (("elevation: 2310", "elevation: 99999"), r"99999 m is not possible; give -430 to 9000 m"),
        (("entered by: cook", "entered by: me"), r'"entered by" cannot be "me"'),
        (("entered by: cook", "entered by: cook\nkept: x1"), r'"kept" is written twice'),
        (('2024-02-29T13', '2024-02-30T13'), r'is not a moment.* Write date, time and time zone'),
        (("chance: 0.75", "chance: 1.75"), r"1\.75 is not a chance; give 0 to 1"),
        (("  signs:", "  signs: &here"), r"a word that begins with & marks a place"),
        (("stage: brown", "stage: *here"), r"begins with \* stands for another place"),
        (("stage: brown", "stage: !!python/name:os.system x"), r"is a tag, and tags are not read"),
        (("stage: brown", "stage: brown\n---\na: 1"), r"second document"),
        (('title: "The crust is torn"', "title: [1]"), r'"title" holds more than one text'),
        (("told:", "photos: [\"\"]\ntold:"), r"the pictures cannot be described like this"),
        (("told:", "marks: [{at: 1, by: A, verdict: confirmed}]\ntold:"),
         r'mark 1: "1" is not a moment'),
        (("told:", 'marks: [{at: "2024-02-29T12:00:00Z", by: A, verdict: confirmed}]\ntold:'),
         r"mark 1, causes: a confirmed case needs its true cause"),
    ],
)  # fmt: skip
def test_a_file_with_a_mistake_is_refused_by_its_line(
    change: tuple[str, str], sentence: str
) -> None:
    assert change[0] in GOOD
    found, problems = read_case(GOOD.replace(*change, 1), "torn-one.yaml")
    assert found is None
    said = "\n".join(str(problem) for problem in problems)
    assert re.search(sentence, said), said
    assert said.startswith("torn-one.yaml, line ")


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("a: " + "[" * 200 + "]" * 200, "nested more than 20 deep"),
        ("- x\n" * 70_000, "more than 60,000 entries"),
        ("x" * 1_000_001, "1,000,001 bytes long; at most 1,000,000"),
        ("a: &a [x]\nb: &b [*a, *a]\nc: [*b, *b]\n", "marks a place to refer to"),
        ("", "nothing in this file"),
    ],
)
def test_a_file_that_would_grow_is_refused_before_it_does(text: str, sentence: str) -> None:
    found, problems = read_case(text, "bomb.yaml")
    assert found is None
    assert sentence in str(problems[0])


def test_a_case_travels_from_one_casebook_to_another(either: Store, tmp_path: Path) -> None:
    fill(either)
    text = export_case(either, "soupy-at-harbour")
    with open_store(tmp_path / "other.sqlite3") as other:
        assert import_case(other, text) == "soupy-at-harbour"
        there = case(other, "soupy-at-harbour")
        assert there == replace(case(either, "soupy-at-harbour"), entered_by="imported")
        assert marks(other, "soupy-at-harbour") == marks(either, "soupy-at-harbour")
        assert standing(other, "soupy-at-harbour") == "confirmed"
        assert search_cases(other, "pours", cause="undercooked-paste").total == 1
        assert import_case(other, text) == "soupy-at-harbour"
    assert import_case(either, text) == "soupy-at-harbour"
    with pytest.raises(UnknownCase):
        export_case(either, "nobody")


def test_a_different_case_of_the_same_name_is_refused(either: Store) -> None:
    fill(either)
    text = export_case(either, "torn-at-summit").replace("not-quite", "thrown-away")
    with pytest.raises(FileRefused, match="already a case torn-at-summit here"):
        import_case(either, text)
    assert case(either, "torn-at-summit").outcome == "not-quite"


def test_a_double_of_a_case_that_is_not_there_is_refused(either: Store, tmp_path: Path) -> None:
    fill(either)
    text = export_case(either, "greasy-somewhere")
    with (
        open_store(tmp_path / "other.sqlite3") as other,
        pytest.raises(FileRefused, match="same as torn-at-summit, and there is no such case"),
    ):
        import_case(other, text)


def test_an_address_of_a_consultation_never_leaves(either: Store, tmp_path: Path) -> None:
    token = open_consultation(either, TORN.dough, "opening")
    id = keep_case(either, TORN, "form", token=token)
    export_archive(either, tmp_path / "all.zip")
    export_csv(either, tmp_path / "all.csv")
    with zipfile.ZipFile(tmp_path / "all.zip") as archive:
        held = b"".join(archive.read(name) for name in archive.namelist())
    assert id.encode() in held
    assert token.encode() not in held + (tmp_path / "all.csv").read_bytes()
    assert token not in export_case(either, id)


# The whole casebook


def test_export_wipe_import_export_gives_the_same_bytes(
    either: Store, address: str, tmp_path: Path
) -> None:
    fill(either)
    assert export_archive(either, tmp_path / "first.zip") == len(MADE_EACH)
    with open_store(tmp_path / "empty.sqlite3") as empty:
        taken = import_archive(empty, tmp_path / "first.zip")
        assert (taken.cases, taken.known) == (len(MADE_EACH), 0)
        export_archive(empty, tmp_path / "second.zip")
        assert photos(empty, "torn-at-summit") == ("Torn", "Browned")
        assert photo(empty, "torn-at-summit", 2) == photo(either, "torn-at-summit", 2)
        assert [head.id for head in queue(empty)] == [head.id for head in queue(either)]
        assert search_cases(empty, "torn").total == search_cases(either, "torn").total == 1
    assert (tmp_path / "second.zip").read_bytes() == (tmp_path / "first.zip").read_bytes()


def test_what_was_exported_elsewhere_comes_in_here_the_same(
    either: Store, store: Store, tmp_path: Path
) -> None:
    fill(store)
    export_archive(store, tmp_path / "there.zip")
    import_archive(either, tmp_path / "there.zip")
    export_archive(either, tmp_path / "here.zip")
    assert (tmp_path / "here.zip").read_bytes() == (tmp_path / "there.zip").read_bytes()


def test_importing_twice_adds_nothing(either: Store, tmp_path: Path) -> None:
    fill(either)
    export_archive(either, tmp_path / "all.zip")
    taken = import_archive(either, tmp_path / "all.zip")
    assert (taken.cases, taken.known, taken.marks) == (0, len(MADE_EACH), 0)


def test_marks_made_elsewhere_are_added(either: Store, store: Store, tmp_path: Path) -> None:
    fill(either)
    export_archive(either, tmp_path / "out.zip")
    import_archive(store, tmp_path / "out.zip")
    mark(store, "stiff-at-orchard", "m", by="A", verdict="confirmed", causes=["flour-over"])
    export_archive(store, tmp_path / "back.zip")
    taken = import_archive(either, tmp_path / "back.zip")
    assert (taken.known, taken.marks) == (len(MADE_EACH), 1)
    assert standing(either, "stiff-at-orchard") == "confirmed"
    assert search_cases(either, cause="flour-over").total == 1


def test_marks_that_disagree_are_refused_and_nothing_is_taken(
    either: Store, store: Store, tmp_path: Path
) -> None:
    fill(either)
    export_archive(either, tmp_path / "out.zip")
    import_archive(store, tmp_path / "out.zip")
    keep_case(store, replace(PLAIN, id="another-one"), "form a")
    mark(store, "stiff-at-orchard", "m", by="A", verdict="doubtful")
    mark(either, "stiff-at-orchard", "m", by="B", verdict="doubtful")
    export_archive(store, tmp_path / "back.zip")
    with pytest.raises(FileRefused, match="different people"):
        import_archive(either, tmp_path / "back.zip")
    with pytest.raises(UnknownCase):
        case(either, "another-one")


def test_one_case_travels_with_its_pictures(either: Store, store: Store, tmp_path: Path) -> None:
    fill(either)
    assert export_archive(either, tmp_path / "one.zip", ids=["torn-at-summit"]) == 1
    import_archive(store, tmp_path / "one.zip")
    assert photo(store, "torn-at-summit", 1) == photo(either, "torn-at-summit", 1)


def test_an_archive_is_never_written_over(store: Store, tmp_path: Path) -> None:
    (tmp_path / "all.zip").write_text("mine")
    with pytest.raises(FileRefused, match="already something"):
        export_archive(store, tmp_path / "all.zip")
    assert (tmp_path / "all.zip").read_text() == "mine"


def archive(path: Path, *members: tuple[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as made:
        for name, data in members:
            made.writestr(name, data)
    return path


HEADED = (HEAD, HEAD_TEXT.encode())
ONE = ("cases/torn-one.yaml", GOOD.encode())


@pytest.mark.parametrize(
    "name",
    [
        "../../etc/passwd", "/etc/passwd", "cases/../../x.yaml", "cases/..yaml", "C:\\x.yaml",
        "cases\\torn-two.yaml", "cases/sub/torn-two.yaml", "cases/", "cases/TORN.yaml",
        "cases/torn-two.yaml/", "./cases/torn-two.yaml", "cases/torn-two.yaml\n", "photos/x.php",
        "photos/torn-one-0.jpg", "photos/torn-one-10.jpg", "cases/.yaml", "cases/törn.yaml", "x",
        "cases//torn-two.yaml", "cases/torn-two.yml", "photos/torn-one-1.jpg/../x",
    ],
)  # fmt: skip
def test_a_name_that_is_a_path_or_anything_else_is_refused(
    store: Store, tmp_path: Path, name: str
) -> None:
    path = archive(tmp_path / "bad.zip", HEADED, ONE, (name, GOOD.encode()))
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(FileRefused, match="none of a casebook's"):
        import_archive(store, path)
    assert queue(store) == ()
    assert sorted(tmp_path.rglob("*")) == before


def test_a_name_cut_at_a_nul_is_refused(store: Store, tmp_path: Path) -> None:
    path = archive(tmp_path / "bad.zip", HEADED, ("cases/torn-one.yaml#hidden", GOOD.encode()))
    path.write_bytes(path.read_bytes().replace(b"yaml#hidden", b"yaml\0hidden"))
    with pytest.raises(FileRefused, match="none of a casebook's"):
        import_archive(store, path)


def test_a_name_that_is_there_twice_is_refused(store: Store, tmp_path: Path) -> None:
    path = archive(tmp_path / "bad.zip", HEADED, ONE, ("cases/torn-two.yaml", GOOD.encode()))
    path.write_bytes(path.read_bytes().replace(b"torn-two", b"torn-one"))
    with pytest.raises(FileRefused, match="twice"):
        import_archive(store, path)


@pytest.mark.parametrize(
    ("members", "sentence"),
    [
        ((ONE,), "does not begin with a casebook.yaml"),
        (((HEAD, b"format: 2\nholds: cases\n"), ONE), "newer version"),
        ((HEADED, ("cases/torn-two.yaml", GOOD.encode())), "name and case must agree"),
        ((HEADED, ONE, ("photos/torn-one-1.jpg", b"x")), "describes 0 pictures"),
        ((HEADED, ("photos/torn-one-1.jpg", b"x")), "no such case"),
        ((HEADED, ("cases/torn-one.yaml", b"\xff\xfe")), "not UTF-8"),
        ((HEADED, ("cases/torn-one.yaml", b"x" * 1_000_001)), "larger than the 1,000,000 bytes"),
        ((HEADED, ("cases/torn-one.yaml", b"format: 1\n")), "cases/torn-one.yaml, line 1"),
    ],
)
def test_an_archive_of_another_make_is_refused(
    store: Store, tmp_path: Path, members: tuple[tuple[str, bytes], ...], sentence: str
) -> None:
    with pytest.raises(FileRefused, match=sentence):
        import_archive(store, archive(tmp_path / "bad.zip", *members))
    assert queue(store) == ()


def test_a_case_that_unpacks_to_a_thousand_times_its_size_is_refused(
    store: Store, tmp_path: Path
) -> None:
    huge = ("cases/torn-one.yaml", b" " * 200_000_000)
    path = archive(tmp_path / "bomb.zip", HEADED, huge)
    assert path.stat().st_size < 250_000
    with pytest.raises(FileRefused, match="larger than"):
        import_archive(store, path)


def test_a_size_that_lies_is_found_out(store: Store, tmp_path: Path) -> None:
    path = archive(tmp_path / "lie.zip", HEADED, ("cases/torn-one.yaml", b" " * 5_000_000))
    size = (5_000_000).to_bytes(4, "little")
    path.write_bytes(path.read_bytes().replace(size, (100).to_bytes(4, "little")))
    with pytest.raises(FileRefused):
        import_archive(store, path)
    assert queue(store) == ()


@pytest.mark.parametrize("data", [b"", b"PK", b"not a zip at all", b"PK\x05\x06" + b"\xff" * 18])
def test_what_is_no_archive_is_refused(store: Store, tmp_path: Path, data: bytes) -> None:
    (tmp_path / "bad.zip").write_bytes(data)
    with pytest.raises(FileRefused):
        import_archive(store, tmp_path / "bad.zip")
    with pytest.raises(FileRefused, match="no file"):
        import_archive(store, tmp_path / "missing.zip")


def test_a_hostile_picture_in_an_archive_is_drawn_again_or_refused(
    store: Store, tmp_path: Path
) -> None:
    text = write_case(CaseFile(replace(TORN, id="torn-one"), photos=("A picture",))).encode()
    exif = Image.Exif()
    exif[0x010F] = "SECRET"
    out = io.BytesIO()
    Image.new("RGB", (9, 9)).save(out, "JPEG", exif=exif)
    name = "photos/torn-one-1.jpg"
    told = archive(tmp_path / "a.zip", HEADED, (ONE[0], text), (name, out.getvalue() + b"<script>"))
    import_archive(store, told)
    kept = photo(store, "torn-one", 1).jpeg
    assert b"SECRET" not in kept
    assert b"script" not in kept
    bad = archive(tmp_path / "b.zip", HEADED, (ONE[0], text), (name, b"<svg onload=alert(1)>"))
    with pytest.raises(FileRefused, match=r"photos/torn-one-1\.jpg: This is not a picture"):
        import_archive(store, bad)


IMPORTING = """
import sys, time
from pathlib import Path
from casebook.archive import import_archive
from casebook.store import open_store
def slowly(what, done, of):
    print(what, done, flush=True)
    if what == "cases written":
        time.sleep(0.05)
with open_store(sys.argv[1]) as store:
    import_archive(store, Path(sys.argv[2]), progress=slowly)
    print("imported", flush=True)
"""


@pytest.mark.parametrize("upto", ["cases written 0", "cases written 500", "cases written 1000"])
def test_a_killed_import_leaves_nothing_and_can_be_done_again(
    address: str, tmp_path: Path, upto: str
) -> None:
    """The process is killed outright (SIGKILL) while it writes."""
    with open_store(tmp_path / "many.sqlite3") as many:
        with many.writing() as connection:
            ready = [prepare(replace(TORN, id=f"torn-{n}"), f"form {n}") for n in range(1_200)]
            insert_prepared(many, connection, ready)
        export_archive(many, tmp_path / "many.zip")
    with open_store(address) as store:
        keep_case(store, PLAIN, "before")
    with subprocess.Popen(
        [sys.executable, "-c", IMPORTING, address, str(tmp_path / "many.zip")],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    ) as child:
        assert child.stdout is not None
        for line in child.stdout:
            if line.strip() == upto:
                child.send_signal(signal.SIGKILL)
                break
    assert child.returncode == -signal.SIGKILL
    with open_store(address) as store:
        assert len(queue(store, count=2_000)) == 1
        assert search_cases(store, "torn").total == 0
        assert import_archive(store, tmp_path / "many.zip").cases == 1_200
        assert len(queue(store, count=2_000)) == 1_201


def test_progress_is_told_from_nothing_to_all(store: Store, tmp_path: Path) -> None:
    fill(store)
    told: list[tuple[str, int, int]] = []

    def listen(what: str, done: int, of: int) -> None:
        told.append((what, done, of))

    every = len(MADE_EACH)
    export_archive(store, tmp_path / "all.zip", progress=listen)
    with open_store(tmp_path / "other.sqlite3") as other:
        import_archive(other, tmp_path / "all.zip", progress=listen)
    whats = ("cases exported", "cases read", "cases written")
    assert told == [(what, done, every) for what in whats for done in (0, every)]


# The table


@pytest.mark.parametrize("start", list("=+-@\t\r\n＝＋－＠"))
@pytest.mark.parametrize("before", ["", " ", "\u3000"])
def test_a_cell_that_could_be_a_formula_begins_with_an_apostrophe(start: str, before: str) -> None:
    assert safe(f"{before}{start}1+1") == f"'{before}{start}1+1"


@pytest.mark.parametrize("cell", ["", "soupy", "1+1", "'=1", " ", "78 °C"])
def test_other_cells_are_left_alone(cell: str) -> None:
    assert safe(cell) == cell


def test_no_cell_of_the_table_is_a_formula_and_nothing_is_lost(
    either: Store, tmp_path: Path
) -> None:
    hostile = replace(
        TORN,
        id="formula-one",
        title='=HYPERLINK("http://evil.test","click")',
        note="@SUM(1)\nsecond line",
        class_code="+1",
        said=("-2+3", 'with "quotes", and commas'),
        elevation_m=-3.0,
    )
    keep_case(either, hostile, "form")
    assert export_csv(either, tmp_path / "all.csv") == 1
    raw = (tmp_path / "all.csv").read_bytes()
    assert raw.startswith(b"\xef\xbb\xbf")
    head, row = csv.reader(io.StringIO(raw.decode("utf-8-sig"), newline=""))
    assert tuple(head) == COLUMNS
    cells = dict(zip(head, row, strict=True))
    assert cells["title"] == "'" + hostile.title
    assert cells["note"] == "'@SUM(1)\nsecond line"
    assert cells["class"] == "'+1"
    assert cells["elevation m"] == "'-3"
    assert cells["said"] == "'-2+3; " + hostile.said[1]
    assert not any(cell.startswith(("=", "+", "-", "@")) for cell in row)
    assert all(field.startswith(b'"') for field in raw[3:].split(b"\r\n")[0].split(b","))


def test_writers_of_files_agree_on_refusing(store: Store, tmp_path: Path) -> None:
    writers: list[Callable[[Store, Path], int]] = [export_archive, export_csv]
    for write in writers:
        with pytest.raises(FileRefused, match="no folder"):
            write(store, tmp_path / "missing" / "file")
    assert list(tmp_path.glob("*.unfinished")) == []
