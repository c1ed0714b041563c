"""Baths, thermometers and temperatures."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from columns import audit_actions as actions
from columns.models import Bath, BathTemperature, Fill, Thermometer
from columns.services.locks import locked
from columns.services.moments import moment
from columns.services.names import free_name, named_fields
from columns.signals import calibrations_changed
from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.audit.services import Change, change
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.errors import Conflict, RuleViolation
from labsite.quantities import rounded
from labsite.reasons import require_reason

# Our rule: what a water jacket of this method can have; outside it another unit is likely.
COLDEST_C, WARMEST_C = Decimal(5), Decimal(45)
# Our rule: another unit is asked about only when it gives what laboratories really set.
LIKELY_C = (Decimal(15), Decimal(35))
WIDEST_TOLERANCE_C = Decimal(2)
KELVIN_OFFSET = Decimal("273.15")


def add_bath(*, actor: User, name: str, clock: Clock = SYSTEM_CLOCK, **fields: Any) -> Bath:
    """Add a bath. Raises Conflict for a taken name, RuleViolation for implausible figures."""
    require(actor, Action.MANAGE_EQUIPMENT)
    with change(actor=actor, clock=clock) as log:
        bath = Bath(name=free_name(Bath, name), **fields)
        _check_bath(bath)
        return log.add(bath, actions.BATH_ADDED)


def change_bath(
    *, actor: User, bath: Bath, reason: str, clock: Clock = SYSTEM_CLOCK, **fields: Any
) -> Bath:
    """Change a bath. Temperatures recorded so far keep what was judged of them."""
    require(actor, Action.MANAGE_EQUIPMENT)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        bath = locked(bath)
        fields = named_fields(bath, fields)
        _check_bath(
            Bath(**{"setpoint_c": bath.setpoint_c, "tolerance_c": bath.tolerance_c} | fields)
        )
        return log.update(bath, actions.BATH_CHANGED, **fields)


def retire_bath(*, actor: User, bath: Bath, reason: str, clock: Clock = SYSTEM_CLOCK) -> Bath:
    """Take a bath out of use. Raises Conflict while columns are in it."""
    require(actor, Action.MANAGE_EQUIPMENT)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        bath = locked(bath)
        if bath.retired_at is not None:
            raise Conflict("already_retired", _("This bath is retired already."))
        if bath.columns.filter(retired_at__isnull=True).exists():
            raise Conflict("bath_in_use", _("There are columns in this bath. Retire them first."))
        return log.update(bath, actions.BATH_RETIRED, retired_at=log.now)


def _check_bath(bath: Bath) -> None:
    check_temperature(bath.setpoint_c, field="setpoint_c")
    if not 0 < bath.tolerance_c <= WIDEST_TOLERANCE_C:
        raise RuleViolation(
            "tolerance_implausible",
            _("A tolerance lies above 0 and up to %(widest)s °C.") % {"widest": WIDEST_TOLERANCE_C},
            fields={"tolerance_c": [_("in °C")]},
        )


def check_temperature(temperature_c: Decimal, *, field: str) -> None:
    """Refuse what no bath of this method has; ask about the unit where another one fits."""
    if COLDEST_C <= temperature_c <= WARMEST_C:
        return
    for unit, celsius in _other_units(temperature_c):
        if LIKELY_C[0] <= celsius <= LIKELY_C[1]:
            raise RuleViolation(
                "temperature_unit",
                _(
                    "%(value)s is no bath temperature in °C. In %(unit)s it would be "
                    "%(celsius)s °C. Did you mean that? Enter it in °C."
                )
                % {"value": temperature_c, "unit": unit, "celsius": celsius},
                fields={field: [_("in °C?")]},
                suggestion={field: str(celsius)},
            )
    raise RuleViolation(
        "temperature_implausible",
        _("%(value)s °C is impossible for this method; expected %(low)s to %(high)s °C.")
        % {"value": temperature_c, "low": COLDEST_C, "high": WARMEST_C},
        fields={field: [_("in °C")]},
    )


def _other_units(value: Decimal) -> tuple[tuple[str, Decimal], ...]:
    return (
        (_("kelvin"), rounded(value - KELVIN_OFFSET, 2)),
        (_("°F"), rounded((value - 32) * 5 / 9, 2)),
    )


def add_thermometer(
    *, actor: User, name: str, clock: Clock = SYSTEM_CLOCK, **fields: Any
) -> Thermometer:
    require(actor, Action.MANAGE_EQUIPMENT)
    with change(actor=actor, clock=clock) as log:
        thermometer = Thermometer(name=free_name(Thermometer, name), **fields)
        _check_thermometer(thermometer)
        return log.add(thermometer, actions.THERMOMETER_ADDED)


def change_thermometer(
    *,
    actor: User,
    thermometer: Thermometer,
    reason: str,
    clock: Clock = SYSTEM_CLOCK,
    **fields: Any,
) -> Thermometer:
    require(actor, Action.MANAGE_EQUIPMENT)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        thermometer = locked(thermometer)
        fields = named_fields(thermometer, fields)
        seen = {f: getattr(thermometer, f) for f in ("issued_on", "valid_until", "coverage_factor")}
        _check_thermometer(Thermometer(**seen | fields))
        return log.update(thermometer, actions.THERMOMETER_CHANGED, **fields)


def _check_thermometer(thermometer: Thermometer) -> None:
    issued, until = thermometer.issued_on, thermometer.valid_until
    if issued and until and until < issued:
        raise RuleViolation(
            "dates_reversed",
            _("The certificate ends before it was issued. Check both dates."),
            fields={"valid_until": [_("before the day of issue")]},
        )
    uncertainty, factor = thermometer.expanded_uncertainty_c, thermometer.coverage_factor
    if factor <= 0 or (uncertainty is not None and uncertainty <= 0):
        raise RuleViolation(
            "uncertainty_not_valid",
            _("An uncertainty and its coverage factor are above zero."),
            fields={"expanded_uncertainty_c": [_("U and k above zero")]},
        )


def record_bath_temperature(
    *,
    actor: User,
    bath: Bath,
    temperature_c: Decimal,
    measured_at: datetime | None = None,
    thermometer: Thermometer | None = None,
    source: str = BathTemperature.Source.TYPED,
    clock: Clock = SYSTEM_CLOCK,
) -> BathTemperature:
    """Record a temperature. One out of tolerance ends the calibrations of the bath's columns.

    Raises RuleViolation for another unit, an impossible figure or a time in the future.
    """
    require(actor, Action.RECORD_COLUMN_WORK)
    check_temperature(temperature_c, field="temperature_c")
    with change(actor=actor, clock=clock) as log:
        at = moment(measured_at, log.now, field="measured_at")
        record = log_temperature(log, bath, temperature_c, at, actor, thermometer, source)
        if not record.is_in_tolerance:
            _tell_fills(log, bath, at)
        return record


def log_temperature(
    log: Change,
    bath: Bath,
    temperature_c: Decimal,
    at: datetime,
    person: User,
    thermometer: Thermometer | None,
    source: str,
) -> BathTemperature:
    """Add a checked temperature to the bath's log, as part of an open change."""
    record = BathTemperature(
        bath=bath,
        measured_at=at,
        temperature_c=temperature_c,
        thermometer=thermometer,
        measured_by=person,
        source=source,
        is_in_tolerance=bath.is_in_tolerance(temperature_c),
    )
    return log.add(record, actions.TEMPERATURE_RECORDED)


def amend_bath_temperature(
    *,
    actor: User,
    temperature: BathTemperature,
    temperature_c: Decimal,
    reason: str,
    clock: Clock = SYSTEM_CLOCK,
) -> BathTemperature:
    """Replace a wrong temperature by a new row; the old one stays and names its end.

    Raises Conflict when it was replaced already, or belongs to a float set (amend the set).
    """
    require(actor, Action.RECORD_COLUMN_WORK)
    reason = require_reason(reason)
    check_temperature(temperature_c, field="temperature_c")
    with change(actor=actor, clock=clock, reason=reason) as log:
        if temperature.source == BathTemperature.Source.FLOAT_SET:
            raise Conflict(
                "belongs_to_float_set",
                _("This temperature was read with a float set. Amend the float set."),
            )
        new = replace_temperature(log, temperature, temperature_c)
        _tell_fills(log, new.bath, new.measured_at)
        return new


def replace_temperature(
    log: Change, temperature: BathTemperature, temperature_c: Decimal
) -> BathTemperature:
    """Add the right temperature and mark the wrong one as replaced, in an open change."""
    old = locked(temperature)
    if old.replaced_at is not None:
        raise Conflict("already_replaced", _("This temperature was amended already."))
    new = BathTemperature(
        bath=old.bath,
        measured_at=old.measured_at,
        temperature_c=temperature_c,
        thermometer=old.thermometer,
        measured_by=old.measured_by,
        source=old.source,
        is_in_tolerance=old.bath.is_in_tolerance(temperature_c),
        amends=old,
        amend_reason=log.reason,
    )
    log.add(new, actions.TEMPERATURE_AMENDED)
    log.update(old, actions.TEMPERATURE_REPLACED, replaced_at=log.now)
    return new


def _tell_fills(log: Change, bath: Bath, since_at: datetime) -> None:
    for fill in Fill.objects.filter(column__bath=bath, state__in=Fill.LIVE):
        calibrations_changed.send(sender=BathTemperature, fill=fill, since_at=since_at, log=log)
