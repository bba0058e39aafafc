"""Anything at all sent to the machine face and to every page: answered, and never with an error.

What is sent is drawn from the site's own OpenAPI document by a general library, from the example
with parts of it changed, and from the routes of the pages. The meaning of the status codes is
RFC 9110's: 5xx is the fault of the server, 4xx that of what was sent.
"""

from __future__ import annotations

import copy
import string
from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from fastapi import FastAPI
from fastapi.routing import APIRoute
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis.checks import not_a_server_error
from schemathesis.config import SchemathesisConfig
from starlette.testclient import TestClient
from test_web_api import EXAMPLE as DOCUMENTED

from casebook.store import Store, open_store
from diagnose.consulting import OpenBook
from phone import Phone
from web.app import create_app

EXAMPLE: dict[str, Any] = {**DOCUMENTED, "not_looked": ["lumps"]}
QUICK = settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
SCALARS = (
    st.none()
    | st.booleans()
    | st.integers(-(10**12), 10**12)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=20)
)
JSON = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4)
    ),
    max_leaves=12,
)


@pytest.fixture(scope="module")
def app(book: OpenBook, tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    store: Store
    with open_store(tmp_path_factory.mktemp("fuzz") / "casebook.sqlite3") as store:
        yield create_app(book, store, hosts=["testserver"])


@pytest.fixture(scope="module")
def phone(app: FastAPI) -> Iterator[TestClient]:
    headers = {"Origin": "http://testserver"}
    with TestClient(app, headers=headers, raise_server_exceptions=False) as client:
        yield client


@pytest.fixture(scope="module")
def real_names(phone: TestClient, book: OpenBook) -> tuple[str, ...]:
    """Names that lead to pages: a consultation, a stage, a sign, a remedy, a rule, a case."""
    token = Phone(phone).at_stage("cook-paste")
    phone.cookies.clear()
    dough = book.book.doughs[0]
    parts = (
        dough.stages,
        dough.signs,
        dough.remedies,
        dough.rules,
        dough.whole_cases,
        dough.causes,
    )
    return (token, dough.id, "signs", *(part[0].id for part in parts))


@pytest.fixture(scope="module")
def operations(app: FastAPI) -> list[Any]:
    schema = schemathesis.openapi.from_dict(app.openapi(), config=SchemathesisConfig())
    schema.app = app
    results: list[Any] = list(schema.get_all_operations())
    return [found.ok() for found in results]


def test_every_operation_of_the_openapi_document_takes_anything_without_a_server_error(
    operations: list[Any], phone: TestClient
) -> None:
    tried = 0
    for operation in operations:

        @settings(QUICK, max_examples=30)
        @given(case=operation.as_strategy())
        def send(case: Any) -> None:
            nonlocal tried
            tried += 1
            answer = case.call(session=phone, base_url="http://testserver")
            case.validate_response(answer, checks=[not_a_server_error])

        send()
    assert len(operations) >= 4
    assert tried >= 30


def changed(draw: Any) -> Any:
    """The example with one to three of its parts replaced, taken out, or put in a second time."""
    whole = copy.deepcopy(EXAMPLE)
    for _ in range(draw(st.integers(1, 3))):
        place: Any = whole
        while True:
            keys = list(place) if isinstance(place, dict) else list(range(len(place)))
            if not keys:
                break
            key = draw(st.sampled_from(keys))
            inner = place[key]
            if isinstance(inner, dict | list) and inner and draw(st.booleans()):
                place = inner
                continue
            kind = draw(st.sampled_from(("value", "value", "gone", "name")))
            if kind == "gone":
                del place[key]
            elif kind == "name" and isinstance(place, dict):
                place[draw(st.text(string.ascii_lowercase + "-_", max_size=20))] = inner
            else:
                place[key] = draw(JSON)
            break
    return whole


@given(data=st.data())
@settings(QUICK, max_examples=250)
def test_an_example_changed_anyhow_is_diagnosed_or_refused_in_sentences(
    data: st.DataObject, phone: TestClient
) -> None:
    answer = phone.post("/api/v1/diagnose", json=changed(data.draw))
    assert answer.status_code in (200, 422)
    told = answer.json()
    if answer.status_code == 422:
        assert told["problems"]
        assert all(isinstance(line, str) and line.endswith((".", "?")) for line in told["problems"])
    else:
        assert told["plan"] or told["question"]


@given(body=st.binary(max_size=200))
@settings(QUICK)
def test_bytes_that_are_no_json_are_refused(body: bytes, phone: TestClient) -> None:
    for address in ("/api/v1/diagnose", "/api/v1/plan"):
        answer = phone.post(address, content=body, headers={"Content-Type": "application/json"})
        assert answer.status_code in (200, 422)


def pages(app: FastAPI) -> list[tuple[str, str]]:
    """(method, path) of every page and form of the site."""
    inner = [getattr(route, "original_router", None) for route in app.routes]
    routes = [*app.routes, *(route for router in inner if router for route in router.routes)]
    return sorted(
        (method, route.path)
        for route in routes
        if isinstance(route, APIRoute)
        for method in route.methods or ()
        if method in ("GET", "POST")
    )


NAMES = st.text(string.printable + "éß\u2028\u0000", min_size=1, max_size=24)


@given(data=st.data())
@settings(QUICK, max_examples=300)
def test_no_page_or_form_answers_odd_names_and_fields_with_a_server_error(
    data: st.DataObject, app: FastAPI, phone: TestClient, real_names: tuple[str, ...]
) -> None:
    every = pages(app)
    assert len(every) > 40
    method, path = data.draw(st.sampled_from(every))
    for part in [p for p in path.split("/") if p.startswith("{")]:
        known = real_names[:1] if part == "{token}" else real_names
        odd = data.draw(
            st.sampled_from(known) | st.sampled_from(("1", "-1", "..", "%2e%2e", "new")) | NAMES
        )
        path = path.replace(part, "".join(f"%{byte:02x}" for byte in odd.encode()))
    fields = data.draw(
        st.dictionaries(
            st.sampled_from(("page", "why", "say", "key", "case", "c", "copy", "stage", "standing",
                             "suggestion", "words", "value", "answer", "back", "title", "name")),
            NAMES | st.sampled_from((*real_names, "1", "2", "0", "-3", "1e400", "nan")),
            max_size=5,
        )
    )  # fmt: skip
    if method == "GET":
        answer = phone.get(path, params=fields, follow_redirects=False)
    else:
        answer = phone.post(path, data=fields, follow_redirects=False)
    assert answer.status_code < 500, (method, path, fields)
