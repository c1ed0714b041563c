"""What the Read page is told: the piece, the floats' names and heights, and no density."""

from __future__ import annotations

import re
from typing import Any

import pytest

from columns.services.holds import place_hold
from labsite.accounts.models import User
from tests import factories

pytestmark = pytest.mark.django_db


def path(piece: Any) -> str:
    return f"/api/v1/specimens/{piece.pk}/blind-view/"


def test_it_names_the_piece_its_floats_and_how_far_the_lot_is_read(
    as_person: Any, technician: User, other_technician: User, lot: Any, pieces: list[Any]
) -> None:
    factories.make_reading(actor=other_technician, specimen=pieces[1])
    body = as_person(technician).get(path(pieces[0])).json()
    assert body["specimen"]["lot"]["code"] == lot.code
    assert body["specimen"]["shape"] == "square"
    assert body["specimen"]["is_ready"] is True
    assert body["specimen"]["seen_readings"] == 0
    assert body["lot_read"] == {"read": 1, "of": 3}
    assert body["refusal"] is None
    floats = body["column"]["floats"]
    assert [each["label"] for each in floats] == [f"F-10{number}" for number in range(1, 10)]
    assert set(floats[0]) == {"id", "label", "height_mm", "above_bottom_mm"}
    assert floats[0]["height_mm"] == "640.0"


def test_no_density_leaves_by_this_door(
    as_person: Any, technician: User, other_technician: User, fill: Any, lot: Any, pieces: list[Any]
) -> None:
    """Neither certified nor found nor expected; densities of this column lie around 0.9."""
    grade = factories.make_grade(actor=User.objects.get(username="ingrid"), name="Teal coating")
    other = factories.make_lot(actor=technician, grade=grade, code="TE-0417")
    factories.make_read_lot(actor=technician, lot=other, fill=fill, reader=other_technician)
    factories.make_reading(actor=other_technician, specimen=pieces[1], height_mm="444.0")
    answer = as_person(technician).get(path(pieces[0])).content.decode()
    assert "density" not in answer
    assert re.findall(r"0\.9[0-4]\d\d", answer) == []
    assert "444.0" not in answer  # what the other one read of the same lot


def test_pieces_of_other_lots_are_outlines_without_a_name(
    as_person: Any, technician: User, fill: Any, grade: Any, pieces: list[Any]
) -> None:
    other = factories.make_lot(actor=technician, grade=grade, code="TE-0417")
    factories.make_read_lot(actor=technician, lot=other, fill=fill, heights=("300.0",))
    outlines = as_person(technician).get(path(pieces[0])).json()["column"]["occupants"]
    assert outlines == [
        {"shape": "square", "age": "today", "height_mm": "300.0", "above_bottom_mm": 300.0}
    ]


def test_the_shade_runs_from_the_light_to_the_heavy_end(
    as_person: Any, technician: User, pieces: list[Any]
) -> None:
    shades = as_person(technician).get(path(pieces[0])).json()["column"]["shades"]
    by_height = sorted(shades, key=lambda point: -point["above_bottom_mm"])
    assert (by_height[0]["shade"], by_height[-1]["shade"]) == (0.0, 1.0)
    assert [p["shade"] for p in by_height] == sorted(p["shade"] for p in by_height)


def test_without_a_calibration_it_says_why_and_claims_no_shade(
    as_person: Any, technician: User, fill: Any, pieces: list[Any]
) -> None:
    place_hold(actor=technician, fill=fill, reason="glass cracked?", lifts_when="looked at by day")
    body = as_person(technician).get(path(pieces[0])).json()
    assert body["refusal"]["code"] == "on_hold"
    assert body["column"]["shades"] == []
    assert len(body["column"]["floats"]) == 9  # the gap can still be tapped


def test_unchanged_it_answers_304(as_person: Any, technician: User, pieces: list[Any]) -> None:
    client = as_person(technician)
    etag = client.get(path(pieces[0])).headers["ETag"]
    assert client.get(path(pieces[0]), HTTP_IF_NONE_MATCH=etag).status_code == 304


def test_people_who_only_look_do_not_read(as_person: Any, auditor: User, pieces: list[Any]) -> None:
    assert as_person(auditor).get(path(pieces[0])).status_code == 403


def test_its_queries_do_not_grow_with_what_lies_in_the_column(
    as_person: Any,
    technician: User,
    fill: Any,
    grade: Any,
    pieces: list[Any],
    django_assert_max_num_queries: Any,
) -> None:
    for number in range(3):
        lot = factories.make_lot(actor=technician, grade=grade, code=f"WR-30{number}")
        factories.make_read_lot(actor=technician, lot=lot, fill=fill)
    client = as_person(technician)
    with django_assert_max_num_queries(20):
        assert client.get(path(pieces[0])).status_code == 200
