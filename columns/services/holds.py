"""Holds: who stopped the work in a fill, why, and what lifts it."""

from __future__ import annotations

from django.utils.translation import gettext as _

from columns import audit_actions as actions
from columns.models import Fill, Hold
from columns.services.fills import refuse_unless_live
from columns.services.locks import locked
from columns.signals import calibrations_changed
from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.audit.services import Change, change
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.errors import Conflict
from labsite.reasons import require_reason


def place_hold(
    *, actor: User, fill: Fill, reason: str, lifts_when: str, clock: Clock = SYSTEM_CLOCK
) -> Hold:
    """Put a fill on hold: nothing may be dropped, and its calibration ends.

    Raises Conflict without liquid in the column, RuleViolation without a real reason.
    """
    require(actor, Action.PLACE_HOLD)
    reason = require_reason(reason)
    lifts_when = require_reason(lifts_when, field="lifts_when")
    with change(actor=actor, clock=clock, reason=reason) as log:
        fill = locked(fill)
        refuse_unless_live(fill)
        return add_hold(log, fill, Hold.Kind.PERSON, reason, lifts_when)


def add_hold(log: Change, fill: Fill, kind: str, reason: str, lifts_when: str) -> Hold:
    """Place a hold as part of an open change."""
    hold = Hold(
        fill=fill,
        kind=kind,
        reason=reason,
        lifts_when=lifts_when,
        placed_at=log.now,
        placed_by=log.actor,
    )
    log.add(hold, actions.HOLD_PLACED, reason=reason)
    calibrations_changed.send(sender=Hold, fill=fill, since_at=log.now, log=log)
    return hold


def lift_hold(*, actor: User, hold: Hold, reason: str, clock: Clock = SYSTEM_CLOCK) -> Hold:
    """Lift a hold. Raises Conflict when it was lifted already."""
    require(actor, Action.LIFT_HOLD)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        hold = locked(hold)
        if hold.lifted_at is not None:
            raise Conflict("already_lifted", _("This hold was lifted already."))
        return log.update(
            hold, actions.HOLD_LIFTED, lifted_at=log.now, lifted_by=actor, lift_reason=reason
        )
