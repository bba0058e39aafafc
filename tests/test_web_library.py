"""The library and the exercises: found, read, practised; whole, small, and giving nothing away."""

from __future__ import annotations

import gzip
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from casebook.cases import keep_case, mark
from casebook.exercising import exercise, exercise_names
from casebook.likeness import MOST_ALIKE, alike
from casebook.problems import UnknownCase
from casebook.searching import PAGE
from casebook.shipping import exercise_name, ship
from casebook.store import Store, open_store
from casemaking import MADE_EACH, NOON, PLAIN, TORN
from diagnose.consulting import OpenBook
from diagnose.knowledge.case import Photo, Told
from diagnose.knowledge.teaching import CASES, TeachingCase, read_teaching_cases
from phone import Phone
from web.app import create_app
from web.practised import COOKIE, from_cookie

PLAIN_PAGE = (12_000, 5_000)
PICTURED = (28_000, 9_000)
SUMMIT = exercise_name("first-time-at-summit")
JPEG = b"\xff\xd8\xff\xe0 a drawing of a crust"


@pytest.fixture(scope="module")
def teaching(book: OpenBook) -> tuple[TeachingCase, ...]:
    return read_teaching_cases(book.book)[0]


@pytest.fixture(scope="module")
def shipped_file(book: OpenBook, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A casebook that holds the teaching cases and nothing else."""
    file = tmp_path_factory.mktemp("shipped") / "casebook.sqlite3"
    with open_store(file) as store:
        ship(store, book.book)
    return file


@pytest.fixture
def store(shipped_file: Path, tmp_path: Path) -> Iterator[Store]:
    file = tmp_path / "casebook.sqlite3"
    shutil.copy(shipped_file, file)
    with open_store(file) as opened:
        yield opened


@pytest.fixture
def phone(client: TestClient) -> Phone:
    return Phone(client)


def fits(phone: Phone, path: str) -> None:
    text = phone.go(path).text
    assert phone.page.status_code == 200, path
    raw, packed = PICTURED if "<svg" in text else PLAIN_PAGE
    assert len(text.encode()) <= raw, (path, len(text.encode()))
    assert len(gzip.compress(text.encode(), 6)) <= packed, path
    assert text.count("<h1") == 1
    assert "style=" not in text


def links(phone: Phone, start: str = "/cases/") -> list[str]:
    return re.findall(rf'href="({start}[a-z0-9-]+)"', phone.page.text)


def found(phone: Phone) -> list[str]:
    return [link for link in links(phone) if not link.endswith(("/of-the-book", "/choose"))]


# --- search ---


def test_torn_crust_at_altitude_is_found_and_each_result_says_what_it_is(phone: Phone) -> None:
    phone.go("/cases?q=torn+crust+at+altitude")
    assert found(phone)
    assert "Invented teaching case" in phone.words
    phone.go(found(phone)[0])
    assert re.search(r"t(orn|ear|ore)", phone.words)
    assert "Summit" in phone.words


def test_every_filter_narrows_and_its_address_can_be_shared(phone: Phone) -> None:
    every = "stage=cook-paste&sign=paste-body.slumps&cause=little-driven-off&band=high"
    phone.go(f"/cases?{every}&outcome=as-it-should")
    assert "/cases/first-time-at-summit" in found(phone)
    assert Phone(phone.client).go(f"/cases?{every}&outcome=not-served").status_code == 200
    for other in ("stage=brown", "band=low", "outcome=not-served", "confirmed=1",
                  "cause=milk-turned", "remedy=cook-on-hotter", "sign=pulls-away.no"):  # fmt: skip
        phone.go(f"/cases?q=will+not+pull+away+up+here&{other}")
        shown = "/cases/first-time-at-summit" in found(phone)
        assert shown is (other == "sign=pulls-away.no"), other


def test_what_was_seen_is_chosen_a_look_and_then_an_answer(phone: Phone) -> None:
    phone.go("/cases/choose?stage=cook-paste&band=high")
    look = next(x for x in re.findall(r'href="([^"]+)"', phone.page.text) if "paste-body" in x)
    phone.go(look.replace("&amp;", "&"))
    answer = next(x for x in re.findall(r'href="([^"]+)"', phone.page.text) if "slumps" in x)
    phone.go(answer.replace("&amp;", "&"))
    assert str(phone.page.url.query, "ascii") == (
        "stage=cook-paste&sign=paste-body.slumps&band=high"
    )
    assert "/cases/first-time-at-summit" in found(phone)


def test_what_was_tried_is_chosen_from_a_list_of_the_step(phone: Phone) -> None:
    phone.go("/cases/choose?stage=cook-paste&what=remedy")
    link = next(x for x in re.findall(r'href="([^"]+)"', phone.page.text) if "cook-on-hotter" in x)
    phone.go(link.replace("&amp;", "&"))
    assert found(phone)


def test_nothing_found_says_what_to_loosen_and_how_many_that_would_give(phone: Phone) -> None:
    phone.go("/cases?q=curds&stage=brown&band=high")
    assert "Nothing found" in phone.words
    loosen = re.findall(r'<a href="([^"]+)">Without [^:]+: (\d+)</a>', phone.page.text)
    assert loosen
    for address, total in loosen:
        phone.go(address.replace("&amp;", "&"))
        assert re.search(rf"\b{total} cases?\b", phone.words), address


def test_words_that_no_case_has_together_are_found_loosely_and_that_is_said(phone: Phone) -> None:
    phone.go("/cases?q=curds+skateboard")
    assert "No case holds all these words" in phone.words
    assert found(phone)
    phone.go("/cases?q=skateboard")
    assert "Nothing found" in phone.words
    assert "other words" in phone.words


def test_pages_turn_and_end(phone: Phone) -> None:
    seen: list[str] = []
    phone.go("/cases?stage=cook-paste")
    while True:
        seen += found(phone)
        later = re.search(r'href="([^"]+)">Next page', phone.page.text)
        if not later:
            break
        assert len(found(phone)) == PAGE
        phone.go(later[1].replace("&amp;", "&"))
    cases = [f for f in CASES.glob("*.yaml") if "stage: cook-paste\n" in f.read_text("utf-8")]
    assert sorted(seen) == sorted(f"/cases/{f.stem}" for f in cases)


@pytest.mark.parametrize(
    "query",
    ["stage=mars", "sign=mars", "sign=paste-body.mars", "cause=mars", "band=up", "remedy=mars",
     "outcome=eaten", "page=0", "page=99", "page=1000", "page=x"],
)  # fmt: skip
def test_what_the_library_does_not_know_is_said_in_a_sentence(phone: Phone, query: str) -> None:
    phone.go(f"/cases?{query}")
    assert phone.page.status_code == 404
    assert phone.words


def test_a_search_is_shown_back_as_text_and_never_as_a_page(phone: Phone) -> None:
    phone.go('/cases?q="><script>alert(1)</script>')
    assert "<script>alert" not in phone.page.text
    assert phone.page.status_code == 200


# --- a case ---


def test_every_teaching_case_is_a_whole_page_with_its_truth_and_lesson(
    phone: Phone, teaching: tuple[TeachingCase, ...], book: OpenBook
) -> None:
    says = {cause.id: cause.say for cause in book.book.doughs[0].causes}
    for one in teaching:
        fits(phone, f"/cases/{one.id}")
        for sentence in (*one.story, one.lesson, *(says[c] for c in one.causes)):
            assert " ".join(sentence.split()) in phone.words, one.id
        assert "Invented teaching case" in phone.words
        assert "12:00" not in phone.words, "nothing in it happened at any time"


def test_a_kept_case_tells_its_story_by_the_clock_with_pictures_and_rules(
    phone: Phone, store: Store
) -> None:
    keep_case(store, replace(TORN, id="kept-one"), "form 1", photos=[Photo(JPEG, "A torn crust")])
    fits(phone, "/cases/kept-one")
    assert "Kept" in phone.words
    assert "Nobody has confirmed that yet" in phone.words
    clock = f"{(NOON + timedelta(minutes=1)).astimezone():%H:%M}"
    assert clock in phone.words
    assert "<svg" in phone.page.text
    assert "Kneading it again did not help." in phone.words
    assert "What the book thought then" in phone.words
    assert phone.client.get("/cases/kept-one/photos/1.jpg").content == JPEG
    assert phone.client.get("/cases/kept-one/photos/2.jpg").status_code == 404
    mark(store, "kept-one", "m1", by="A teacher", verdict="confirmed", causes=["turned-too-soon"])
    phone.go("/cases/kept-one")
    assert "Confirmed" in phone.words
    assert "Nobody has confirmed" not in phone.words
    assert f"/practise/{'kept-one'}" in phone.page.text


def test_the_rules_that_spoke_are_linked_and_their_pages_are_there(phone: Phone) -> None:
    phone.go("/cases/first-time-at-summit")
    rules = links(phone, "/rules/")
    assert rules
    for rule in rules:
        assert phone.go(rule).status_code == 200


def test_a_case_of_a_changed_book_is_still_read(phone: Phone, store: Store) -> None:
    old = replace(
        TORN, id="of-old", stage="gone-stage", situation={"stage": "gone-stage"},
        told=(Told(NOON, "tried", "x#1", {"odd": 1}), Told(NOON, "reading", "x", {"value": "y"}),
              Told(NOON, "complaint", "brown", {"id": 3}), Told(NOON, "sign", "gone", "gone")),
    )  # fmt: skip
    keep_case(store, old, "form 1")
    fits(phone, "/cases/of-old")
    assert "The book has changed since" in phone.words


def test_a_case_with_a_very_long_story_stays_one_small_page(phone: Phone, store: Store) -> None:
    answers = ("pours", "slumps", "holds")
    told = tuple(
        Told(NOON + timedelta(seconds=n), "sign", ("paste-body", "pulls-away")[n % 2],
             (answers[n % 3], ("yes", "no")[n % 4 // 2])[n % 2])
        for n in range(900)
    )  # fmt: skip
    keep_case(store, replace(PLAIN, id="very-long", told=told), "form 1")
    fits(phone, "/cases/very-long")
    assert "more, which are in the file" in phone.words


def test_the_file_of_a_case_is_given_whole(phone: Phone, store: Store) -> None:
    keep_case(store, replace(TORN, id="kept-one"), "form 1")
    kept = phone.go("/cases/kept-one.yaml")
    assert kept.headers["content-type"].startswith("application/yaml")
    assert "attachment" in kept.headers["content-disposition"]
    assert "The crust is torn" in kept.text
    written = (CASES / "first-time-at-summit.yaml").read_text("utf-8")
    assert phone.go("/cases/first-time-at-summit.yaml").text == written
    for wrong in ("none.yaml", "..%2f..%2fREADME.yaml", "README.yaml"):
        assert phone.go(f"/cases/{wrong}").status_code == 404


def test_a_script_in_a_note_or_title_stays_words(phone: Phone, store: Store) -> None:
    evil = replace(PLAIN, id="evil", title="<script>x</script>", note="<img src=x onerror=y>")
    keep_case(store, evil, "form 1")
    assert "<script>x" not in phone.go("/cases/evil").text
    assert "<img" not in phone.page.text
    assert "<script>x" not in phone.go("/cases").text


def test_cases_of_the_book_are_still_listed_and_read(phone: Phone, book: OpenBook) -> None:
    phone.go("/cases/of-the-book")
    whole = [one.id for one in book.book.doughs[0].whole_cases]
    shown = links(phone, "/cases/of-the-book/")
    assert shown == [f"/cases/of-the-book/{name}" for name in whole[: len(shown)]]
    for name in whole:
        assert phone.go(f"/cases/of-the-book/{name}").status_code == 200
        assert "What was told" in phone.words
    assert phone.go("/cases/of-the-book/none").status_code == 404


# --- cases like one ---


@pytest.fixture
def filled(either: Store) -> Store:
    for n, (name, made) in enumerate(MADE_EACH.items()):
        keep_case(either, replace(made, id=name, kept=NOON + timedelta(minutes=n)), f"form {n}")
    return either


def test_the_likest_share_causes_and_answers_and_the_case_itself_is_not_among_them(
    filled: Store,
) -> None:
    assert alike(filled, "torn-at-summit") == ()
    for n in range(9):
        keep_case(filled, replace(TORN, id=f"torn-too-{n}"), f"too {n}")
    answers = {"signs": {"when-turned": "sticks-tears"}}
    keep_case(filled, replace(PLAIN, id="an-answer", stage="brown", situation=answers), "a")
    keep_case(filled, replace(PLAIN, id="a-stage-only", stage="brown"), "s")
    like = alike(filled, "torn-at-summit")
    assert [one.head.id for one in like] == [f"torn-too-{n}" for n in (8, 7, 6, 5, 4)]
    assert len(like) == MOST_ALIKE
    assert (like[0].causes, like[0].looks) == (1, 2)
    every = [one.head.id for one in alike(filled, "torn-at-summit", 50)]
    assert every[-1] == "an-answer"
    assert "a-stage-only" not in every
    mark(filled, "torn-too-8", "m", by="A", verdict="same-as", other="torn-at-summit")
    assert "torn-too-8" not in [one.head.id for one in alike(filled, "torn-at-summit", 50)]


def test_a_case_that_is_not_there_is_like_none(either: Store) -> None:
    with pytest.raises(UnknownCase):
        alike(either, "nowhere")


# --- exercises ---


def test_an_exercise_has_a_known_cause_and_a_name_that_does_not_tell(
    either: Store, book: OpenBook
) -> None:
    ship(either, book.book)
    keep_case(either, replace(TORN, id="kept-one"), "form 1")
    keep_case(either, replace(PLAIN, id="kept-two"), "form 2")
    mark(either, "kept-two", "m1", by="A", verdict="confirmed", causes=["little-driven-off"],
         first_remedy="cook-off-water")  # fmt: skip
    teaching, confirmed = exercise_names(either, TORN.dough)
    assert len(teaching) == len(list(CASES.glob("*.yaml")))
    assert confirmed == ("kept-two",)
    assert exercise(either, SUMMIT).truth.causes == ("little-driven-off",)
    assert exercise(either, SUMMIT).truth.first_remedy == "cook-off-water"
    assert exercise(either, "kept-two").truth.by == "A"
    for hidden in ("kept-one", "first-time-at-summit", "nowhere"):
        with pytest.raises(UnknownCase):
            exercise(either, hidden)


def test_the_answer_is_in_no_page_before_it_is_given(
    phone: Phone, teaching: tuple[TeachingCase, ...]
) -> None:
    for one in teaching[::6]:
        name = exercise_name(one.id)
        fits(phone, f"/practise/{name}")
        before = phone.page.text
        for pages in (f"/practise/{name}/cause", f"/practise/{name}/remedy?cause={one.causes[0]}"):
            fits(phone, pages)
            before += phone.page.text.replace(f'value="{one.causes[0]}"', "")
        words = " ".join(re.sub("<[^>]+>", " ", before).split())
        for secret in (one.id, one.lesson, *one.story):
            assert secret not in words, one.id
        assert one.id not in before
        assert "checked" not in before


def test_a_look_shows_its_answer_costs_time_and_stands_in_the_address(phone: Phone) -> None:
    fits(phone, f"/practise/{SUMMIT}")
    assert "Time spent: 0 s" in phone.words
    assert "It drops off and slumps flat" not in phone.words
    phone.go(f"/practise/{SUMMIT}?looked=paste-body&looked=pulls-away")
    assert "It drops off and slumps flat" in phone.words
    assert "Time spent: 24 s" in phone.words
    again = phone.go(f"/practise/{SUMMIT}?looked=paste-body.pulls-away").text
    assert "Time spent: 24 s" in again
    phone.go(f"/practise/{SUMMIT}?looked=paste-temperature")
    assert "Nobody looked" in phone.words
    assert "Time spent: 0 s" in phone.words


def test_everything_looked_at_is_still_a_small_page(
    phone: Phone, teaching: tuple[TeachingCase, ...]
) -> None:
    for one in teaching[::10]:
        looks = ".".join([*one.situation.signs, *one.situation.readings])
        fits(phone, f"/practise/{exercise_name(one.id)}?looked={looks}")


def answer(phone: Phone, name: str, cause: str, remedy: str, looked: str = "") -> None:
    phone.post(f"/practise/{name}/answer", cause=cause, remedy=remedy, looked=looked)


def test_then_the_truth_is_shown_and_how_the_book_reasons_with_the_same_looks(
    phone: Phone,
) -> None:
    answer(phone, SUMMIT, "little-driven-off", "cook-off-water", "paste-body.pulls-away")
    assert phone.path == f"/practise/{SUMMIT}/answer"
    assert phone.words.count("Right") == 1
    for part in ("Too little water has been driven off", "What the book makes of your looks",
                 "Its first question would have been", "Where you differ", "This case is hard",
                 "You looked 2 times, in 24 s"):  # fmt: skip
        assert part in phone.words
    fits(phone, str(phone.page.url))
    answer(phone, SUMMIT, "flour-over", "cook-off-water")
    assert "The remedy is right, the cause is not" in phone.words


def test_progress_is_on_the_device_alone_and_a_reload_does_not_count(phone: Phone) -> None:
    answer(phone, SUMMIT, "flour-over", "cook-on-hotter")
    phone.go(str(phone.page.url))
    answer(phone, SUMMIT, "little-driven-off", "cook-off-water")
    progress = from_cookie(phone.client.cookies[COOKIE]).progress
    assert (progress.done, progress.right) == (1, 0)
    assert [one.name for one in progress.missed] == [SUMMIT]
    phone.go("/practise")
    assert "answered 1 case, 0 right" in phone.words
    assert "httponly" in phone.post(
        f"/practise/{exercise_name('curds-in-the-pan')}/answer",
        cause="milk-turned", remedy="throw-away",
    ).history[0].headers["set-cookie"].lower()  # fmt: skip
    phone.go("/practise")
    assert "answered 2 cases, 1 right" in phone.words
    phone.post("/practise/forget")
    assert COOKIE not in phone.client.cookies
    assert "answered" not in phone.words


def test_what_was_missed_comes_back_after_two_others(phone: Phone) -> None:
    answer(phone, SUMMIT, "flour-over", "cook-on-hotter")
    for _ in range(2):
        phone.go("/practise/next")
        assert phone.path != f"/practise/{SUMMIT}"
        other = phone.path.rsplit("/", 1)[1]
        cause = re.search(r'name="cause" value="([^"]+)"',
                          phone.go(f"/practise/{other}/cause").text)  # fmt: skip
        assert cause
        remedy = re.search(r'name="remedy" value="([^"]+)"',
                           phone.go(f"/practise/{other}/remedy?cause={cause[1]}").text)  # fmt: skip
        assert remedy
        answer(phone, other, cause[1], remedy[1])
    phone.go("/practise/next")
    assert phone.path == f"/practise/{SUMMIT}"


@pytest.mark.parametrize("level", ["easy", "middling", "hard"])
def test_a_case_of_the_wanted_difficulty_is_chosen(phone: Phone, level: str) -> None:
    phone.go(f"/practise/next?level={level}")
    assert phone.path.startswith("/practise/t-")
    assert phone.go("/practise/next?level=cruel").status_code == 404


def test_a_confirmed_case_is_practised_without_what_was_tried_in_it(
    phone: Phone, store: Store
) -> None:
    keep_case(store, replace(TORN, id="kept-one"), "form 1")
    mark(store, "kept-one", "m1", by="A teacher", verdict="confirmed", causes=["turned-too-soon"])
    fits(phone, "/practise/kept-one")
    assert "No change" not in phone.words
    cause = re.search(r'value="(turned-too-soon)"', phone.go("/practise/kept-one/cause").text)
    assert cause
    answer(phone, "kept-one", "turned-too-soon", "start-over")
    assert "Confirmed by A teacher" in phone.words


def test_without_any_case_there_is_nothing_to_practise_and_that_is_said(
    book: OpenBook, tmp_path: Path
) -> None:
    with open_store(tmp_path / "empty.sqlite3") as empty:
        bare = Phone(TestClient(create_app(book, empty, hosts=["testserver"])))
        nothing_to_practise(bare)


def nothing_to_practise(bare: Phone) -> None:
    assert bare.go("/practise").status_code == 200
    assert bare.go("/practise/next").status_code == 404
    assert "none has a cause that is known" in bare.words


@pytest.mark.parametrize(
    "path",
    ["first-time-at-summit", "mars", f"{SUMMIT}?looked=mars", f"{SUMMIT}/remedy?cause=mars",
     f"{SUMMIT}/answer", f"{SUMMIT}/answer?cause=little-driven-off&remedy=mars"],
)  # fmt: skip
def test_an_exercise_that_cannot_be_is_refused_in_a_sentence(phone: Phone, path: str) -> None:
    assert phone.go(f"/practise/{path}").status_code == 404
    assert phone.words
