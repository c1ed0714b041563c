"""Lots: registering them and correcting what was registered."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from columns.services.locks import locked
from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.audit.services import change
from labsite.clock import Clock
from labsite.errors import Conflict, RuleViolation
from labsite.reasons import require_reason
from samples import audit_actions as actions
from samples.constants import CLOCK_TOLERANCE
from samples.models import Grade, Lot
from samples.services.lot_codes import clean_lot_code, doubts_about


def register_lot(
    *,
    actor: User,
    code: str,
    grade: Grade,
    received_at: datetime | None = None,
    note: str = "",
    confirmed: bool = False,
    clock: Clock | None = None,
) -> Lot:
    """Register a lot under its cleaned code.

    Raises RuleViolation for a code of mixed scripts and, unless `confirmed`, for one that looks
    like a date or that is written in letters that only look Latin; Conflict when the lot exists.
    """
    require(actor, Action.REGISTER_LOT)
    code = clean_lot_code(code)
    if not confirmed:
        _ask_about(code)
    with change(actor=actor, clock=clock) as log:
        _refuse_known(code)
        if grade.retired_at is not None:
            raise Conflict("grade_retired", _("This grade is out of use. Choose another."))
        received_at = received_at or log.now
        if received_at > log.now + CLOCK_TOLERANCE:
            raise RuleViolation(
                "received_in_the_future",
                _("The lot cannot have been received later than now."),
                fields={"received_at": [_("in the future")]},
            )
        lot = Lot(
            code=code, grade=grade, received_at=received_at, registered_by=actor, note=note.strip()
        )
        return log.add(lot, actions.LOT_REGISTERED)


def change_lot(
    *, actor: User, lot: Lot, reason: str, clock: Clock | None = None, **fields: Any
) -> Lot:
    """Correct a lot's grade or note; the grade only while nothing was determined of it."""
    require(actor, Action.REGISTER_LOT)
    if set(fields) - {"grade", "note"}:
        raise TypeError(f"not changeable: {set(fields)}")
    with change(actor=actor, clock=clock, reason=require_reason(reason)) as log:
        lot = locked(lot)
        if not fields:
            raise RuleViolation("nothing_to_change", _("Name at least one field to change."))
        grade = fields.get("grade", lot.grade)
        if grade.pk != lot.grade_id and lot.determinations.exists():
            raise Conflict(
                "lot_has_determination",
                _("This lot has a determination of its grade. Register it anew instead."),
            )
        return log.update(lot, actions.LOT_CHANGED, **fields)


def _refuse_known(code: str) -> None:
    known = Lot.objects.filter(code=code).first()
    if known is not None:
        raise Conflict(
            "lot_exists",
            _("Lot %(code)s is registered already. Open it instead.") % {"code": code},
            fields={"code": [_("registered already")]},
            lot=str(known.pk),
        )


def _ask_about(code: str) -> None:
    doubts = doubts_about(code)
    if doubts:
        raise RuleViolation(
            doubts[0].code,
            _("%(doubts)s If it is right, confirm it.")
            % {"doubts": " ".join(doubt.message for doubt in doubts)},
            fields={"code": [doubt.message for doubt in doubts]},
            confirm="confirmed",
        )
