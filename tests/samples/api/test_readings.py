"""Readings over the API: saved fast, once, strictly, and shown to nobody who must not see them."""

from __future__ import annotations

import json
from typing import Any

import pytest

from columns.models import CalibrationFloat
from labsite.accounts.models import User
from labsite.accounts.tokens import make_token
from labsite.audit.models import AuditEntry
from samples.models import Reading
from tests import factories
from tests.conftest import LabClient

pytestmark = pytest.mark.django_db
PATH = "/api/v1/readings/"


def body_for(piece: Any, height: str = "455.0", **more: Any) -> dict[str, Any]:
    return {"specimen": str(piece.pk), "outcome": "at_rest", "height_mm": height, **more}


def test_saving_answers_with_the_density_and_is_not_masked_for_oneself(
    as_person: Any, technician: User, pieces: list[Any]
) -> None:
    answer = as_person(technician).post(PATH, body_for(pieces[0]))
    body = answer.json()
    assert answer.status_code == 201
    assert body["height_mm"] == "455.00"
    assert body["result"]["bracketing_g_cm3"] == "0.9182479"
    assert (body["result"]["lower_float"], body["result"]["upper_float"]) == ("F-104", "F-103")
    assert body["masked"] is False
    assert body["unread_of_lot"] == 2
    assert body["expected"] is None  # two pieces are still to be read blindly


def test_the_expected_place_comes_with_the_last_reading(
    as_person: Any, technician: User, pieces: list[Any]
) -> None:
    client = as_person(technician)
    answers = [client.post(PATH, body_for(piece)).json() for piece in pieces]
    assert [answer["expected"] is None for answer in answers] == [True, True, False]
    assert answers[2]["expected"]["density_g_cm3"] == "0.918200"
    assert answers[2]["expected"]["height_mm"] == pytest.approx(455.673, abs=1e-3)


def test_saving_takes_few_queries(
    as_person: Any, technician: User, pieces: list[Any], django_assert_max_num_queries: Any
) -> None:
    floats = {each.label: str(each.pk) for each in CalibrationFloat.objects.all()}
    client = as_person(technician)
    gap = {"gap_upper_float": floats["F-103"], "gap_lower_float": floats["F-104"]}
    # the test's own transaction turns what is BEGIN and COMMIT otherwise into two of these
    with django_assert_max_num_queries(22):
        assert client.post(PATH, body_for(pieces[0], **gap)).status_code == 201


def test_the_same_key_gives_the_same_reading(
    as_person: Any, technician: User, pieces: list[Any]
) -> None:
    client = as_person(technician)
    answers = [
        client.post(PATH, body_for(pieces[0]), HTTP_IDEMPOTENCY_KEY="tap-1") for _ in range(3)
    ]
    assert [answer.status_code for answer in answers] == [201, 200, 200]
    assert len({answer.json()["id"] for answer in answers}) == 1
    assert Reading.objects.count() == 1
    reused = client.post(PATH, body_for(pieces[0], "456.0"), HTTP_IDEMPOTENCY_KEY="tap-1")
    assert (reused.status_code, reused.json()["code"]) == (422, "idempotency_key_reused")


def test_two_people_at_one_specimen(
    as_person: Any, technician: User, other_technician: User, pieces: list[Any]
) -> None:
    as_person(technician).post(PATH, body_for(pieces[0], "455.0"))
    second = as_person(other_technician).post(PATH, body_for(pieces[0], "470.0"))
    assert (second.status_code, second.json()["code"]) == (409, "already_read")
    assert second.json()["current"]["height_mm"] == "455.00"
    assert Reading.objects.count() == 1


@pytest.mark.parametrize(
    ("change", "status", "code"),
    [
        ({"height_mm": "4125"}, 422, "height_off_scale"),
        ({"height_mm": "-3"}, 422, "height_off_scale"),
        ({"height_mm": ""}, 422, "height_required"),
        ({"height_mm": "abc"}, 422, "invalid"),
        ({"height_mm": "NaN"}, 422, "invalid"),
        ({"height_mm": "1e999"}, 422, "invalid"),
        ({"height_mm": "1.234,5"}, 422, "invalid"),
        ({"height_mm": None}, 422, "height_required"),
        ({"outcome": "resting"}, 422, "invalid"),
        ({"specimen": "00000000-0000-0000-0000-000000000000"}, 422, "specimen_unknown"),
        ({"gap_upper_float": "00000000-0000-0000-0000-000000000000"}, 422, "invalid"),
        ({"read_at": "2026-10-06T10:04:31"}, 422, "invalid"),
        ({"read_at": "2020-10-06T10:04:31+02:00"}, 422, "read_before_drop"),
        ({"read_at": "2199-10-06T10:04:31+02:00"}, 422, "time_in_future"),
        ({"colour": "blue"}, 422, "unknown_field"),
    ],
)
def test_bad_input_saves_nothing(
    change: dict[str, Any], status: int, code: str,
    as_person: Any, technician: User, pieces: list[Any],
) -> None:  # fmt: skip
    before = AuditEntry.objects.count()
    answer = as_person(technician).post(PATH, body_for(pieces[0]) | change)
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert answer.json()["message"]
    assert not Reading.objects.exists()
    assert AuditEntry.objects.count() == before


def test_a_comma_is_a_decimal_mark_and_never_thousands(
    as_person: Any, technician: User, pieces: list[Any]
) -> None:
    body = as_person(technician).post(PATH, body_for(pieces[0], "455,5")).json()
    assert body["height_mm"] == "455.50"


def test_centimetres_are_asked_about(as_person: Any, technician: User, pieces: list[Any]) -> None:
    floats = {each.label: str(each.pk) for each in CalibrationFloat.objects.all()}
    answer = as_person(technician).post(
        PATH,
        body_for(
            pieces[0], "45.5", gap_upper_float=floats["F-103"], gap_lower_float=floats["F-104"]
        ),
    )
    body = answer.json()
    assert (answer.status_code, body["code"]) == (422, "outside_tapped_gap")
    assert body["suggestion"] == "455"
    assert body["tapped"]["upper_float"] == "F-103"
    assert body["typed"]["height_mm"] == "45.50"


def test_who_may_not(as_person: Any, auditor: User, pieces: list[Any]) -> None:
    assert as_person(None).post(PATH, body_for(pieces[0])).status_code == 401
    refused = as_person(auditor).post(PATH, body_for(pieces[0]))
    assert (refused.status_code, refused.json()["code"]) == (403, "not_permitted")
    assert not Reading.objects.exists()


def test_undo_and_amend(as_person: Any, technician: User, pieces: list[Any]) -> None:
    client = as_person(technician)
    first = client.post(PATH, body_for(pieces[0], "465.0")).json()
    undone = client.post(f"{PATH}{first['id']}/withdraw/", {})
    assert undone.status_code == 200
    assert undone.json()["withdrawn_at"]
    second = client.post(PATH, body_for(pieces[0], "465.0")).json()
    assert second["density_seen"] is True
    refused = client.post(f"{PATH}{second['id']}/amend/", {"height_mm": "455.0", "reason": "."})
    assert (refused.status_code, refused.json()["code"]) == (422, "reason_required")
    amended = client.post(
        f"{PATH}{second['id']}/amend/", {"height_mm": "455.0", "reason": "misread by a line"}
    )
    assert amended.status_code == 201
    assert amended.json()["amends"] == second["id"]
    assert amended.json()["result"]["bracketing_g_cm3"] == "0.9182479"


def test_nothing_is_changed_in_place_or_deleted(
    as_person: Any, technician: User, pieces: list[Any]
) -> None:
    client = as_person(technician)
    saved = client.post(PATH, body_for(pieces[0])).json()
    changed = client.patch(f"{PATH}{saved['id']}/", {"height_mm": "1"})
    assert (changed.status_code, changed.json()["code"]) == (409, "amend_instead")
    assert client.delete(f"{PATH}{saved['id']}/").status_code == 405


def test_siblings_are_masked_wherever_they_are_asked_for(
    as_person: Any, technician: User, other_technician: User, pieces: list[Any]
) -> None:
    """Imre dropped three; Salma read the first at 461.5 mm."""
    salma = as_person(other_technician)
    saved = salma.post(PATH, body_for(pieces[0], "461.5", note="near 461.5")).json()
    density = saved["result"]["bracketing_g_cm3"]
    lot = str(pieces[0].lot_id)
    places = [
        PATH,
        f"{PATH}?lot={lot}",
        f"{PATH}{saved['id']}/",
        "/api/v1/specimens/",
        f"/api/v1/specimens/{pieces[0].pk}/",
        "/api/v1/lots/",
        f"/api/v1/lots/{lot}/",
        "/api/v1/bench/",
        f"/api/v1/columns/{pieces[0].fill.column_id}/overview/",
        "/api/v1/read-queue/",
        f"/api/v1/drop-advice/?lot={lot}",
    ]
    imre = as_person(technician)
    for place in places:
        answer = imre.get(place)
        assert answer.status_code == 200, place
        text = json.dumps(answer.json())
        assert "461.5" not in text, place
        assert density[:6] not in text, place
    reading = imre.get(f"{PATH}{saved['id']}/").json()
    assert reading["masked"] is True
    assert (reading["height_mm"], reading["result"], reading["note"]) == (None, None, None)
    advice = imre.get(f"/api/v1/drop-advice/?lot={lot}").json()["results"][0]
    assert (advice["masked"], advice["expected_height_mm"]) == (True, None)


def test_the_mask_does_not_depend_on_how_one_signed_in(
    technician: User, other_technician: User, pieces: list[Any]
) -> None:
    factories.make_reading(actor=other_technician, specimen=pieces[0], height_mm="461.5")
    _token, key = make_token(actor=technician, name="script")
    client = LabClient(HTTP_AUTHORIZATION=f"Bearer {key}")
    assert "461.5" not in json.dumps(client.get(PATH).json())


def test_lists_take_a_fixed_number_of_queries(
    as_person: Any, auditor: User, technician: User, pieces: list[Any],
    django_assert_max_num_queries: Any,
) -> None:  # fmt: skip
    for piece in pieces:
        factories.make_reading(actor=technician, specimen=piece)
    client = as_person(auditor)
    for place in (PATH, "/api/v1/specimens/", "/api/v1/lots/", "/api/v1/read-queue/"):
        with django_assert_max_num_queries(9):
            assert client.get(place).status_code == 200
