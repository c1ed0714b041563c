"""Float sets through the API: saved, refused by field, amended, shown with their calibration."""

from __future__ import annotations

import copy
from datetime import timedelta
from typing import Any
from urllib.parse import quote

import pytest

from columns.models import Fill, FloatSet
from labsite.audit.models import AuditEntry
from labsite.clock import SYSTEM_CLOCK
from tests.columns.api.conftest import lines_of

pytestmark = pytest.mark.django_db

URL = "/api/v1/float-sets/"


def changed(body: dict[str, Any], index: int, **fields: Any) -> dict[str, Any]:
    body = copy.deepcopy(body)
    body["heights"][index].update(fields)
    return body


def test_a_saved_set_shows_residuals_gaps_and_findings(
    as_technician: Any, set_body: dict[str, Any]
) -> None:
    answer = as_technician.post(URL, set_body)
    assert answer.status_code == 201
    found = answer.json()
    assert found["read_by"]["name"] == "Imre"
    assert [line["label"] for line in found["heights"]] == [f"F-10{n}" for n in range(1, 10)]
    calibration = found["calibration"]
    assert calibration["passes"] is True
    assert calibration["findings"] == []
    assert len(calibration["floats"]) == 9
    assert len(calibration["gaps"]) == 8
    assert float(calibration["correlation"]) < -0.999
    shown = as_technician.get(f"{URL}{found['id']}/")
    assert shown.json() == found
    assert shown.headers["ETag"]


def test_a_comma_is_a_decimal_mark(as_technician: Any, set_body: dict[str, Any]) -> None:
    answer = as_technician.post(URL, changed(set_body, 1, height_mm="568,5"))
    assert answer.status_code == 201
    assert answer.json()["heights"][1]["height_mm"] == "568.50"


NO_NUMBERS = ("", "abc", "NaN", "1e999", "1.234,5", "1 234.5", "５６８", "٥٦٨", True, [], "568.555")


def test_a_height_that_is_no_plain_number_is_refused(
    as_technician: Any, set_body: dict[str, Any]
) -> None:
    before = AuditEntry.objects.count()
    for height in NO_NUMBERS:
        answer = as_technician.post(URL, changed(set_body, 1, height_mm=height))
        assert answer.status_code == 422, height
        assert list(answer.json()["fields"]) == ["heights[1].height_mm"], height
    assert AuditEntry.objects.count() == before
    assert as_technician.post(URL, set_body).status_code == 201


WRONG_LINES = (
    (1, {"height_mm": "4125"}, "height_outside_scale"),
    (1, {"height_mm": "-3"}, "height_outside_scale"),
    (1, {"height_mm": None}, "float_without_height"),
    (1, {"height_mm": None, "missing_reason": "."}, "reason_required"),
    (1, {"missing_reason": "stuck to the wall"}, "height_and_reason"),
    (2, {"height_mm": "428.5"}, "float_order_reversed"),
    (2, {"height_mm": "429.0"}, "float_heights_equal"),
)


def test_a_wrong_line_is_refused(as_technician: Any, set_body: dict[str, Any]) -> None:
    before = FloatSet.objects.count()
    for index, fields, code in WRONG_LINES:
        answer = as_technician.post(URL, changed(set_body, index, **fields))
        assert (answer.status_code, answer.json()["code"]) == (422, code)
    assert FloatSet.objects.count() == before
    # half a millimetre above its neighbour is where it may be
    right = as_technician.post(URL, changed(set_body, 2, height_mm="429.5"))
    assert right.status_code == 201


def test_a_float_of_nowhere_is_told_by_line(
    as_technician: Any, set_body: dict[str, Any], open_fill: Fill
) -> None:
    for wrong in (str(open_fill.pk), "F-101", 7):
        answer = as_technician.post(URL, changed(set_body, 3, calibration_float=wrong))
        assert answer.status_code == 422
        assert list(answer.json()["fields"]) == ["heights[3].calibration_float"]


WRONG_SETS = (
    ({"bath_temperature_c": "296.15"}, "temperature_unit"),
    ({"bath_temperature_c": "73.4"}, "temperature_unit"),
    ({"bath_temperature_c": "-20"}, "temperature_implausible"),
    ({"read_at": "2200-01-01T00:00:00Z"}, "time_in_future"),
    ({"read_at": "2020-01-01T00:00:00Z"}, "before_pour"),
    ({"heights": []}, "floats_left_out"),
)


def test_a_wrong_temperature_time_or_number_of_lines_is_refused(
    as_technician: Any, set_body: dict[str, Any]
) -> None:
    before = AuditEntry.objects.count()
    for fields, code in WRONG_SETS:
        answer = as_technician.post(URL, {**set_body, **fields})
        assert (answer.status_code, answer.json()["code"]) == (422, code)
    assert AuditEntry.objects.count() == before


def test_a_time_needs_its_offset(as_technician: Any, set_body: dict[str, Any]) -> None:
    for read_at in ("2026-03-29T01:30:00", "yesterday", "2026-02-30T10:00:00Z", 12, "2026-10-06"):
        answer = as_technician.post(URL, {**set_body, "read_at": read_at})
        assert answer.status_code == 422, read_at
        assert list(answer.json()["fields"]) == ["read_at"], read_at


def test_a_time_with_another_offset_is_the_same_instant(
    as_technician: Any, set_body: dict[str, Any]
) -> None:
    at = SYSTEM_CLOCK.now().replace(microsecond=0) - timedelta(minutes=1)
    local = (at + timedelta(hours=9)).strftime("%Y-%m-%dT%H:%M:%S+09:00")
    found = as_technician.post(URL, {**set_body, "read_at": local}).json()
    assert FloatSet.objects.get(pk=found["id"]).read_at == at


@pytest.mark.parametrize("note", ["a\x07b", "x" * 2001])
def test_a_note_with_control_characters_or_without_end_is_refused(
    as_technician: Any, set_body: dict[str, Any], note: str
) -> None:
    answer = as_technician.post(URL, {**set_body, "note": note})
    assert answer.status_code == 422
    assert list(answer.json()["fields"]) == ["note"]


def test_a_note_is_kept_as_text(as_technician: Any, set_body: dict[str, Any]) -> None:
    note = "<script>alert(1)</script> =1+1 ‮ 🙂"
    assert as_technician.post(URL, {**set_body, "note": note}).json()["note"] == note


def test_an_amendment_is_a_new_set(
    as_technician: Any, as_lead: Any, set_body: dict[str, Any], open_fill: Fill
) -> None:
    old = as_technician.post(URL, set_body).json()
    body = {"heights": lines_of(open_fill, shift_mm="0.5"), "reason": "eye too high"}
    new = as_lead.post(f"{URL}{old['id']}/amend/", body)
    assert new.status_code == 201
    assert new.json()["amends"] == old["id"]
    assert new.json()["amend_reason"] == "eye too high"
    assert new.json()["read_by"]["name"] == "Imre"
    assert as_lead.get(f"{URL}{old['id']}/").json()["replaced_at"] is not None
    again = as_lead.post(f"{URL}{old['id']}/amend/", body)
    assert (again.status_code, again.json()["code"]) == (409, "already_replaced")


@pytest.mark.parametrize("reason", [".", "  ", ""])
def test_an_amendment_with_an_empty_reason_is_refused(
    as_technician: Any, set_body: dict[str, Any], open_fill: Fill, reason: str
) -> None:
    old = as_technician.post(URL, set_body).json()
    answer = as_technician.post(
        f"{URL}{old['id']}/amend/",
        {"heights": lines_of(open_fill, shift_mm="0.5"), "reason": reason},
    )
    assert answer.status_code == 422
    assert list(answer.json()["fields"]) == ["reason"]


def test_a_set_is_never_patched_or_deleted(as_technician: Any, set_body: dict[str, Any]) -> None:
    path = f"{URL}{as_technician.post(URL, set_body).json()['id']}/"
    assert as_technician.patch(path, {"note": "x"}, etag='"x"').status_code == 405
    assert as_technician.delete(path).status_code == 405


def test_a_set_is_computed_again_on_request(as_technician: Any, set_body: dict[str, Any]) -> None:
    saved = as_technician.post(URL, set_body).json()
    answer = as_technician.post(
        f"{URL}{saved['id']}/recompute/", {"reason": "check of the figures"}
    )
    assert answer.status_code == 201
    assert answer.json()["id"] == saved["calibration"]["id"]  # nothing differs: the same row
    shown = as_technician.get(f"/api/v1/calibrations/{saved['calibration']['id']}/")
    assert shown.json() == answer.json()


# The calibration in force


def in_force(client: Any, fill: Fill, at: str = "") -> dict[str, Any]:
    query = f"?at={quote(at)}" if at else ""
    return client.get(f"/api/v1/columns/{fill.column_id}/calibration/{query}").json()


def test_the_calibration_in_force_now_and_at_a_time(
    as_technician: Any, open_fill: Fill, set_body: dict[str, Any]
) -> None:
    saved = as_technician.post(URL, set_body).json()
    found = in_force(as_technician, open_fill)
    assert found["calibration"]["id"] == saved["calibration"]["id"]
    assert found["refusal"] is None
    assert found["valid_until_at"] > found["at"]
    earlier = in_force(as_technician, open_fill, open_fill.opened_at.isoformat())
    assert earlier["calibration"]["id"] != saved["calibration"]["id"]


def test_without_a_calibration_the_reason_is_told(as_technician: Any, open_fill: Fill) -> None:
    before_the_pour = (open_fill.poured_at - timedelta(hours=1)).isoformat()
    found = in_force(as_technician, open_fill, before_the_pour)
    assert (found["calibration"], found["refusal"]["code"]) == (None, "no_fill")
    assert found["valid_until_at"] is None
    old = in_force(as_technician, open_fill, "2200-01-01T00:00:00+01:00")
    assert old["refusal"]["code"] == "too_old"
    wrong = as_technician.get(f"/api/v1/columns/{open_fill.column_id}/calibration/?at=noon")
    assert wrong.status_code == 422
