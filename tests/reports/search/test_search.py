"""Finding lots, floats and columns, on the page and through the API."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from labsite.accounts.models import User
from reports.search.selectors import SHOWN, search
from samples.models import Lot
from tests import factories

pytestmark = pytest.mark.django_db

URL, API = "/search/", "/api/v1/search/"


@pytest.fixture
def lab(shift_lead: User, manager: User) -> None:
    """Lots WR-2211, WR-2212 and F-10; floats F-101 to F-109 in column Ash, F-110 in none."""
    grade = factories.make_grade(actor=manager)
    for code in ("WR-2211", "WR-2212", "F-10"):
        factories.make_lot(actor=shift_lead, grade=grade, code=code)
    factories.make_settling_fill(actor=manager, at=timezone.now())
    factories.make_float(actor=manager, label="F-110")


@pytest.fixture
def page(technician: User) -> Any:
    client = Client()
    client.force_login(technician, backend="labsite.accounts.backends.LabBackend")
    return lambda **query: client.get(URL, query)


def names(text: str) -> list[tuple[str, str]]:
    return [(hit.kind, hit.name) for hit in search(text).hits]


def test_a_lot_is_found_by_its_code_its_beginning_and_its_tail(lab: Any) -> None:
    assert names("WR-2211") == [("lot", "WR-2211")]
    assert names("wr-22") == [("lot", "WR-2211"), ("lot", "WR-2212")]
    assert names("2212") == [("lot", "WR-2212")]
    assert names("  wr-2211 ") == [("lot", "WR-2211")]


def test_a_float_is_found_by_its_label_with_where_it_is(lab: Any) -> None:
    assert [(hit.name, hit.note) for hit in search("f-102").hits] == [("F-102", "in Ash")]
    assert [(hit.name, hit.note) for hit in search("F-110").hits] == [("F-110", "in no column")]


def test_a_column_is_found_by_its_name_with_its_bath(lab: Any) -> None:
    (hit,) = search("ash").hits
    assert (hit.kind, hit.name, hit.note, hit.is_exact) == ("column", "Ash", "Bath 1", True)


def test_the_exact_name_comes_first(lab: Any) -> None:
    hits = search("f-10").hits
    assert [(hit.name, hit.is_exact) for hit in hits[:2]] == [("F-10", True), ("F-101", False)]
    assert [hit.name for hit in hits[1:]] == [f"F-10{number}" for number in range(1, 10)]


def test_it_takes_three_queries(lab: Any, django_assert_num_queries: Any) -> None:
    with django_assert_num_queries(3):
        search("F-1")


def test_people_are_not_found(lab: Any, technician: User) -> None:
    assert names("Imre") == []


@pytest.mark.parametrize(
    "text",
    [
        "' OR 1=1 --",
        "'; DROP TABLE samples_lot; --",
        "%",
        "_",
        "\\",
        "WR-____",
        "*",
        "../",
        "\u202e",
    ],
)
def test_signs_of_other_languages_mean_nothing(lab: Any, text: str) -> None:
    assert names(text) == []
    assert Lot.objects.count() == 3


def test_more_than_is_listed_is_told(lab: Any, manager: User) -> None:
    grade = factories.make_grade(actor=manager, name="Teal coating")
    for number in range(SHOWN + 1):
        factories.make_lot(actor=manager, grade=grade, code=f"TC-{number:04}")
    found = search("TC-")
    assert (len(found.hits), found.more) == (SHOWN, ["lot"])


def test_the_page_lists_what_was_found(lab: Any, page: Any) -> None:
    answer = page(q="F-10")
    assert answer.status_code == 200
    assert "exactly this" in answer.text
    assert [group["title"] for group in answer.context["groups"]] == ["Lots", "Floats"]


def test_the_page_says_when_it_is_another_kind_of_thing(lab: Any, page: Any) -> None:
    assert "F-101 is a float." in page(q="F-101", kind="lot").text
    assert "is a float" not in page(q="F-101", kind="float").text
    assert "WR-2211 is a lot." in page(q="wr-2211", kind="column").text


def test_the_page_says_when_nothing_is_found(lab: Any, page: Any) -> None:
    text = page(q="<script>alert(1)</script>").text
    assert "Nothing is called" in text
    assert "<script>alert" not in text
    assert "&lt;script&gt;alert" in text


def test_an_empty_box_lists_nothing(lab: Any, page: Any) -> None:
    for query in ({}, {"q": ""}, {"q": "   "}):
        answer = page(**query)
        assert (answer.status_code, answer.context["groups"]) == (200, [])


@pytest.mark.parametrize(
    "query",
    [{"q": "a\x00b"}, {"q": "a\x07"}, {"q": "x" * 10_000}, {"q": "x", "kind": "person"}],
)
def test_bad_input_is_refused(lab: Any, page: Any, as_person: Any, technician: User, query: Any):
    assert page(**query).status_code == 422
    answer = as_person(technician).get(API, query)
    assert answer.status_code == 422
    assert answer.json()["code"] == "invalid"


def test_the_page_costs_few_queries(lab: Any, page: Any, django_assert_max_num_queries: Any):
    with django_assert_max_num_queries(5):  # two of them are the session and the person
        page(q="F-10")


def test_the_api_answers_the_same(lab: Any, as_person: Any, auditor: User) -> None:
    body = as_person(auditor).get(API, {"q": "f-101", "kind": "lot"}).json()
    assert body["query"] == "f-101"
    assert body["hint"] == "F-101 is a float."
    assert body["more"] == []
    (hit,) = body["results"]
    assert (hit["kind"], hit["name"], hit["is_exact"]) == ("float", "F-101", True)
    assert hit["page"].endswith(f"{hit['id']}/")


def test_the_api_refuses_what_it_does_not_know(as_person: Any, auditor: User) -> None:
    client = as_person(auditor)
    assert client.get(API).json()["fields"]["q"]
    assert client.get(API, {"q": "x", "page": 2}).json()["code"] == "unknown_field"
    assert client.post(API, {"q": "x"}).status_code == 405


def test_everybody_may_search_and_strangers_may_not(
    as_person: Any, technician: User, administrator: User
) -> None:
    for person in (technician, administrator):
        assert as_person(person).get(API, {"q": "x"}).status_code == 200
    assert as_person(None).get(API, {"q": "x"}).status_code == 401
    assert Client().get(URL).status_code == 302
