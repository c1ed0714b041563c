"""docs/calibration-in-force.md: it starts with a set that passes and ends at the first event."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from columns.models import Certificate, Fill
from columns.selectors.calibrations import (
    calibration_in_force,
    calibration_states,
    physics_of,
    valid_until,
    why_no_calibration,
)
from columns.selectors.fills import drop_refusal, standing, standings
from columns.selectors.hold_offs import excursion_rest
from columns.selectors.rules import lab_rules
from columns.services.basket_passes import finish_basket_pass, start_basket_pass
from columns.services.baths import amend_bath_temperature, record_bath_temperature
from columns.services.certificates import change_certificate
from columns.services.fills import drain_fill
from columns.services.floats import lift_quarantine, quarantine_float, remove_float
from columns.services.holds import lift_hold, place_hold
from columns.services.rules import change_lab_rules
from labsite.accounts.models import User
from tests import factories
from tests.factories import clock_at

pytestmark = pytest.mark.django_db

MINUTE = timedelta(minutes=1)
HOUR = timedelta(hours=1)


def test_a_passing_set_starts_it_and_age_ends_it(open_fill: Fill, now: datetime) -> None:
    found = calibration_in_force(open_fill, now)
    read_at = now - 5 * MINUTE
    assert found.float_set.read_at == read_at
    assert valid_until(found) == read_at + 8 * HOUR
    assert calibration_in_force(open_fill, read_at) == found
    assert calibration_in_force(open_fill, read_at + 8 * HOUR - MINUTE) == found
    assert calibration_in_force(open_fill, read_at + 8 * HOUR) is None
    assert why_no_calibration(open_fill, read_at + 8 * HOUR).code == "too_old"


def test_before_the_first_set_there_is_none(open_fill: Fill, now: datetime) -> None:
    refusal = why_no_calibration(open_fill, now - 10 * HOUR)
    assert refusal.code == "no_float_set"
    assert calibration_in_force(open_fill, now - 10 * HOUR) is None


def test_between_two_sets_the_earlier_one_counts(open_fill: Fill, now: datetime) -> None:
    earlier = calibration_in_force(open_fill, now - HOUR)
    assert earlier.float_set.read_at == now - 4 * HOUR
    assert valid_until(earlier) == now - 5 * MINUTE


def test_a_set_that_does_not_pass_neither_starts_nor_ends_one(
    open_fill: Fill, technician: User, now: datetime
) -> None:
    heights = factories.heights_of(open_fill)
    for entry, reason in zip(heights[:4], ["broken off view"] * 4, strict=True):
        entry["height_mm"] = None
        entry["missing_reason"] = reason
    bent = [*heights]
    for entry, height in zip(bent[4:], ("500", "499", "498", "100", "20"), strict=True):
        entry["height_mm"] = Decimal(height)
    saved = factories.make_float_set(
        actor=technician, fill=open_fill, at=now + MINUTE, heights=bent
    )
    assert not saved.calibration.passes
    assert calibration_in_force(open_fill, now + 2 * MINUTE).float_set.read_at == now - 5 * MINUTE


def test_a_basket_pass_ends_it(open_fill: Fill, technician: User, now: datetime) -> None:
    start_basket_pass(actor=technician, fill=open_fill, clock=clock_at(now + MINUTE))
    assert calibration_in_force(open_fill, now) is not None
    assert calibration_in_force(open_fill, now + MINUTE) is None
    assert why_no_calibration(open_fill, now + MINUTE).code == "basket_pass"
    assert standing(open_fill, now + MINUTE).findings[0].code == "pass_running"


def test_after_a_pass_the_column_rests_and_a_set_read_meanwhile_does_not_pass(
    open_fill: Fill, technician: User, now: datetime
) -> None:
    began = now
    basket_pass = start_basket_pass(actor=technician, fill=open_fill, clock=clock_at(began))
    finish_basket_pass(
        actor=technician, basket_pass=basket_pass, clock=clock_at(began + 70 * MINUTE)
    )
    saved = factories.make_float_set(actor=technician, fill=open_fill, at=began + 2 * HOUR)
    codes = [each["code"] for each in saved.calibration.result_facts["findings"]]
    assert codes == ["pass_hold_off"]
    assert not saved.calibration.passes
    assert drop_refusal(open_fill, began + 2 * HOUR).code == "pass_hold_off"
    rested = began + 70 * MINUTE + 12 * HOUR
    assert drop_refusal(open_fill, rested).code == "basket_pass"
    factories.make_float_set(actor=technician, fill=open_fill, at=rested)
    assert drop_refusal(open_fill, rested) is None


def test_a_hold_ends_it_and_lifting_does_not_bring_it_back(
    open_fill: Fill, technician: User, shift_lead: User, now: datetime
) -> None:
    hold = place_hold(
        actor=technician,
        fill=open_fill,
        reason="cloudy below F-105",
        lifts_when="clear again",
        clock=clock_at(now + MINUTE),
    )
    assert why_no_calibration(open_fill, now + 2 * MINUTE).code == "on_hold"
    assert standing(open_fill, now + 2 * MINUTE).state == "on_hold"
    lift_hold(actor=shift_lead, hold=hold, reason="clear", clock=clock_at(now + 3 * MINUTE))
    assert why_no_calibration(open_fill, now + 4 * MINUTE).code == "hold_placed"
    assert standing(open_fill, now + 4 * MINUTE).state == "closed"
    factories.make_float_set(actor=technician, fill=open_fill, at=now + 5 * MINUTE)
    assert standing(open_fill, now + 6 * MINUTE).state == "open"


def test_a_set_read_during_a_hold_counts_once_it_is_lifted(
    open_fill: Fill, technician: User, shift_lead: User, now: datetime
) -> None:
    hold = place_hold(
        actor=technician,
        fill=open_fill,
        reason="cloudy below F-105",
        lifts_when="a set that agrees",
        clock=clock_at(now + MINUTE),
    )
    saved = factories.make_float_set(actor=technician, fill=open_fill, at=now + 2 * MINUTE)
    assert saved.calibration.passes
    assert calibration_in_force(open_fill, now + 3 * MINUTE) is None
    lift_hold(actor=shift_lead, hold=hold, reason="agrees", clock=clock_at(now + 4 * MINUTE))
    assert calibration_in_force(open_fill, now + 5 * MINUTE) == saved.calibration


def test_an_excursion_ends_it_and_the_bath_rests_before_the_next_set(
    open_fill: Fill, technician: User, now: datetime
) -> None:
    bath = open_fill.column.bath
    record_bath_temperature(
        actor=technician,
        bath=bath,
        temperature_c=Decimal("24.3"),
        measured_at=now + MINUTE,
    )
    record_bath_temperature(
        actor=technician,
        bath=bath,
        temperature_c=Decimal("23.0"),
        measured_at=now + 2 * MINUTE,
    )
    assert calibration_in_force(open_fill, now) is not None
    assert why_no_calibration(open_fill, now + 3 * MINUTE).code == "excursion"
    soon = factories.make_float_set(actor=technician, fill=open_fill, at=now + 10 * MINUTE)
    codes = [each["code"] for each in soon.calibration.result_facts["findings"]]
    assert codes == ["excursion_hold_off"]
    rested = now + 2 * MINUTE + 3 * HOUR  # bore 60 mm, 1.3 K
    later = factories.make_float_set(actor=technician, fill=open_fill, at=rested)
    assert later.calibration.passes


def test_an_amended_temperature_takes_the_excursion_back(
    open_fill: Fill, technician: User, now: datetime
) -> None:
    wrong = record_bath_temperature(
        actor=technician,
        bath=open_fill.column.bath,
        temperature_c=Decimal("32.0"),
        measured_at=now + MINUTE,
    )
    assert calibration_in_force(open_fill, now + 2 * MINUTE) is None
    amend_bath_temperature(
        actor=technician, temperature=wrong, temperature_c=Decimal("23.0"), reason="digits swapped"
    )
    assert calibration_in_force(open_fill, now + 2 * MINUTE) is not None


def test_the_edge_of_the_tolerance_is_inside(
    open_fill: Fill, technician: User, now: datetime
) -> None:
    for at, value in ((now + MINUTE, "23.1"), (now + 2 * MINUTE, "22.9")):
        record_bath_temperature(
            actor=technician,
            bath=open_fill.column.bath,
            temperature_c=Decimal(value),
            measured_at=at,
        )
    assert calibration_in_force(open_fill, now + 3 * MINUTE) is not None


def test_a_removed_float_ends_it(open_fill: Fill, technician: User, now: datetime) -> None:
    placement = open_fill.placements.first()
    remove_float(
        actor=technician, placement=placement, reason="chipped", clock=clock_at(now + MINUTE)
    )
    assert why_no_calibration(open_fill, now + 2 * MINUTE).code == "float_removed"


def test_a_quarantine_ends_it_from_the_stated_time_on(
    open_fill: Fill, technician: User, shift_lead: User, now: datetime
) -> None:
    each = open_fill.placements.first().calibration_float
    quarantine = quarantine_float(
        actor=technician, calibration_float=each, reason="chipped", from_at=now + MINUTE
    )
    assert calibration_in_force(open_fill, now) is not None
    assert why_no_calibration(open_fill, now + MINUTE).code == "float_quarantined"
    lift_quarantine(actor=shift_lead, quarantine=quarantine, reason="weighed, unchanged")
    assert calibration_in_force(open_fill, now + 2 * MINUTE) is None  # what ended stays ended


def test_a_quarantine_from_before_the_set_leaves_it_no_time_at_all(
    open_fill: Fill, technician: User, now: datetime
) -> None:
    each = open_fill.placements.first().calibration_float
    quarantine_float(actor=technician, calibration_float=each, reason="chipped", from_at=now - HOUR)
    assert why_no_calibration(open_fill, now - 2 * MINUTE).code == "float_quarantined"
    assert calibration_in_force(open_fill, now - 2 * HOUR) is not None


def test_a_lapsing_certificate_ends_it_at_the_end_of_its_last_day(
    shift_lead: User, technician: User
) -> None:
    zone = ZoneInfo("Europe/London")
    evening = datetime(2026, 6, 10, 20, 0, tzinfo=zone)
    fill = factories.make_open_fill(actor=shift_lead, at=evening, reader=technician)
    certificate = Certificate.objects.first()
    change_certificate(
        actor=shift_lead,
        certificate=certificate,
        valid_until=evening.date(),
        reason="typed the wrong year",
    )
    found = calibration_in_force(fill, evening)
    assert found.passes
    midnight = datetime(2026, 6, 11, 0, 0, tzinfo=zone)
    assert valid_until(found) == midnight
    assert why_no_calibration(fill, midnight).code == "certificate_lapsed"


def test_draining_ends_it(open_fill: Fill, technician: User, now: datetime) -> None:
    drain_fill(
        actor=technician, fill=open_fill, reason="six weeks old", clock=clock_at(now + MINUTE)
    )
    open_fill.refresh_from_db()
    assert why_no_calibration(open_fill, now + 2 * MINUTE).code in ("drained", "float_removed")
    assert standing(open_fill, now + 2 * MINUTE).state == "drained"
    assert standing(open_fill, now).state == "open"


def test_another_rule_does_not_change_what_was_in_force(
    open_fill: Fill, manager: User, now: datetime
) -> None:
    found = calibration_in_force(open_fill, now)
    change_lab_rules(
        actor=manager, rules=lab_rules(), reason="audit finding", calibration_max_age_hours=2
    )
    assert valid_until(found) == now - 5 * MINUTE + 8 * HOUR


def test_an_event_in_another_column_does_not_matter(
    open_fill: Fill, shift_lead: User, technician: User, now: datetime
) -> None:
    other = factories.make_open_fill(
        actor=shift_lead,
        at=now,
        column=factories.make_column(actor=shift_lead, name="Birch"),
        prefix="F-2",
    )
    start_basket_pass(actor=technician, fill=other, clock=clock_at(now + MINUTE))
    assert calibration_in_force(other, now + 2 * MINUTE) is None
    assert calibration_in_force(open_fill, now + 2 * MINUTE) is not None


def test_an_excursion_ends_it_in_every_column_of_the_bath_and_in_no_other(
    open_fill: Fill, shift_lead: User, technician: User, now: datetime
) -> None:
    twin = factories.make_open_fill(
        actor=shift_lead,
        at=now,
        column=factories.make_column(actor=shift_lead, name="Birch"),
        prefix="F-2",
    )
    elsewhere = factories.make_open_fill(
        actor=shift_lead,
        at=now,
        column=factories.make_column(
            actor=shift_lead,
            name="Cedar",
            bath=factories.make_bath(actor=shift_lead, name="Bath 2"),
            scale_origin="top",
        ),
        prefix="F-3",
    )
    record_bath_temperature(
        actor=technician,
        bath=open_fill.column.bath,
        temperature_c=Decimal("24.3"),
        measured_at=now + MINUTE,
    )
    states = calibration_states([open_fill, twin, elsewhere], now + 2 * MINUTE)
    assert [states[f.pk].calibration is None for f in (open_fill, twin, elsewhere)] == [
        True,
        True,
        False,
    ]


def test_many_fills_need_as_many_queries_as_one(
    open_fill: Fill, shift_lead: User, now: datetime, django_assert_max_num_queries: object
) -> None:
    fills = [open_fill] + [
        factories.make_open_fill(
            actor=shift_lead,
            at=now,
            column=factories.make_column(actor=shift_lead, name=name),
            prefix=prefix,
        )
        for name, prefix in (("Birch", "F-2"), ("Cedar", "F-3"))
    ]
    with django_assert_max_num_queries(2):
        calibration_states(fills, now)
    with django_assert_max_num_queries(6):
        standings(fills, now)


def test_the_physics_is_rebuilt_from_the_stored_row(open_fill: Fill, now: datetime) -> None:
    found = calibration_in_force(open_fill, now)
    figures = physics_of(found)
    assert repr(figures.correlation) == found.result_facts["correlation"]
    on_a_float = figures.density_at(Decimal("429.0")).bracketing
    assert on_a_float.density_exact == Decimal("0.9201")
    assert physics_of(found) is figures  # built once


def test_the_worked_example_of_the_document(shift_lead: User, technician: User) -> None:
    """docs/calibration-in-force.md, worked example."""

    def at(text: str) -> datetime:
        return datetime.fromisoformat(f"2026-10-{text}+01:00")

    fill = factories.make_settling_fill(actor=shift_lead, at=at("05T07:00"))
    first = factories.make_float_set(actor=technician, fill=fill, at=at("07T07:05"))
    assert valid_until(first.calibration) == at("07T15:05")
    running = start_basket_pass(actor=technician, fill=fill, clock=clock_at(at("07T11:30")))
    assert calibration_in_force(fill, at("07T11:29")) == first.calibration
    assert calibration_in_force(fill, at("07T11:30")) is None
    finish_basket_pass(actor=technician, basket_pass=running, clock=clock_at(at("07T12:40")))
    assert not fill.holds.exists()
    early = factories.make_float_set(actor=technician, fill=fill, at=at("08T00:30"))
    assert [f["code"] for f in early.calibration.result_facts["findings"]] == ["pass_hold_off"]
    second = factories.make_float_set(actor=technician, fill=fill, at=at("08T00:45"))
    assert second.calibration.passes
    assert valid_until(second.calibration) == at("08T08:45")


@pytest.mark.parametrize(
    ("bore", "kelvin", "hours"),
    [("60", 1.3, 3.0), ("65", 0.2, 3.0), ("65.1", 0.2, 4.0), ("75", 20.0, 4.28)],
)
def test_the_rest_after_an_excursion(bore: str, kelvin: float, hours: float) -> None:
    """docs/calibration-in-force.md, hold-offs; our rule, from the conduction of heat."""
    rest = excursion_rest(Decimal(bore), kelvin)
    assert rest.total_seconds() / 3600 == pytest.approx(hours, abs=0.01)
