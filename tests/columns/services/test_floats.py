"""Floats: registered, placed, removed, in quarantine."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import pytest

from columns import audit_actions as actions
from columns.models import CalibrationFloat, Fill, FloatPlacement
from columns.services.certificates import change_certificate
from columns.services.floats import (
    change_float,
    lift_quarantine,
    place_float,
    quarantine_float,
    register_float,
    remove_float,
    retire_float,
)
from columns.signals import calibrations_changed
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from labsite.errors import Conflict, LabError, NotPermitted
from tests import factories
from tests.factories import clock_at

pytestmark = pytest.mark.django_db


@pytest.fixture
def poured(shift_lead: User, now: datetime) -> Fill:
    """A poured fill without floats."""
    return factories.make_settling_fill(actor=shift_lead, at=now - timedelta(days=2), floats=())


@pytest.fixture
def spare(shift_lead: User) -> CalibrationFloat:
    """A float of 0.9201 g/cm³ in no fill."""
    return factories.make_float(actor=shift_lead, label="F-901")


def refused(code: str, call: Any) -> LabError:
    before = AuditEntry.objects.count()
    with pytest.raises(LabError) as caught:
        call()
    assert caught.value.code == code
    assert AuditEntry.objects.count() == before
    return caught.value


def test_a_label_is_taken_once_whatever_its_case(shift_lead: User, entries_of: Any) -> None:
    each = register_float(actor=shift_lead, label="  f-77 ")
    assert each.label == "F-77"
    assert entries_of(each) == [actions.FLOAT_REGISTERED]
    refused("name_taken", lambda: register_float(actor=shift_lead, label="F-77"))
    refused("name_required", lambda: register_float(actor=shift_lead, label="  "))


def test_a_technician_registers_no_float(technician: User) -> None:
    with pytest.raises(NotPermitted):
        register_float(actor=technician, label="F-78")


def test_a_label_is_corrected_with_a_reason(
    spare: CalibrationFloat, shift_lead: User, entries_of: Any
) -> None:
    found = change_float(
        actor=shift_lead, calibration_float=spare, label="f-902", reason="label misread"
    )
    assert found.label == "F-902"
    assert entries_of(spare)[-1] == actions.FLOAT_CHANGED


def test_a_float_is_placed_and_taken_out(
    spare: CalibrationFloat, poured: Fill, technician: User, entries_of: Any
) -> None:
    placement = place_float(actor=technician, calibration_float=spare, fill=poured)
    remove_float(actor=technician, placement=placement, reason="chipped rim")
    assert entries_of(placement) == [actions.FLOAT_PLACED, actions.FLOAT_REMOVED]
    refused(
        "already_removed",
        lambda: remove_float(actor=technician, placement=placement, reason="chipped rim"),
    )


def test_a_float_is_in_one_fill_at_a_time(open_fill: Fill, shift_lead: User, now: datetime) -> None:
    other = factories.make_settling_fill(
        actor=shift_lead,
        at=now - timedelta(days=1),
        column=factories.make_column(actor=shift_lead, name="Birch"),
        floats=(),
    )
    each = open_fill.placements.first().calibration_float
    error = refused(
        "float_in_a_fill",
        lambda: place_float(actor=shift_lead, calibration_float=each, fill=other),
    )
    assert isinstance(error, Conflict)
    assert "Ash" in error.message


def test_a_float_in_quarantine_is_not_placed(
    spare: CalibrationFloat, poured: Fill, technician: User, shift_lead: User
) -> None:
    quarantine = quarantine_float(actor=technician, calibration_float=spare, reason="chipped")
    refused(
        "float_quarantined",
        lambda: place_float(actor=technician, calibration_float=spare, fill=poured),
    )
    lift_quarantine(actor=shift_lead, quarantine=quarantine, reason="weighed, unchanged")
    assert place_float(actor=technician, calibration_float=spare, fill=poured)


@pytest.mark.parametrize(
    "dates",
    [
        {"valid_until": date(2021, 1, 1)},
        {"issued_on": date(2098, 1, 1), "valid_until": date(2099, 1, 1)},
    ],
)
def test_a_float_without_a_valid_certificate_is_not_placed(
    spare: CalibrationFloat,
    poured: Fill,
    shift_lead: User,
    technician: User,
    dates: dict[str, Any],
) -> None:
    change_certificate(
        actor=shift_lead,
        certificate=spare.certificates.get(),
        reason="typed from the wrong sheet",
        **dates,
    )
    refused(
        "certificate_not_valid",
        lambda: place_float(actor=technician, calibration_float=spare, fill=poured),
    )


def test_a_float_without_any_certificate_is_not_placed(poured: Fill, shift_lead: User) -> None:
    bare = register_float(actor=shift_lead, label="F-903")
    refused(
        "certificate_not_valid",
        lambda: place_float(actor=shift_lead, calibration_float=bare, fill=poured),
    )


def test_a_float_whose_density_is_outside_the_liquid_is_not_placed(
    poured: Fill, shift_lead: User
) -> None:
    heavy = factories.make_float(actor=shift_lead, label="F-904", density="0.9501")
    refused(
        "float_outside_liquid",
        lambda: place_float(actor=shift_lead, calibration_float=heavy, fill=poured),
    )


def test_two_floats_of_one_density_are_not_placed_in_one_fill(
    spare: CalibrationFloat, poured: Fill, shift_lead: User
) -> None:
    twin = factories.make_float(actor=shift_lead, label="F-905")
    place_float(actor=shift_lead, calibration_float=spare, fill=poured)
    refused(
        "float_densities_equal",
        lambda: place_float(actor=shift_lead, calibration_float=twin, fill=poured),
    )


def test_a_float_is_placed_in_liquid_only(spare: CalibrationFloat, shift_lead: User) -> None:
    planned = factories.make_planned_fill(actor=shift_lead)
    refused(
        "wrong_state",
        lambda: place_float(actor=shift_lead, calibration_float=spare, fill=planned),
    )


def test_times_of_a_placement_are_in_order(
    spare: CalibrationFloat, poured: Fill, technician: User, now: datetime
) -> None:
    def place(at: datetime) -> FloatPlacement:
        return place_float(actor=technician, calibration_float=spare, fill=poured, placed_at=at)

    refused("before_pour", lambda: place(now - timedelta(days=3)))
    refused("time_in_future", lambda: place(now + timedelta(days=1)))
    placement = place(now - timedelta(hours=3))
    refused(
        "removed_before_placed",
        lambda: remove_float(
            actor=technician,
            placement=placement,
            reason="chipped",
            removed_at=now - timedelta(hours=4),
        ),
    )
    remove_float(
        actor=technician,
        placement=placement,
        reason="chipped",
        removed_at=now - timedelta(hours=2),
    )
    refused("placed_before_removal", lambda: place(now - timedelta(hours=3)))


def test_a_float_in_use_is_not_retired(
    spare: CalibrationFloat, poured: Fill, shift_lead: User, entries_of: Any
) -> None:
    placement = place_float(actor=shift_lead, calibration_float=spare, fill=poured)

    def retire() -> CalibrationFloat:
        return retire_float(actor=shift_lead, calibration_float=spare, reason="worn out")

    refused("float_in_a_fill", retire)
    remove_float(actor=shift_lead, placement=placement, reason="chipped")
    assert retire().retired_at is not None
    assert entries_of(spare)[-1] == actions.FLOAT_RETIRED
    refused("already_retired", retire)
    refused(
        "float_retired",
        lambda: place_float(actor=shift_lead, calibration_float=spare, fill=poured),
    )


def test_a_quarantine_is_placed_by_a_technician_and_lifted_by_a_lead(
    spare: CalibrationFloat, technician: User, shift_lead: User, entries_of: Any
) -> None:
    quarantine = quarantine_float(actor=technician, calibration_float=spare, reason="chipped")
    refused(
        "already_quarantined",
        lambda: quarantine_float(actor=technician, calibration_float=spare, reason="chipped"),
    )
    with pytest.raises(NotPermitted):
        lift_quarantine(actor=technician, quarantine=quarantine, reason="weighed")
    lift_quarantine(actor=shift_lead, quarantine=quarantine, reason="weighed, unchanged")
    refused(
        "already_lifted",
        lambda: lift_quarantine(actor=shift_lead, quarantine=quarantine, reason="weighed"),
    )
    assert entries_of(quarantine) == [actions.FLOAT_QUARANTINED, actions.QUARANTINE_LIFTED]


def test_a_quarantine_from_the_past_tells_every_fill_the_float_was_in_since(
    open_fill: Fill, technician: User, now: datetime
) -> None:
    heard = []

    def hear(sender: Any, fill: Fill, since_at: datetime, log: Any, **_: Any) -> None:
        heard.append((fill, since_at))

    each = open_fill.placements.first().calibration_float
    since = now - timedelta(hours=2)
    calibrations_changed.connect(hear)
    quarantine_float(
        actor=technician,
        calibration_float=each,
        reason="chipped",
        from_at=since,
        clock=clock_at(now),
    )
    calibrations_changed.disconnect(hear)
    assert heard == [(open_fill, since)]
