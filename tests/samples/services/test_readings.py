"""Readings: what is kept, what is refused, and the density that follows at once."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from columns.models import CalibrationFloat, Fill
from columns.services.holds import place_hold
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from labsite.clock import SYSTEM_CLOCK
from labsite.errors import Conflict, NotPermitted, RuleViolation
from samples.models import DensityResult, Lot, Reading
from samples.services.readings import amend_reading, record_reading, withdraw_reading
from tests import factories

pytestmark = pytest.mark.django_db


def result_of(reading: Reading) -> DensityResult:
    return reading.results.get(superseded_at__isnull=True)


def test_a_height_gives_its_density_at_once(technician: User, pieces: list[Any]) -> None:
    reading = factories.make_reading(actor=technician, specimen=pieces[0], height_mm="455.0")
    result = result_of(reading)
    # between 0.9201 at 429.0 mm and 0.9149 at 502.0 mm, by hand: 0.9201 - 0.0052 x 26/73
    expected = Fraction("0.9201") - Fraction("0.0052") * Fraction(26, 73)
    assert result.outcome == "measured"
    assert result.bracketing_g_cm3 == Decimal("0.9182479")
    assert Fraction(result.result_facts["density_exact"]) == expected
    assert abs(result.curve_g_cm3 - result.bracketing_g_cm3) < Decimal("0.0003")
    assert Decimal("0.00001") < result.bracketing_u_g_cm3 < Decimal("0.0003")
    assert result.calibration is not None
    assert "bracketing/1" in result.method_version


def test_reading_and_result_each_leave_an_entry(technician: User, pieces: list[Any]) -> None:
    before = AuditEntry.objects.count()
    reading = factories.make_reading(actor=technician, specimen=pieces[0])
    entries = AuditEntry.objects.order_by("id")[before:]
    assert [entry.action for entry in entries] == [
        "samples.reading.recorded",
        "samples.result.computed",
    ]
    assert entries[0].facts["new"]["height_mm"] == "455.00"
    assert entries[0].object_id == reading.pk


def test_exactly_on_a_float_gives_its_density(technician: User, pieces: list[Any]) -> None:
    reading = factories.make_reading(actor=technician, specimen=pieces[0], height_mm="429.0")
    assert result_of(reading).bracketing_g_cm3 == Decimal("0.9201000")


@pytest.mark.parametrize(
    ("height", "outcome", "bound"), [("645.0", "lighter", "F-101"), ("79.5", "denser", "F-109")]
)
def test_beyond_the_end_floats_there_is_no_number(
    height: str, outcome: str, bound: str, technician: User, pieces: list[Any]
) -> None:
    result = result_of(
        factories.make_reading(actor=technician, specimen=pieces[0], height_mm=height)
    )
    assert result.outcome == outcome
    assert result.bound_float.label == bound
    assert result.bracketing_g_cm3 is None
    assert result.curve_g_cm3 is None


@pytest.mark.parametrize(
    ("outcome", "told", "bound"),
    [("off_top", "lighter", "F-101"), ("off_bottom", "denser", "F-109")],
)
def test_off_the_scale_is_lighter_or_denser_than_the_end_float(
    outcome: str, told: str, bound: str, technician: User, pieces: list[Any]
) -> None:
    reading = factories.make_reading(
        actor=technician, specimen=pieces[0], outcome=outcome, height_mm=None
    )
    assert (result_of(reading).outcome, result_of(reading).bound_float.label) == (told, bound)


@pytest.mark.parametrize("outcome", ["bubble", "not_at_rest", "cannot_tell"])
def test_other_outcomes_are_kept_and_give_no_density(
    outcome: str, technician: User, pieces: list[Any]
) -> None:
    reading = factories.make_reading(
        actor=technician, specimen=pieces[0], outcome=outcome, height_mm=None
    )
    assert reading.outcome == outcome
    assert not reading.results.exists()


@pytest.mark.parametrize(
    ("facts", "code"),
    [
        ({"height_mm": Decimal("4125")}, "height_off_scale"),
        ({"height_mm": Decimal("-3")}, "height_off_scale"),
        ({"height_mm": Decimal("700.5")}, "height_off_scale"),
        ({"height_mm": None}, "height_required"),
        ({"outcome": "off_top", "height_mm": Decimal("5")}, "height_not_expected"),
        ({"outcome": "cannot_tell", "height_mm": Decimal("5")}, "height_not_expected"),
        ({"outcome": "resting"}, "outcome_unknown"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_saved(
    facts: dict[str, Any], code: str, technician: User, pieces: list[Any]
) -> None:
    before = AuditEntry.objects.count()
    given = {"outcome": "at_rest", "height_mm": Decimal("455"), **facts}
    with pytest.raises(RuleViolation) as refusal:
        record_reading(actor=technician, specimen=pieces[0], **given)
    assert refusal.value.code == code
    assert not Reading.objects.exists()
    assert AuditEntry.objects.count() == before


def tapped(upper: str | None, lower: str | None) -> dict[str, Any]:
    found = {each.label: each for each in CalibrationFloat.objects.all()}
    return {"gap_upper_float": found.get(upper), "gap_lower_float": found.get(lower)}


def test_a_height_in_the_tapped_gap_is_taken(technician: User, pieces: list[Any]) -> None:
    reading = factories.make_reading(
        actor=technician, specimen=pieces[0], **tapped("F-103", "F-104")
    )
    assert reading.gap_upper_float.label == "F-103"


def test_another_gap_than_the_tapped_one_stops_and_shows_both(
    technician: User, pieces: list[Any]
) -> None:
    with pytest.raises(RuleViolation) as refusal:
        factories.make_reading(actor=technician, specimen=pieces[0], **tapped("F-105", "F-106"))
    error = refusal.value
    assert error.code == "outside_tapped_gap"
    assert error.extra["tapped"]["upper_float"] == "F-105"
    assert error.extra["typed"]["upper_float"] == "F-103"
    assert error.extra["typed"]["lower_float"] == "F-104"
    assert error.extra["suggestion"] is None
    assert "F-105" in str(error.message)
    assert "F-103" in str(error.message)
    assert not Reading.objects.exists()


def test_centimetres_come_with_the_question(technician: User, pieces: list[Any]) -> None:
    with pytest.raises(RuleViolation) as refusal:
        factories.make_reading(
            actor=technician, specimen=pieces[0], height_mm="45.50", **tapped("F-103", "F-104")
        )
    assert refusal.value.extra["suggestion"] == "455"
    assert "Did you mean 455 mm?" in str(refusal.value.message)


def test_above_the_uppermost_float_is_a_gap_too(technician: User, pieces: list[Any]) -> None:
    reading = factories.make_reading(
        actor=technician, specimen=pieces[0], height_mm="650", **tapped(None, "F-101")
    )
    assert result_of(reading).outcome == "lighter"


def test_a_reversed_gap_is_refused(technician: User, pieces: list[Any]) -> None:
    with pytest.raises(RuleViolation) as refusal:
        factories.make_reading(actor=technician, specimen=pieces[0], **tapped("F-104", "F-103"))
    assert refusal.value.code == "gap_reversed"


def test_read_too_soon_is_kept_as_not_at_rest(technician: User, lot: Lot, fill: Fill) -> None:
    piece = factories.make_specimens(
        actor=technician, lot=lot, fill=fill, count=1, at=SYSTEM_CLOCK.now() - timedelta(minutes=4)
    )[0]
    reading = factories.make_reading(actor=technician, specimen=piece)
    assert reading.outcome == "not_at_rest"
    assert reading.height_mm == Decimal("455.0")
    assert not reading.results.exists()


def test_a_time_before_the_drop_is_refused_with_both_clocks(
    technician: User, pieces: list[Any]
) -> None:
    with pytest.raises(RuleViolation) as refusal:
        factories.make_reading(
            actor=technician,
            specimen=pieces[0],
            read_at=pieces[0].dropped_at - timedelta(minutes=1),
        )
    assert refusal.value.code == "read_before_drop"


def test_a_time_ahead_of_the_clock_is_refused(technician: User, pieces: list[Any]) -> None:
    with pytest.raises(RuleViolation) as refusal:
        factories.make_reading(
            actor=technician,
            specimen=pieces[0],
            read_at=SYSTEM_CLOCK.now() + timedelta(minutes=3),
        )
    assert refusal.value.code == "time_in_future"
    assert "server" in str(refusal.value.message)


def test_a_late_entry_says_why(technician: User, lot: Lot, fill: Fill) -> None:
    now = SYSTEM_CLOCK.now()
    piece = factories.make_specimens(
        actor=technician, lot=lot, fill=fill, count=1, at=now - timedelta(minutes=4)
    )[0]
    later = factories.clock_at(now + timedelta(hours=3))
    facts = {"specimen": piece, "read_at": now + timedelta(minutes=20), "clock": later}
    with pytest.raises(RuleViolation) as refusal:
        factories.make_reading(actor=technician, **facts)
    assert refusal.value.code == "late_reason_required"
    reading = factories.make_reading(actor=technician, late_reason="tablet had no network", **facts)
    assert reading.late_reason == "tablet had no network"
    assert reading.outcome == "at_rest"


def test_without_a_calibration_the_reading_is_kept_and_has_no_density(
    technician: User, pieces: list[Any], fill: Fill
) -> None:
    place_hold(actor=technician, fill=fill, reason="knocked", lifts_when="two equal sets")
    reading = factories.make_reading(actor=technician, specimen=pieces[0])
    result = result_of(reading)
    assert reading.height_mm == Decimal("455.0")
    assert result.outcome == "none"
    assert result.calibration is None
    assert result.bracketing_g_cm3 is None
    assert result.finding_list[0]["code"] == "no_calibration"
    assert result.finding_list[0]["why"] == "on_hold"


def test_the_second_of_two_readers_gets_the_first_value(
    technician: User, other_technician: User, pieces: list[Any]
) -> None:
    factories.make_reading(actor=technician, specimen=pieces[0], height_mm="455.0")
    with pytest.raises(Conflict) as refusal:
        factories.make_reading(actor=other_technician, specimen=pieces[0], height_mm="470.0")
    assert refusal.value.code == "already_read"
    assert refusal.value.extra["current"]["height_mm"] == "455.00"
    assert refusal.value.extra["current"]["read_by"] == "Imre"
    assert refusal.value.extra["seen_readings"] == 1
    chosen = factories.make_reading(
        actor=other_technician, specimen=pieces[0], height_mm="456.0", seen_readings=1
    )
    assert chosen.density_seen is True
    assert Reading.objects.count() == 2


def test_a_clash_shows_no_height_to_whom_the_lot_is_masked(
    technician: User, other_technician: User, pieces: list[Any]
) -> None:
    factories.make_reading(actor=other_technician, specimen=pieces[0], height_mm="455.0")
    with pytest.raises(Conflict) as refusal:
        factories.make_reading(actor=technician, specimen=pieces[0], height_mm="470.0")
    assert refusal.value.extra["current"]["masked"] is True
    assert refusal.value.extra["current"]["height_mm"] is None


@pytest.mark.parametrize("role", ["auditor", "administrator"])
def test_readers_of_the_lab_write_no_reading(
    role: str, pieces: list[Any], request: pytest.FixtureRequest
) -> None:
    with pytest.raises(NotPermitted):
        factories.make_reading(actor=request.getfixturevalue(role), specimen=pieces[0])
    assert not Reading.objects.exists()


def test_an_undo_within_ten_seconds_stays_recorded(technician: User, pieces: list[Any]) -> None:
    reading = factories.make_reading(actor=technician, specimen=pieces[0], height_mm="465.0")
    undone = withdraw_reading(actor=technician, reading=reading)
    assert undone.withdrawn_at is not None
    assert undone.withdraw_reason == "undo"
    entry = AuditEntry.objects.filter(object_id=reading.pk).first()
    assert (entry.action, entry.reason) == ("samples.reading.withdrawn", "undo")
    again = factories.make_reading(actor=technician, specimen=pieces[0], height_mm="455.0")
    assert again.density_seen is True
    assert {f["code"] for f in result_of(again).finding_list} == {"density_seen"}


def test_an_undo_is_repeated_without_effect(technician: User, pieces: list[Any]) -> None:
    reading = factories.make_reading(actor=technician, specimen=pieces[0])
    withdraw_reading(actor=technician, reading=reading)
    count = AuditEntry.objects.count()
    withdraw_reading(actor=technician, reading=reading)
    assert AuditEntry.objects.count() == count


def test_after_ten_seconds_a_reading_is_amended_not_undone(
    technician: User, pieces: list[Any]
) -> None:
    reading = factories.make_reading(actor=technician, specimen=pieces[0])
    late = factories.clock_at(reading.created_at + timedelta(seconds=11))
    with pytest.raises(Conflict) as refusal:
        withdraw_reading(actor=technician, reading=reading, clock=late)
    assert refusal.value.code == "too_late_to_undo"


def test_nobody_undoes_another_persons_reading(
    technician: User, shift_lead: User, pieces: list[Any]
) -> None:
    reading = factories.make_reading(actor=technician, specimen=pieces[0])
    with pytest.raises(NotPermitted):
        withdraw_reading(actor=shift_lead, reading=reading)


def test_an_amendment_keeps_the_first_value(technician: User, pieces: list[Any]) -> None:
    first = factories.make_reading(actor=technician, specimen=pieces[0], height_mm="465.0")
    new = amend_reading(
        actor=technician, reading=first, height_mm=Decimal("456.0"), reason="misread by a line"
    )
    first.refresh_from_db()
    assert first.height_mm == Decimal("465.00")
    assert first.replaced_at is not None
    assert new.amends == first
    assert new.read_at == first.read_at
    assert result_of(new).bracketing_g_cm3 == Decimal("0.9181767")
    entry = AuditEntry.objects.get(object_id=new.pk)
    assert entry.reason == "misread by a line"


@pytest.mark.parametrize("reason", [".", "   ", ""])
def test_an_amendment_needs_a_real_reason(reason: str, technician: User, pieces: list[Any]) -> None:
    first = factories.make_reading(actor=technician, specimen=pieces[0])
    with pytest.raises(RuleViolation) as refusal:
        amend_reading(actor=technician, reading=first, height_mm=Decimal("456"), reason=reason)
    assert refusal.value.code == "reason_required"
    assert Reading.objects.count() == 1


def test_only_a_lead_amends_another_persons_reading(
    technician: User, other_technician: User, shift_lead: User, pieces: list[Any]
) -> None:
    first = factories.make_reading(actor=technician, specimen=pieces[0])
    facts = {"reading": first, "height_mm": Decimal("456"), "reason": "seen on the photograph"}
    with pytest.raises(NotPermitted):
        amend_reading(actor=other_technician, **facts)
    new = amend_reading(actor=shift_lead, **facts)
    assert (new.read_by, new.entered_by) == (technician, shift_lead)


def test_a_replaced_reading_is_not_amended_again(technician: User, pieces: list[Any]) -> None:
    first = factories.make_reading(actor=technician, specimen=pieces[0])
    facts = {"height_mm": Decimal("456"), "reason": "misread by a line"}
    amend_reading(actor=technician, reading=first, **facts)
    with pytest.raises(Conflict):
        amend_reading(actor=technician, reading=first, **facts)


def test_a_film_counts_after_its_second_look(technician: User, manager: User, fill: Fill) -> None:
    recipe = factories.make_recipe(
        actor=manager, name="Thin film", form="film", thickness_mm=Decimal("0.050")
    )
    grade = factories.make_grade(actor=manager, name="Teal coating", recipe=recipe)
    lot = factories.make_lot(actor=technician, grade=grade, code="TL-1033")
    now = SYSTEM_CLOCK.now()
    piece = factories.make_specimens(actor=technician, lot=lot, fill=fill, count=1, at=now)[0]
    assert piece.ready_at - piece.dropped_at == timedelta(minutes=90)
    assert piece.second_look_at - piece.dropped_at == timedelta(hours=3)
    early = factories.make_reading(
        actor=technician, specimen=piece, clock=factories.clock_at(now + timedelta(minutes=95))
    )
    assert [f["code"] for f in result_of(early).finding_list] == ["second_look_due"]
    second = factories.make_reading(
        actor=technician,
        specimen=piece,
        height_mm="457.0",
        clock=factories.clock_at(now + timedelta(minutes=185)),
    )
    assert [f["code"] for f in result_of(second).finding_list] == ["second_look_differs"]
    assert second.density_seen is False
