"""Dropping: where it is allowed, how long pieces wait, who reads them, what takes them out."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from columns.models import Column, Fill
from columns.services.basket_passes import finish_basket_pass, start_basket_pass
from columns.services.fills import drain_fill
from columns.services.holds import place_hold
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from labsite.clock import SYSTEM_CLOCK
from labsite.errors import Conflict, NotPermitted, RuleViolation
from samples.models import Lot, Specimen
from samples.services.specimens import drop_specimen, drop_specimens, take_over_specimens
from tests import factories

pytestmark = pytest.mark.django_db


def test_pieces_are_numbered_in_their_lot_and_wait_ten_minutes(
    technician: User, lot: Lot, fill: Fill
) -> None:
    first = drop_specimens(actor=technician, lot=lot, fill=fill, shapes=["square", "bar"])
    third = drop_specimen(actor=technician, lot=lot, fill=fill, shape="tee")
    assert [piece.number for piece in (*first, third)] == [1, 2, 3]
    assert third.ready_at - third.dropped_at == timedelta(minutes=10)
    assert third.second_look_at is None
    entry = AuditEntry.objects.get(object_id=third.pk)
    assert entry.action == "samples.specimen.dropped"
    assert entry.facts["new"]["shape"] == "tee"


@pytest.mark.parametrize("role", ["auditor", "administrator"])
def test_who_may_not_measure_drops_nothing(
    role: str, lot: Lot, fill: Fill, request: pytest.FixtureRequest
) -> None:
    with pytest.raises(NotPermitted):
        drop_specimen(actor=request.getfixturevalue(role), lot=lot, fill=fill, shape="square")
    assert not Specimen.objects.exists()


@pytest.mark.parametrize(
    ("facts", "code"),
    [
        ({"shapes": []}, "number_of_specimens"),
        ({"shapes": ["square"] * 21}, "number_of_specimens"),
        ({"shapes": ["star"]}, "shape_unknown"),
        ({"shapes": ["bar"], "form": "liquid"}, "form_unknown"),
        ({"shapes": ["bar"], "form": "film"}, "thickness_not_valid"),
        ({"shapes": ["bar"], "form": "other"}, "wait_not_known"),
    ],
)
def test_odd_drops_are_refused(
    facts: dict[str, Any], code: str, technician: User, lot: Lot, fill: Fill
) -> None:
    with pytest.raises(RuleViolation) as refusal:
        drop_specimens(actor=technician, lot=lot, fill=fill, **facts)
    assert refusal.value.code == code
    assert not Specimen.objects.exists()


def test_a_thick_film_waits_less_than_a_thin_one(technician: User, lot: Lot, fill: Fill) -> None:
    thin, thick = (
        drop_specimen(
            actor=technician, lot=lot, fill=fill, shape="bar", form="film",
            thickness_mm=Decimal(thickness),
        )
        for thickness in ("0.030", "0.100")
    )  # fmt: skip
    assert thin.ready_at - thin.dropped_at == timedelta(minutes=90)
    assert thick.ready_at - thick.dropped_at == timedelta(minutes=46)


def test_nothing_is_dropped_into_a_fill_on_hold(technician: User, lot: Lot, fill: Fill) -> None:
    place_hold(actor=technician, fill=fill, reason="glass cracked", lifts_when="a look at it")
    with pytest.raises(Conflict) as refusal:
        drop_specimen(actor=technician, lot=lot, fill=fill, shape="bar")
    assert refusal.value.code == "on_hold"
    assert refusal.value.extra["may_override"] is False
    with pytest.raises(NotPermitted):
        drop_specimen(
            actor=technician, lot=lot, fill=fill, shape="bar", override_reason="in a hurry"
        )
    assert not Specimen.objects.exists()


def test_a_lead_overrides_with_a_reason_that_marks_the_result(
    technician: User, shift_lead: User, lot: Lot, fill: Fill
) -> None:
    place_hold(actor=technician, fill=fill, reason="glass cracked", lifts_when="a look at it")
    with pytest.raises(RuleViolation):
        drop_specimen(actor=shift_lead, lot=lot, fill=fill, shape="bar", override_reason=".")
    piece = drop_specimen(
        actor=shift_lead, lot=lot, fill=fill, shape="bar", override_reason="crack is above liquid"
    )
    entry = AuditEntry.objects.get(object_id=piece.pk)
    assert entry.action == "samples.specimen.dropped_by_override"
    assert entry.reason == "crack is above liquid"
    later = factories.clock_at(SYSTEM_CLOCK.now() + timedelta(minutes=15))
    reading = factories.make_reading(actor=shift_lead, specimen=piece, clock=later)
    found = [each["code"] for each in reading.results.get().finding_list]
    assert found == ["override_closed", "no_calibration"]


@pytest.mark.parametrize("state", ["planned", "settling", "drained"])
def test_a_fill_that_is_not_open_takes_nothing(
    state: str, manager: User, shift_lead: User, lot: Lot, fill: Fill
) -> None:
    other = factories.make_column(actor=manager, name="Birch", bath=fill.column.bath)
    if state == "planned":
        fill = factories.make_planned_fill(actor=manager, column=other)
    elif state == "settling":
        at = SYSTEM_CLOCK.now() - timedelta(hours=2)
        fill = factories.make_settling_fill(actor=manager, at=at, column=other, prefix="F-2")
    else:
        fill = drain_fill(actor=manager, fill=fill, reason="worn out")
    with pytest.raises(Conflict) as refusal:
        drop_specimen(actor=shift_lead, lot=lot, fill=fill, shape="bar")
    assert refusal.value.code == state
    assert refusal.value.extra["may_override"] is (state == "settling")


def test_a_drop_is_not_in_the_future(technician: User, lot: Lot, fill: Fill) -> None:
    with pytest.raises(RuleViolation) as refusal:
        drop_specimen(
            actor=technician, lot=lot, fill=fill, shape="bar",
            dropped_at=SYSTEM_CLOCK.now() + timedelta(minutes=5),
        )  # fmt: skip
    assert refusal.value.code == "time_in_future"


def test_taking_over_is_recorded_once(other_technician: User, pieces: list[Any]) -> None:
    taken = take_over_specimens(actor=other_technician, specimens=pieces)
    assert {piece.reader_id for piece in taken} == {other_technician.pk}
    count = AuditEntry.objects.count()
    take_over_specimens(actor=other_technician, specimens=pieces)
    assert AuditEntry.objects.count() == count


def test_a_clearing_pass_takes_the_pieces_out(
    technician: User, pieces: list[Any], fill: Fill
) -> None:
    now = SYSTEM_CLOCK.now()
    started = start_basket_pass(
        actor=technician, fill=fill, clock=factories.clock_at(now + timedelta(minutes=1))
    )
    done = finish_basket_pass(
        actor=technician,
        basket_pass=started,
        floats_out=9,
        floats_in=9,
        clock=factories.clock_at(now + timedelta(minutes=141)),
    )
    for piece in Specimen.objects.all():
        assert piece.removed_in == done
        assert piece.removed_at == done.ended_at
        entry = AuditEntry.objects.filter(object_id=piece.pk).first()
        assert entry.action == "samples.specimen.removed"
    with pytest.raises(Conflict) as refusal:
        factories.make_reading(
            actor=technician,
            specimen=pieces[0],
            clock=factories.clock_at(now + timedelta(minutes=150)),
        )
    assert refusal.value.code == "specimen_removed"


def test_what_lies_in_a_drained_fill_goes_with_it(
    manager: User, pieces: list[Any], fill: Fill
) -> None:
    drain_fill(actor=manager, fill=fill, reason="worn out")
    assert not Specimen.objects.filter(removed_at__isnull=True).exists()
    assert Column.objects.count() == 1
