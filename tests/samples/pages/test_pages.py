"""Pages of the bench, one column, Read and Drop: who gets in, what is offered, what is not told."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from labsite.accounts.models import User
from labsite.accounts.roles import Role
from tests import factories

pytestmark = pytest.mark.django_db

READERS = ("technician", "shift_lead", "manager")
LOOKERS = ("auditor", "administrator")


def address(name: str, fill: Any, pieces: list[Any]) -> str:
    ids = {"samples:column": fill.column_id, "columns:float-set": fill.column_id}
    if name == "samples:read":
        return reverse(name, args=[pieces[0].pk])
    return reverse(name, args=[ids[name]] if name in ids else [])


def person(request: Any, role: str) -> User:
    return request.getfixturevalue(role)


def facts_in(html: str) -> dict[str, Any]:
    found = re.search(r'<script id="facts" type="application/json">(.*?)</script>', html, re.DOTALL)
    assert found
    return json.loads(found[1])


@pytest.mark.parametrize("role", [*READERS, *LOOKERS])
@pytest.mark.parametrize("name", ["samples:bench", "samples:wall", "samples:column"])
def test_everybody_signed_in_sees_the_bench_and_its_columns(
    request: Any, as_person: Any, fill: Any, pieces: list[Any], role: str, name: str
) -> None:
    answer = as_person(person(request, role)).get(address(name, fill, pieces))
    assert answer.status_code == 200
    assert answer.content.count(b"<h1") == 1


@pytest.mark.parametrize("name", ["samples:read", "samples:drop", "columns:float-set"])
@pytest.mark.parametrize("role", [*READERS, *LOOKERS])
def test_pages_of_the_work_are_for_people_who_measure(
    request: Any, as_person: Any, fill: Any, pieces: list[Any], role: str, name: str
) -> None:
    answer = as_person(person(request, role)).get(address(name, fill, pieces))
    assert answer.status_code == (200 if role in READERS else 403)


@pytest.mark.parametrize(
    "name",
    ["samples:bench", "samples:wall", "samples:column", "samples:read", "samples:drop"],
)
def test_a_stranger_is_sent_to_the_sign_in_page(
    as_person: Any, fill: Any, pieces: list[Any], name: str
) -> None:
    answer = as_person(None).get(address(name, fill, pieces))
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith(reverse("accounts:sign-in"))


@pytest.mark.parametrize("role", LOOKERS)
def test_people_who_only_look_are_offered_no_act(
    request: Any, as_person: Any, fill: Any, pieces: list[Any], role: str
) -> None:
    client = as_person(person(request, role))
    bench = client.get(reverse("samples:bench")).content.decode()
    column = client.get(address("samples:column", fill, pieces)).content.decode()
    for html in (bench, column):
        content = html.split("<main", 1)[1]
        assert reverse("samples:drop") not in content
        assert reverse("columns:float-set") not in content
        assert "data-next" not in content
    assert facts_in(bench)["read_url"] is None


def test_technicians_are_offered_what_they_do_at_the_bench(
    as_person: Any, technician: User, fill: Any
) -> None:
    content = as_person(technician).get(reverse("samples:bench")).content.decode()
    assert "data-next" in content
    assert reverse("samples:drop") in content
    assert reverse("columns:float-set") in content


def test_the_wall_has_nothing_to_press(as_person: Any, auditor: User, fill: Any) -> None:
    html = as_person(auditor).get(reverse("samples:wall")).content.decode()
    assert 'data-view="wall"' in html
    assert "<button" not in html
    assert "topbar" not in html


def test_the_read_page_tells_nothing_of_the_piece_but_its_id(
    as_person: Any, technician: User, other_technician: User, fill: Any, lot: Any, pieces: list[Any]
) -> None:
    """Not the lot, the limits, the target, what others read, nor any certified density."""
    factories.make_reading(actor=other_technician, specimen=pieces[1], height_mm="455.0")
    html = as_person(technician).get(address("samples:read", fill, pieces)).content.decode()
    content = html.split("<main", 1)[1]
    figures = [lot.grade.lower_limit_g_cm3, lot.grade.upper_limit_g_cm3]
    figures += [lot.grade.expected_density_g_cm3, Decimal("455.0")]
    figures += [Decimal(density) for density, _height in factories.NINE_FLOATS]
    for figure in figures:
        assert f"{figure.normalize():f}" not in content
    assert lot.code not in content
    assert lot.grade.name not in content
    facts = facts_in(html)
    assert facts["specimen"] == str(pieces[0].pk)
    assert set(facts) == {
        "specimen", "person", "any", "read_url", "lot_url", "bench_url", "sign_in_url",
    }  # fmt: skip


def test_an_unknown_piece_or_column_is_not_found(as_person: Any, technician: User) -> None:
    client = as_person(technician)
    missing = "11111111-1111-4111-8111-111111111111"
    for name in ("samples:read", "samples:column", "columns:float-set", "columns:float-set-amend"):
        assert client.get(reverse(name, args=[missing])).status_code == 404


def test_words_of_the_scripts_are_handed_over(as_person: Any, technician: User) -> None:
    html = as_person(technician).get(reverse("samples:read")).content.decode()
    words = json.loads(
        re.search(r'<script id="words-tube-keypad" type="application/json">(.*?)</script>', html)[1]
    )
    assert words["read.save"] == "Save"
    assert words["outcome.off_top"] == "Off the top"


def test_the_top_bar_marks_the_page_one_is_on(
    as_person: Any, technician: User, fill: Any, pieces: list[Any]
) -> None:
    marked = {
        "samples:bench": "Bench",
        "samples:column": "Bench",
        "samples:drop": "Drop",
        "samples:read": "Read",
        "columns:float-set": "Float set",
    }
    client = as_person(technician)
    for name, word in marked.items():
        html = client.get(address(name, fill, pieces)).content.decode()
        assert f'aria-current="page">{word}</a>' in html, name


def test_roles_are_all_looked_at() -> None:
    assert {*READERS, *LOOKERS} == set(Role.values)
