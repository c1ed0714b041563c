"""Fills through the API: their steps, how they stand, holds and basket passes."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from columns.models import Fill
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from tests import factories

pytestmark = pytest.mark.django_db

REASON = {"reason": "a real reason"}


def test_a_fill_that_is_not_ready_tells_what_is_missing(
    as_technician: Any, as_lead: Any, settling_fill: Fill
) -> None:
    path = f"/api/v1/fills/{settling_fill.pk}/"
    stands = as_technician.get(f"{path}standing/").json()
    assert (stands["state"], stands["word"]) == ("settling", "Settling")
    missing = ["two_sets_needed", "no_float_set"]
    assert [each["code"] for each in stands["missing_to_open"]] == missing
    before = AuditEntry.objects.count()
    refused = as_technician.post(f"{path}open/", {})
    assert (refused.status_code, refused.json()["code"]) == (422, "not_ready_to_open")
    assert [each["code"] for each in refused.json()["missing"]] == missing
    assert AuditEntry.objects.count() == before
    early = {"early_reason": "customer waits"}
    assert as_technician.post(f"{path}open/", early).status_code == 403
    opened = as_lead.post(f"{path}open/", early)
    assert (opened.status_code, opened.json()["state"]) == (200, "open")


def test_an_open_fill_tells_its_calibration(
    as_technician: Any, technician: User, open_fill: Fill, now: datetime
) -> None:
    stands = as_technician.get(f"/api/v1/fills/{open_fill.pk}/standing/").json()
    assert stands["state"] == "open"
    assert stands["findings"] == []
    assert stands["calibration"] is not None
    assert stands["missing_to_open"] == []
    as_technician.post(
        "/api/v1/holds/", {"fill": str(open_fill.pk), "lifts_when": "clear again", **REASON}
    )
    held = as_technician.get(f"/api/v1/fills/{open_fill.pk}/standing/").json()
    assert (held["state"], held["word"]) == ("on_hold", "On hold")
    assert held["calibration"] is None
    assert "Imre" in held["note"]
    assert "clear again" in held["note"]


def test_a_step_out_of_turn_is_a_conflict(as_technician: Any, open_fill: Fill) -> None:
    for step in ("pour", "settle", "open"):
        answer = as_technician.post(f"/api/v1/fills/{open_fill.pk}/{step}/", {})
        assert (answer.status_code, answer.json()["code"]) == (409, "wrong_state")
        assert answer.json()["state"] == "open"


@pytest.mark.parametrize(
    ("span", "code"),
    [
        (("0.95", "0.90"), "fill_denser_below"),
        (("0.70", "0.90"), "outside_pair_range"),
        (("900", "950"), "density_unit"),
    ],
)
def test_a_plan_against_physics_is_refused(
    as_technician: Any, open_fill: Fill, span: tuple[str, str], code: str
) -> None:
    answer = as_technician.post(
        "/api/v1/fills/",
        {
            "column": str(open_fill.column_id),
            "pair": str(open_fill.pair_id),
            "density_top_g_cm3": span[0],
            "density_bottom_g_cm3": span[1],
        },
    )
    assert (answer.status_code, answer.json()["code"]) == (422, code)


def test_a_second_pour_into_a_full_column_is_a_conflict(
    as_technician: Any, technician: User, open_fill: Fill
) -> None:
    second = factories.make_planned_fill(actor=technician, column=open_fill.column)
    answer = as_technician.post(f"/api/v1/fills/{second.pk}/pour/", {})
    assert (answer.status_code, answer.json()["code"]) == (409, "column_not_empty")


def test_a_basket_pass_of_five_minutes_puts_the_fill_on_hold(
    as_technician: Any, open_fill: Fill, now: datetime
) -> None:
    began = now + timedelta(minutes=5)
    started = as_technician.post(
        "/api/v1/basket-passes/",
        {"fill": str(open_fill.pk), "travel_mm": "700", "started_at": began.isoformat()},
    )
    assert started.status_code == 201
    path = f"/api/v1/basket-passes/{started.json()['id']}/finish/"
    early = {"ended_at": (began - timedelta(minutes=1)).isoformat()}
    refused = as_technician.post(path, early)
    assert (refused.status_code, refused.json()["code"]) == (422, "pass_end_before_start")
    ended = {"ended_at": (began + timedelta(minutes=5)).isoformat()}
    done = as_technician.post(path, {**ended, "floats_out": 9, "floats_in": 8})
    assert done.status_code == 200
    holds = as_technician.get(f"/api/v1/holds/?fill={open_fill.pk}&open=true").json()["results"]
    assert sorted(hold["kind"] for hold in holds) == ["fast_pass", "floats_missing"]
    assert as_technician.post(path, ended).json()["code"] == "pass_finished"


def test_a_hold_is_lifted_by_a_lead(as_technician: Any, as_lead: Any, open_fill: Fill) -> None:
    hold = as_technician.post(
        "/api/v1/holds/", {"fill": str(open_fill.pk), "lifts_when": "clear again", **REASON}
    ).json()
    path = f"/api/v1/holds/{hold['id']}/"
    assert as_technician.post(f"{path}lift/", REASON).status_code == 403
    assert as_lead.post(f"{path}lift/", REASON).status_code == 200
    assert as_technician.get(path).json()["lifted_by"]["name"] == "Ruta"
    assert as_lead.post(f"{path}lift/", REASON).json()["code"] == "already_lifted"
