"""A fill from plan to drain, and what must be met before it opens."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from columns import audit_actions as actions
from columns.models import Fill
from columns.selectors.fills import drop_refusal, fill_at, live_fill, standing
from columns.selectors.settling import missing_to_open
from columns.services.basket_passes import start_basket_pass
from columns.services.fills import (
    TRANSITIONS,
    change_fill,
    drain_fill,
    open_fill,
    plan_fill,
    pour_fill,
    settle_fill,
)
from columns.services.holds import place_hold
from columns.signals import fill_drained
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from labsite.errors import Conflict, LabError, NotPermitted, RuleViolation
from tests import factories
from tests.factories import clock_at

pytestmark = pytest.mark.django_db

HOUR = timedelta(hours=1)


@pytest.fixture
def planned(shift_lead: User) -> Fill:
    return factories.make_planned_fill(actor=shift_lead)


def refusal(call: Callable[[], Any]) -> LabError:
    before = AuditEntry.objects.count()
    with pytest.raises(LabError) as caught:
        call()
    assert AuditEntry.objects.count() == before
    return caught.value


def test_a_fill_goes_from_plan_to_drain_with_an_entry_for_each_step(
    planned: Fill, technician: User, shift_lead: User, now: datetime, entries_of: Any
) -> None:
    start = now - timedelta(days=2)
    pour_fill(actor=technician, fill=planned, clock=clock_at(start))
    settle_fill(actor=technician, fill=planned, clock=clock_at(start + HOUR))
    open_fill(
        actor=shift_lead, fill=planned, early_reason="urgent lot", clock=clock_at(start + 2 * HOUR)
    )
    drained = drain_fill(actor=technician, fill=planned, reason="haze below F-105")
    assert drained.state == Fill.State.DRAINED
    assert entries_of(planned) == [
        actions.FILL_PLANNED,
        actions.FILL_POURED,
        actions.FILL_SETTLING,
        actions.FILL_OPENED_EARLY,
        actions.FILL_DRAINED,
    ]


@pytest.mark.parametrize("step", [settle_fill, open_fill])
def test_a_step_out_of_turn_is_refused_and_tells_the_state(
    planned: Fill, technician: User, step: Any
) -> None:
    error = refusal(lambda: step(actor=technician, fill=planned))
    assert isinstance(error, Conflict)
    assert (error.code, error.extra["state"]) == ("wrong_state", "planned")


def test_every_state_but_planned_can_be_reached() -> None:
    assert set(TRANSITIONS) == set(Fill.State) - {Fill.State.PLANNED}


def test_a_step_is_not_taken_twice(planned: Fill, technician: User) -> None:
    pour_fill(actor=technician, fill=planned)
    assert refusal(lambda: pour_fill(actor=technician, fill=planned)).code == "wrong_state"


@pytest.mark.parametrize("step", [pour_fill, settle_fill, open_fill])
def test_an_auditor_does_nothing_to_a_fill(planned: Fill, auditor: User, step: Any) -> None:
    assert isinstance(refusal(lambda: step(actor=auditor, fill=planned)), NotPermitted)


@pytest.mark.parametrize(
    ("top", "bottom", "code", "field"),
    [
        ("0.9500", "0.9000", "fill_denser_below", "density_top_g_cm3"),
        ("0.9000", "0.9000", "fill_denser_below", "density_top_g_cm3"),
        ("0.7500", "0.9000", "outside_pair_range", "density_top_g_cm3"),
        ("0.9000", "1.2000", "outside_pair_range", "density_bottom_g_cm3"),
        ("900", "0.9500", "density_unit", "density_top_g_cm3"),
        ("0.09", "0.9500", "density_unit", "density_top_g_cm3"),
        ("0.0009", "0.9500", "density_implausible", "density_top_g_cm3"),
    ],
)
def test_a_plan_that_the_pair_cannot_give_is_refused_with_the_physics(
    shift_lead: User, planned: Fill, top: str, bottom: str, code: str, field: str
) -> None:
    error = refusal(
        lambda: plan_fill(
            actor=shift_lead,
            column=planned.column,
            pair=planned.pair,
            density_top_g_cm3=Decimal(top),
            density_bottom_g_cm3=Decimal(bottom),
        )
    )
    assert (error.code, list(error.fields)) == (code, [field])


def test_a_plan_is_changed_before_the_pour_only(
    planned: Fill, technician: User, entries_of: Any
) -> None:
    wider = {"density_bottom_g_cm3": Decimal("0.9550"), "reason": "more room below"}
    assert change_fill(actor=technician, fill=planned, **wider).density_bottom_g_cm3 == Decimal(
        "0.9550"
    )
    pour_fill(actor=technician, fill=planned)
    assert refusal(lambda: change_fill(actor=technician, fill=planned, **wider)).code == (
        "wrong_state"
    )
    noted = change_fill(actor=technician, fill=planned, note="flask 3", reason="for the record")
    assert noted.note == "flask 3"
    assert entries_of(planned).count(actions.FILL_CHANGED) == 2


def test_a_column_holds_one_fill(planned: Fill, technician: User) -> None:
    second = factories.make_planned_fill(actor=technician, column=planned.column)
    pour_fill(actor=technician, fill=planned)
    assert refusal(lambda: pour_fill(actor=technician, fill=second)).code == "column_not_empty"
    drained = drain_fill(actor=technician, fill=planned, reason="wrong flask")
    error = refusal(
        lambda: pour_fill(
            actor=technician, fill=second, poured_at=drained.drained_at - timedelta(seconds=1)
        )
    )
    assert error.code == "poured_before_drain"
    pour_fill(actor=technician, fill=second)
    assert live_fill(planned.column) == second


@pytest.mark.parametrize(
    ("origin", "bottom", "top", "code"),
    [
        ("bottom", "10", "680", None),
        ("bottom", "680", "10", "liquid_span_not_valid"),
        ("bottom", "10", "701", "height_outside_scale"),
        ("bottom", "10", None, "liquid_end_missing"),
        ("top", "680", "10", None),
        ("top", "10", "680", "liquid_span_not_valid"),
    ],
)
def test_the_liquid_lies_on_the_scale_the_right_way_up(
    shift_lead: User, origin: str, bottom: str, top: str | None, code: str | None
) -> None:
    column = factories.make_column(actor=shift_lead, scale_origin=origin)
    fill = factories.make_planned_fill(actor=shift_lead, column=column)

    def pour() -> Fill:
        return pour_fill(
            actor=shift_lead,
            fill=fill,
            liquid_bottom_mm=Decimal(bottom),
            liquid_top_mm=None if top is None else Decimal(top),
        )

    if code is None:
        assert pour().state == Fill.State.POURED
    else:
        assert refusal(pour).code == code


def test_times_before_the_pour_are_refused(planned: Fill, technician: User) -> None:
    poured = pour_fill(actor=technician, fill=planned)
    before = poured.poured_at - HOUR
    error = refusal(lambda: settle_fill(actor=technician, fill=planned, settling_at=before))
    assert error.code == "before_pour"
    error = refusal(
        lambda: drain_fill(actor=technician, fill=planned, drained_at=before, reason="haze")
    )
    assert error.code == "before_pour"


# Opening


def codes(fill: Fill, at: datetime) -> list[str]:
    return [each.code for each in missing_to_open(fill, at)]


def test_people_see_what_is_missing_to_open(
    settling_fill: Fill, technician: User, now: datetime
) -> None:
    young = settling_fill.poured_at + 20 * HOUR
    assert codes(settling_fill, young) == ["settling_time", "two_sets_needed", "no_float_set"]
    factories.make_float_set(actor=technician, fill=settling_fill, at=now - 3 * HOUR)
    assert codes(settling_fill, now) == ["two_sets_needed"]
    factories.make_float_set(actor=technician, fill=settling_fill, at=now - 2 * HOUR)
    assert codes(settling_fill, now) == ["two_sets_needed"]  # one hour apart says nothing
    factories.make_float_set(actor=technician, fill=settling_fill, at=now - HOUR)
    assert codes(settling_fill, now) == []


@pytest.mark.parametrize(("shift", "missing"), [("2.0", []), ("2.1", ["sets_disagree"])])
def test_two_sets_agree_up_to_the_labs_limit(
    settling_fill: Fill, technician: User, now: datetime, shift: str, missing: list[str]
) -> None:
    factories.make_float_set(actor=technician, fill=settling_fill, at=now - 3 * HOUR)
    factories.make_float_set(
        actor=technician,
        fill=settling_fill,
        at=now,
        heights=factories.heights_of(settling_fill, shift_mm=shift),
    )
    assert codes(settling_fill, now) == missing


def test_a_technician_opens_what_is_ready_and_nothing_else(
    settling_fill: Fill, technician: User, now: datetime, entries_of: Any
) -> None:
    factories.make_float_set(actor=technician, fill=settling_fill, at=now - 3 * HOUR)

    def open_now(**fields: Any) -> Fill:
        return open_fill(actor=technician, fill=settling_fill, clock=clock_at(now), **fields)

    error = refusal(open_now)
    assert error.code == "not_ready_to_open"
    assert [each["code"] for each in error.extra["missing"]] == ["two_sets_needed"]
    assert isinstance(refusal(lambda: open_now(early_reason="urgent lot")), NotPermitted)
    factories.make_float_set(actor=technician, fill=settling_fill, at=now)
    assert open_now().opened_at == now
    assert entries_of(settling_fill)[-1] == actions.FILL_OPENED


def test_a_lead_opens_early_with_a_real_reason_only(
    settling_fill: Fill, shift_lead: User, now: datetime, entries_of: Any
) -> None:
    def open_now(reason: str) -> Fill:
        return open_fill(
            actor=shift_lead, fill=settling_fill, early_reason=reason, clock=clock_at(now)
        )

    assert refusal(lambda: open_now(".")).code == "reason_required"
    open_now("customer waits, result marked")
    assert entries_of(settling_fill)[-1] == actions.FILL_OPENED_EARLY
    entry = AuditEntry.objects.filter(object_id=settling_fill.pk).order_by("sequence").last()
    assert entry.reason == "customer waits, result marked"


def test_nobody_opens_a_fill_on_hold(settling_fill: Fill, shift_lead: User, now: datetime) -> None:
    place_hold(
        actor=shift_lead,
        fill=settling_fill,
        reason="cloudy",
        lifts_when="clear",
        clock=clock_at(now),
    )
    error = refusal(
        lambda: open_fill(
            actor=shift_lead, fill=settling_fill, early_reason="urgent lot", clock=clock_at(now)
        )
    )
    assert error.code == "not_ready_to_open"
    assert "on_hold" in [each["code"] for each in error.extra["missing"]]


# Draining


def test_a_drained_fill_gives_its_floats_back_and_tells_the_layers_above(
    open_fill: Fill, technician: User
) -> None:
    heard = []

    def hear(sender: Any, fill: Fill, log: Any, **_: Any) -> None:
        heard.append(fill)

    fill_drained.connect(hear)
    drain_fill(actor=technician, fill=open_fill, reason="six weeks old")
    fill_drained.disconnect(hear)
    assert heard == [open_fill]
    assert not open_fill.placements.filter(removed_at__isnull=True).exists()
    again = factories.make_planned_fill(actor=technician, column=open_fill.column)
    pour_fill(actor=technician, fill=again)


def test_a_fill_is_not_drained_during_a_basket_pass(open_fill: Fill, technician: User) -> None:
    start_basket_pass(actor=technician, fill=open_fill)
    error = refusal(lambda: drain_fill(actor=technician, fill=open_fill, reason="six weeks old"))
    assert error.code == "pass_running"


def test_a_drain_needs_a_reason(open_fill: Fill, technician: User) -> None:
    with pytest.raises(RuleViolation) as caught:
        drain_fill(actor=technician, fill=open_fill, reason=" . ")
    assert caught.value.code == "reason_required"


# How a fill stands


def test_the_word_follows_the_state(open_fill: Fill, now: datetime) -> None:
    words = [
        (now - timedelta(days=3), "Planned"),
        (now - timedelta(days=2), "Poured"),
        (now - timedelta(days=1), "Settling"),
        (now, "Open"),
        (now + timedelta(days=1), "Closed"),
    ]
    assert [standing(open_fill, at).word for at, _word in words] == [word for _at, word in words]


def test_an_open_fill_tells_its_set_and_its_age(open_fill: Fill, now: datetime) -> None:
    found = standing(open_fill, now)
    assert found.note.startswith("set ")
    assert found.note.endswith("day 2")
    assert found.findings == ()
    assert drop_refusal(open_fill, now) is None


@pytest.mark.parametrize(
    ("days", "code"), [(-3, "planned"), (-2, "poured"), (-1, "settling"), (1, "too_old")]
)
def test_nothing_is_dropped_into_a_fill_that_is_not_open(
    open_fill: Fill, now: datetime, days: int, code: str
) -> None:
    assert drop_refusal(open_fill, now + timedelta(days=days)).code == code


def test_the_fill_of_a_time_is_found(open_fill: Fill, now: datetime) -> None:
    assert fill_at(open_fill.column, now) == open_fill
    assert fill_at(open_fill.column, now - timedelta(days=3)) is None
