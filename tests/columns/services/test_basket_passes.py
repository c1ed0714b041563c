"""Basket passes: their rate, the floats counted, and the holds that follow."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from columns import audit_actions as actions
from columns.models import BasketPass, Fill, Hold
from columns.services.basket_passes import finish_basket_pass, rate_mm_per_min, start_basket_pass
from columns.signals import basket_pass_finished
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from labsite.errors import Conflict, LabError, NotPermitted
from tests import factories
from tests.factories import clock_at

pytestmark = pytest.mark.django_db


@pytest.fixture
def running(open_fill: Fill, technician: User, now: datetime) -> BasketPass:
    return start_basket_pass(actor=technician, fill=open_fill, clock=clock_at(now))


def finish(running: BasketPass, actor: User, minutes: float, **fields: Any) -> BasketPass:
    ended_at = running.started_at + timedelta(minutes=minutes)
    return finish_basket_pass(actor=actor, basket_pass=running, clock=clock_at(ended_at), **fields)


def test_a_slow_pass_leaves_no_hold(running: BasketPass, technician: User, entries_of: Any) -> None:
    done = finish(running, technician, 70, floats_out=9, floats_in=9)
    assert done.travel_mm == 700  # the scale's length, when nothing else is said
    assert rate_mm_per_min(done) == 10
    assert not Hold.objects.exists()
    assert entries_of(done) == [actions.PASS_STARTED, actions.PASS_FINISHED]


@pytest.mark.parametrize(("minutes", "holds"), [(35, 0), (34.9, 1), (18, 1), (5, 1)])
def test_above_20_mm_a_minute_the_fill_goes_on_hold(
    running: BasketPass, technician: User, minutes: float, holds: int, entries_of: Any
) -> None:
    finish(running, technician, minutes)
    found = list(Hold.objects.filter(kind=Hold.Kind.FAST_PASS))
    assert len(found) == holds
    for hold in found:
        assert hold.placed_by == technician
        assert "700" in hold.reason
        assert entries_of(hold) == [actions.HOLD_PLACED]


def test_floats_that_did_not_come_back_put_the_fill_on_hold(
    running: BasketPass, technician: User
) -> None:
    finish(running, technician, 70, floats_out=9, floats_in=8)
    hold = Hold.objects.get()
    assert hold.kind == Hold.Kind.FLOATS_MISSING
    assert hold.reason == "9 floats came out and 8 went back in."


def test_a_fast_pass_that_loses_a_float_leaves_two_holds(
    running: BasketPass, technician: User
) -> None:
    finish(running, technician, 18, floats_out=9, floats_in=8)
    assert Hold.objects.count() == 2


@pytest.mark.parametrize("minutes", [0, -5])
def test_an_end_before_the_start_is_refused_with_both_times(
    running: BasketPass, technician: User, minutes: int
) -> None:
    before = AuditEntry.objects.count()
    with pytest.raises(LabError) as caught:
        finish(running, technician, minutes)
    assert caught.value.code == "pass_end_before_start"
    assert list(caught.value.fields) == ["ended_at"]
    assert AuditEntry.objects.count() == before
    running.refresh_from_db()
    assert running.ended_at is None


def test_one_count_without_the_other_is_refused(running: BasketPass, technician: User) -> None:
    with pytest.raises(LabError) as caught:
        finish(running, technician, 70, floats_out=9)
    assert list(caught.value.fields) == ["floats_in"]


def test_one_pass_at_a_time_and_each_ends_once(
    running: BasketPass, technician: User, open_fill: Fill
) -> None:
    with pytest.raises(Conflict) as caught:
        start_basket_pass(actor=technician, fill=open_fill)
    assert caught.value.code == "pass_running"
    finish(running, technician, 70)
    with pytest.raises(Conflict) as caught:
        finish(running, technician, 80)
    assert caught.value.code == "pass_finished"


def test_a_pass_within_another_is_refused(
    running: BasketPass, technician: User, open_fill: Fill, now: datetime
) -> None:
    finish(running, technician, 70)
    with pytest.raises(LabError) as caught:
        start_basket_pass(
            actor=technician,
            fill=open_fill,
            started_at=now + timedelta(minutes=30),
            clock=clock_at(now + timedelta(hours=3)),
        )
    assert caught.value.code == "passes_overlap"


def test_an_empty_column_has_no_pass(shift_lead: User) -> None:
    fill = factories.make_planned_fill(actor=shift_lead)
    with pytest.raises(Conflict) as caught:
        start_basket_pass(actor=shift_lead, fill=fill)
    assert caught.value.code == "wrong_state"


@pytest.mark.parametrize("way", ["0", "-5", "5001"])
def test_a_way_that_cannot_be_is_refused(open_fill: Fill, technician: User, way: str) -> None:
    with pytest.raises(LabError) as caught:
        start_basket_pass(actor=technician, fill=open_fill, travel_mm=Decimal(way))
    assert caught.value.code == "way_implausible"


def test_the_layers_above_hear_of_the_end(running: BasketPass, technician: User) -> None:
    heard = []

    def hear(sender: Any, basket_pass: BasketPass, log: Any, **_: Any) -> None:
        heard.append(basket_pass)

    basket_pass_finished.connect(hear)
    finish(running, technician, 70)
    basket_pass_finished.disconnect(hear)
    assert heard == [running]


def test_what_a_receiver_refuses_undoes_the_pass(running: BasketPass, technician: User) -> None:
    def refuse(**_: Any) -> None:
        raise Conflict("no", "no")

    before = AuditEntry.objects.count()
    basket_pass_finished.connect(refuse, weak=False)
    with pytest.raises(Conflict):
        finish(running, technician, 18)
    basket_pass_finished.disconnect(refuse)
    assert AuditEntry.objects.count() == before
    assert not Hold.objects.exists()
    assert BasketPass.objects.get().ended_at is None


def test_an_auditor_starts_no_pass(open_fill: Fill, auditor: User) -> None:
    with pytest.raises(NotPermitted):
        start_basket_pass(actor=auditor, fill=open_fill)
