"""Baths, thermometers, temperatures, columns and liquid pairs."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from columns import audit_actions as actions
from columns.models import Bath, BathTemperature, Column, Fill
from columns.services.baths import (
    add_bath,
    add_thermometer,
    amend_bath_temperature,
    change_bath,
    change_thermometer,
    record_bath_temperature,
    retire_bath,
)
from columns.services.columns import add_column, change_column, retire_column
from columns.services.fills import drain_fill
from columns.services.pairs import change_liquid_pair
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from labsite.errors import LabError, NotPermitted
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def bath(shift_lead: User) -> Bath:
    return factories.make_bath(actor=shift_lead)


@pytest.fixture
def column(shift_lead: User) -> Column:
    return factories.make_column(actor=shift_lead)


def refused(code: str, call: Any) -> LabError:
    before = AuditEntry.objects.count()
    with pytest.raises(LabError) as caught:
        call()
    assert caught.value.code == code
    assert AuditEntry.objects.count() == before
    return caught.value


# Baths and thermometers


def test_a_bath_is_added_changed_and_retired(shift_lead: User, entries_of: Any) -> None:
    bath = add_bath(actor=shift_lead, name=" Bath  1 ")
    assert (bath.name, bath.setpoint_c, bath.tolerance_c) == ("Bath 1", 23, Decimal("0.10"))
    change_bath(actor=shift_lead, bath=bath, note="new pump", reason="pump replaced")
    retire_bath(actor=shift_lead, bath=bath, reason="cracked jacket")
    assert entries_of(bath) == [actions.BATH_ADDED, actions.BATH_CHANGED, actions.BATH_RETIRED]


def test_a_name_is_taken_once(bath: Bath, shift_lead: User) -> None:
    refused("name_taken", lambda: add_bath(actor=shift_lead, name="BATH 1"))
    assert change_bath(actor=shift_lead, bath=bath, name="bath 1", reason="house style")


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"setpoint_c": Decimal("296.15")}, "temperature_unit"),
        ({"setpoint_c": Decimal("73.4")}, "temperature_unit"),
        ({"setpoint_c": Decimal(500)}, "temperature_implausible"),
        ({"tolerance_c": Decimal(0)}, "tolerance_implausible"),
        ({"tolerance_c": Decimal(3)}, "tolerance_implausible"),
    ],
)
def test_a_bath_that_cannot_be_is_refused(
    bath: Bath, shift_lead: User, fields: dict[str, Decimal], code: str
) -> None:
    refused(code, lambda: add_bath(actor=shift_lead, name="Bath 2", **fields))
    refused(code, lambda: change_bath(actor=shift_lead, bath=bath, reason="new chiller", **fields))


def test_a_bath_with_columns_is_not_retired(column: Column, shift_lead: User) -> None:
    def retire() -> Bath:
        return retire_bath(actor=shift_lead, bath=column.bath, reason="cracked jacket")

    refused("bath_in_use", retire)
    retire_column(actor=shift_lead, column=column, reason="moved")
    assert retire().retired_at is not None
    refused("already_retired", retire)


def test_equipment_is_for_leads(bath: Bath, technician: User, auditor: User) -> None:
    for person in (technician, auditor):
        with pytest.raises(NotPermitted):
            add_bath(actor=person, name="Bath 2")
        with pytest.raises(NotPermitted):
            change_bath(actor=person, bath=bath, note="x", reason="because")
        with pytest.raises(NotPermitted):
            add_thermometer(actor=person, name="T-1")
        with pytest.raises(NotPermitted):
            add_column(actor=person, name="Ash", bath=bath)


def test_a_thermometer_has_dates_in_order_and_an_uncertainty_above_zero(
    shift_lead: User, entries_of: Any
) -> None:
    reversed_dates = {"issued_on": date(2026, 2, 1), "valid_until": date(2026, 1, 1)}
    refused(
        "dates_reversed", lambda: add_thermometer(actor=shift_lead, name="T-1", **reversed_dates)
    )
    refused(
        "uncertainty_not_valid",
        lambda: add_thermometer(actor=shift_lead, name="T-1", coverage_factor=Decimal(0)),
    )
    found = add_thermometer(actor=shift_lead, name="T-1", issued_on=date(2026, 2, 1))
    refused(
        "dates_reversed",
        lambda: change_thermometer(
            actor=shift_lead,
            thermometer=found,
            valid_until=date(2026, 1, 1),
            reason="certificate renewed",
        ),
    )
    change_thermometer(
        actor=shift_lead,
        thermometer=found,
        valid_until=date(2027, 1, 1),
        reason="certificate renewed",
    )
    assert entries_of(found) == [actions.THERMOMETER_ADDED, actions.THERMOMETER_CHANGED]


# Temperatures


def test_a_temperature_keeps_how_it_was_judged_on_its_day(
    bath: Bath, technician: User, shift_lead: User
) -> None:
    found = record_bath_temperature(actor=technician, bath=bath, temperature_c=Decimal("23.15"))
    assert not found.is_in_tolerance
    change_bath(
        actor=shift_lead, bath=bath, tolerance_c=Decimal("0.2"), reason="method of this product"
    )
    found.refresh_from_db()
    assert not found.is_in_tolerance


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("296.15", "temperature_unit"),
        ("73.4", "temperature_unit"),
        ("-12", "temperature_implausible"),
        ("46", "temperature_implausible"),
    ],
)
def test_a_temperature_that_cannot_be_is_refused(
    bath: Bath, technician: User, typed: str, code: str
) -> None:
    refused(
        code,
        lambda: record_bath_temperature(actor=technician, bath=bath, temperature_c=Decimal(typed)),
    )


def test_a_temperature_of_the_future_is_refused(
    bath: Bath, technician: User, now: datetime
) -> None:
    refused(
        "time_in_future",
        lambda: record_bath_temperature(
            actor=technician,
            bath=bath,
            temperature_c=Decimal(23),
            measured_at=now + timedelta(hours=1),
        ),
    )


def test_a_wrong_temperature_is_replaced_once_and_stays(
    bath: Bath, technician: User, entries_of: Any
) -> None:
    wrong = record_bath_temperature(actor=technician, bath=bath, temperature_c=Decimal("32.0"))

    def amend() -> BathTemperature:
        return amend_bath_temperature(
            actor=technician,
            temperature=wrong,
            temperature_c=Decimal("23.0"),
            reason="digits swapped",
        )

    right = amend()
    wrong.refresh_from_db()
    assert (wrong.temperature_c, right.amends) == (Decimal("32.0"), wrong)
    assert right.measured_at == wrong.measured_at
    assert entries_of(wrong) == [actions.TEMPERATURE_RECORDED, actions.TEMPERATURE_REPLACED]
    assert entries_of(right) == [actions.TEMPERATURE_AMENDED]
    refused("already_replaced", amend)


def test_the_temperature_of_a_float_set_is_amended_with_the_set(
    open_fill: Fill, technician: User
) -> None:
    temperature = open_fill.float_sets.first().logged_temperature
    refused(
        "belongs_to_float_set",
        lambda: amend_bath_temperature(
            actor=technician,
            temperature=temperature,
            temperature_c=Decimal("23.1"),
            reason="misread",
        ),
    )


# Columns


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"scale_length_mm": Decimal(70)}, "size_implausible"),  # centimetres
        ({"bore_mm": Decimal(6)}, "size_implausible"),
        ({"scale_division_mm": Decimal(0)}, "size_implausible"),
        ({"readable_high_mm": Decimal(701)}, "readable_limits_outside_scale"),
        (
            {"readable_low_mm": Decimal(690), "readable_high_mm": Decimal(10)},
            "readable_limits_outside_scale",
        ),
    ],
)
def test_a_column_that_cannot_be_is_refused(
    column: Column, shift_lead: User, fields: dict[str, Decimal], code: str
) -> None:
    refused(
        code,
        lambda: add_column(actor=shift_lead, name="Birch", bath=column.bath, **fields),
    )
    refused(
        code,
        lambda: change_column(actor=shift_lead, column=column, reason="new scale", **fields),
    )


def test_the_scale_is_fixed_while_a_fill_is_in_the_column(
    open_fill: Fill, shift_lead: User, entries_of: Any
) -> None:
    column = open_fill.column

    def turn() -> Column:
        return change_column(
            actor=shift_lead, column=column, scale_origin="top", reason="scale was turned"
        )

    refused("column_in_use", turn)
    refused(
        "column_in_use",
        lambda: retire_column(actor=shift_lead, column=column, reason="cracked"),
    )
    change_column(actor=shift_lead, column=column, name="Ash one", reason="second ash came")
    drain_fill(actor=shift_lead, fill=open_fill, reason="to turn the scale")
    assert turn().scale_origin == "top"
    assert retire_column(actor=shift_lead, column=column, reason="cracked").retired_at
    assert entries_of(column) == [
        actions.COLUMN_ADDED,
        actions.COLUMN_CHANGED,
        actions.COLUMN_CHANGED,
        actions.COLUMN_RETIRED,
    ]


def test_a_retired_column_is_not_filled(column: Column, shift_lead: User) -> None:
    retire_column(actor=shift_lead, column=column, reason="cracked")
    pair = factories.make_pair(actor=shift_lead)
    column.refresh_from_db()
    refused(
        "column_retired",
        lambda: factories.make_planned_fill(actor=shift_lead, column=column, pair=pair),
    )


def test_a_change_without_a_field_or_a_reason_is_refused(column: Column, shift_lead: User) -> None:
    refused(
        "nothing_to_change",
        lambda: change_column(actor=shift_lead, column=column, reason="no reason at all"),
    )
    refused(
        "reason_required",
        lambda: change_column(actor=shift_lead, column=column, name="Elm", reason=""),
    )


# Liquid pairs


@pytest.mark.parametrize(
    ("low", "high", "code"),
    [
        ("1.0", "0.79", "densities_reversed"),
        ("790", "1000", "density_unit"),
        ("0.079", "1.0", "density_unit"),
        ("0.79", "99", "density_implausible"),
    ],
)
def test_a_pair_that_cannot_be_is_refused(shift_lead: User, low: str, high: str, code: str) -> None:
    refused(
        code,
        lambda: factories.make_pair(
            actor=shift_lead, density_low_g_cm3=Decimal(low), density_high_g_cm3=Decimal(high)
        ),
    )


def test_a_pair_is_changed_with_a_reason(shift_lead: User, entries_of: Any) -> None:
    pair = factories.make_pair(actor=shift_lead)
    change_liquid_pair(
        actor=shift_lead, pair=pair, cautions="Flammable vapour.", reason="after the risk review"
    )
    refused(
        "densities_reversed",
        lambda: change_liquid_pair(
            actor=shift_lead, pair=pair, density_low_g_cm3=Decimal("1.1"), reason="new data"
        ),
    )
    assert entries_of(pair) == [actions.PAIR_ADDED, actions.PAIR_CHANGED]
