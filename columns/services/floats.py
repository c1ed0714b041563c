"""Floats: registered, placed in a fill, taken out, put in quarantine."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.utils.timezone import localdate
from django.utils.translation import gettext as _

from columns import audit_actions as actions
from columns.instants import told
from columns.models import CalibrationFloat, Certificate, Fill, FloatPlacement, FloatQuarantine
from columns.selectors.floats import certificates_on, is_valid_on, placements_at, quarantined
from columns.services.fills import refuse_before_pour, refuse_unless_live
from columns.services.locks import locked
from columns.services.moments import moment, refuse_before
from columns.services.names import free_name, named_fields
from columns.signals import calibrations_changed
from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.audit.services import Change, change
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.errors import Conflict, RuleViolation
from labsite.reasons import require_reason


def register_float(
    *, actor: User, label: str, note: str = "", clock: Clock = SYSTEM_CLOCK
) -> CalibrationFloat:
    """Register a float. Raises Conflict when the label is taken, whatever its case."""
    require(actor, Action.MANAGE_EQUIPMENT)
    with change(actor=actor, clock=clock) as log:
        label = free_name(CalibrationFloat, label.upper(), field="label")
        return log.add(CalibrationFloat(label=label, note=note), actions.FLOAT_REGISTERED)


def change_float(
    *,
    actor: User,
    calibration_float: CalibrationFloat,
    reason: str,
    clock: Clock = SYSTEM_CLOCK,
    **fields: Any,
) -> CalibrationFloat:
    require(actor, Action.MANAGE_EQUIPMENT)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        each = locked(calibration_float)
        if "label" in fields:
            fields["label"] = fields["label"].upper()
        return log.update(each, actions.FLOAT_CHANGED, **named_fields(each, fields, field="label"))


def retire_float(
    *,
    actor: User,
    calibration_float: CalibrationFloat,
    reason: str,
    clock: Clock = SYSTEM_CLOCK,
) -> CalibrationFloat:
    """Take a float out of use. Raises Conflict while it is in a fill."""
    require(actor, Action.MANAGE_EQUIPMENT)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        each = locked(calibration_float)
        if each.retired_at is not None:
            raise Conflict("already_retired", _("This float is retired already."))
        _refuse_placed(each)
        return log.update(each, actions.FLOAT_RETIRED, retired_at=log.now)


def _refuse_placed(each: CalibrationFloat) -> None:
    present = each.placements.filter(removed_at__isnull=True).select_related("fill__column").first()
    if present:
        raise Conflict(
            "float_in_a_fill",
            _("%(float)s is in %(column)s. Take it out there first.")
            % {"float": each, "column": present.fill.column},
        )


def place_float(
    *,
    actor: User,
    calibration_float: CalibrationFloat,
    fill: Fill,
    placed_at: datetime | None = None,
    clock: Clock = SYSTEM_CLOCK,
) -> FloatPlacement:
    """Place a float in a fill.

    Raises Conflict when it is in a fill already, retired or in quarantine, RuleViolation when no
    certificate is valid or its density is outside the liquid.
    """
    require(actor, Action.RECORD_COLUMN_WORK)
    with change(actor=actor, clock=clock) as log:
        fill = locked(fill)
        each = locked(calibration_float)
        at = moment(placed_at, log.now, field="placed_at")
        refuse_unless_live(fill)
        refuse_before_pour(fill, at, field="placed_at")
        _refuse_unusable(each, at)
        certificate = _valid_certificate(each, at)
        _refuse_outside_liquid(certificate, fill)
        _refuse_same_density(certificate, fill, at)
        placement = FloatPlacement(calibration_float=each, fill=fill, placed_at=at, placed_by=actor)
        return log.add(placement, actions.FLOAT_PLACED)


def _refuse_unusable(each: CalibrationFloat, at: datetime) -> None:
    if each.retired_at is not None:
        raise Conflict("float_retired", _("%(float)s is out of use.") % {"float": each})
    _refuse_placed(each)
    last = each.placements.order_by("-removed_at").first()
    refuse_before(
        at,
        last.removed_at if last else None,
        code="placed_before_removal",
        field="placed_at",
        what=_("the float's removal from its last fill"),
    )
    if quarantined([each.pk], at):
        raise Conflict(
            "float_quarantined",
            _("%(float)s is in quarantine. End the quarantine first.") % {"float": each},
        )


def _valid_certificate(each: CalibrationFloat, at: datetime) -> Certificate:
    day = localdate(at)
    certificate = certificates_on([each.pk], day).get(each.pk)
    if certificate is None or not is_valid_on(certificate, day):
        raise RuleViolation(
            "certificate_not_valid",
            _("%(float)s has no certificate that is valid on %(day)s. Add one first.")
            % {"float": each, "day": day.isoformat()},
            fields={"calibration_float": [_("no valid certificate")]},
        )
    return certificate


def _refuse_outside_liquid(certificate: Certificate, fill: Fill) -> None:
    low, high = fill.density_top_g_cm3, fill.density_bottom_g_cm3
    if not low <= certificate.density_g_cm3 <= high:
        raise RuleViolation(
            "float_outside_liquid",
            _(
                "A float of %(density)s g/cm³ does not rest in this fill, which is planned from "
                "%(low)s to %(high)s g/cm³."
            )
            % {"density": certificate.density_g_cm3, "low": low, "high": high},
            fields={"calibration_float": [_("outside the liquid")]},
        )


def _refuse_same_density(certificate: Certificate, fill: Fill, at: datetime) -> None:
    present = {p.calibration_float_id: p.calibration_float for p in placements_at(fill, at)}
    for key, other in certificates_on(present, localdate(at)).items():
        if other.density_g_cm3 == certificate.density_g_cm3:
            raise RuleViolation(
                "float_densities_equal",
                _(
                    "%(other)s in this fill has the same certified density, which gives no slope "
                    "between the two."
                )
                % {"other": present[key]},
                fields={"calibration_float": [_("same density as another float")]},
            )


def remove_float(
    *,
    actor: User,
    placement: FloatPlacement,
    reason: str,
    removed_at: datetime | None = None,
    clock: Clock = SYSTEM_CLOCK,
) -> FloatPlacement:
    """Take a float out of its fill; a calibration that rests on it ends."""
    require(actor, Action.RECORD_COLUMN_WORK)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        placement = locked(placement)
        if placement.removed_at is not None:
            raise Conflict("already_removed", _("This float was taken out already."))
        at = moment(removed_at, log.now, field="removed_at")
        refuse_before(
            at,
            placement.placed_at,
            code="removed_before_placed",
            field="removed_at",
            what=_("the time it was placed"),
        )
        log.update(
            placement,
            actions.FLOAT_REMOVED,
            removed_at=at,
            removed_by=actor,
            removal_reason=reason,
        )
        calibrations_changed.send(sender=FloatPlacement, fill=placement.fill, since_at=at, log=log)
        return placement


def quarantine_float(
    *,
    actor: User,
    calibration_float: CalibrationFloat,
    reason: str,
    from_at: datetime | None = None,
    clock: Clock = SYSTEM_CLOCK,
) -> FloatQuarantine:
    """Do not trust a float from a stated time on; calibrations that rest on it end there.

    Raises Conflict when it is in quarantine already.
    """
    require(actor, Action.PLACE_HOLD)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        each = locked(calibration_float)
        at = moment(from_at, log.now, field="from_at")
        if each.quarantines.filter(lifted_at__isnull=True).exists():
            raise Conflict("already_quarantined", _("This float is in quarantine already."))
        quarantine = FloatQuarantine(
            calibration_float=each, from_at=at, reason=reason, placed_by=actor
        )
        log.add(quarantine, actions.FLOAT_QUARANTINED)
        _tell_fills(log, each, at)
        return quarantine


def lift_quarantine(
    *, actor: User, quarantine: FloatQuarantine, reason: str, clock: Clock = SYSTEM_CLOCK
) -> FloatQuarantine:
    """Trust the float again from now on; what ended in between stays ended."""
    require(actor, Action.LIFT_HOLD)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        quarantine = locked(quarantine)
        if quarantine.lifted_at is not None:
            raise Conflict(
                "already_lifted",
                _("This quarantine ended at %(at)s already.") % {"at": told(quarantine.lifted_at)},
            )
        return log.update(
            quarantine,
            actions.QUARANTINE_LIFTED,
            lifted_at=log.now,
            lifted_by=actor,
            lift_reason=reason,
        )


def _tell_fills(log: Change, each: CalibrationFloat, since_at: datetime) -> None:
    """Every fill that the float was in since then."""
    placements = each.placements.exclude(removed_at__lte=since_at).select_related("fill")
    for placement in placements:
        calibrations_changed.send(
            sender=FloatQuarantine, fill=placement.fill, since_at=since_at, log=log
        )
