"""Dropping specimens, taking over their reading, and taking them out with a basket pass."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db.models import Max
from django.utils.translation import gettext as _

from columns.models import BasketPass, Fill
from columns.selectors.fills import drop_refusal
from columns.services.locks import locked
from columns.services.moments import moment, refuse_before
from labsite.accounts.models import User
from labsite.accounts.permissions import can, require
from labsite.accounts.roles import Action
from labsite.audit.services import Change, change
from labsite.clock import Clock
from labsite.errors import Conflict, RuleViolation
from labsite.reasons import require_reason
from samples import audit_actions as actions
from samples.models import Lot, Specimen
from samples.models.grades import Form
from samples.selectors.specimens import in_columns
from samples.services.waits import ready_at, second_look_at, wait_of

MOST_AT_ONCE = 20
# Without liquid there is nothing to drop into, whatever the reason.
NOT_TO_BE_OVERRIDDEN = (Fill.State.PLANNED, Fill.State.DRAINED)


def drop_specimen(*, shape: str, **facts: Any) -> Specimen:
    """Drop one specimen; see `drop_specimens`."""
    return drop_specimens(shapes=[shape], **facts)[0]


def drop_specimens(
    *,
    actor: User,
    lot: Lot,
    fill: Fill,
    shapes: Sequence[str],
    form: str | None = None,
    thickness_mm: Decimal | None = None,
    dropped_at: datetime | None = None,
    dropped_by: User | None = None,
    override_reason: str = "",
    clock: Clock | None = None,
) -> list[Specimen]:
    """Drop one specimen for each shape and start its wait.

    Form and thickness are the recipe's unless given. `dropped_by` is for drops typed from the
    logbook; the history names the actor. Raises Conflict when the fill is not open; a person who
    may override gives a reason, which marks every result of the specimens.
    """
    require(actor, Action.MEASURE)
    if dropped_by not in (None, actor):
        require(actor, Action.IMPORT_RECORDS)
    _check_shapes(shapes)
    with change(actor=actor, clock=clock) as log:
        fill, lot = locked(fill), locked(lot)
        dropped_at = moment(dropped_at, log.now, field="dropped_at")
        refuse_before(
            dropped_at,
            fill.poured_at,
            code="dropped_before_pour",
            field="dropped_at",
            what=_("the pour"),
        )
        overridden = _overridden(actor, fill, dropped_at, override_reason)
        pattern = _pattern(lot, form, thickness_mm, dropped_at) | _cleared(fill, dropped_at)
        number = lot.specimens.aggregate(last=Max("number"))["last"] or 0
        action = actions.SPECIMEN_DROPPED_BY_OVERRIDE if overridden else actions.SPECIMEN_DROPPED
        return [
            log.add(
                Specimen(
                    lot=lot, fill=fill, number=number + place, shape=shape,
                    dropped_by=dropped_by or actor, override_reason=overridden, **pattern,
                ),
                action,
                reason=overridden or None,
            )
            for place, shape in enumerate(shapes, start=1)
        ]  # fmt: skip


def _check_shapes(shapes: Sequence[str]) -> None:
    if not 1 <= len(shapes) <= MOST_AT_ONCE:
        raise RuleViolation(
            "number_of_specimens",
            _("Drop 1 to %(most)s specimens at a time.") % {"most": MOST_AT_ONCE},
            fields={"shapes": [_("too many or none")]},
        )
    unknown = sorted(set(shapes) - set(Specimen.Shape.values))
    if unknown:
        raise RuleViolation(
            "shape_unknown",
            _("There is no cut shape %(names)s.") % {"names": ", ".join(unknown)},
            fields={"shapes": [", ".join(Specimen.Shape.values)]},
        )


def _pattern(
    lot: Lot, form: str | None, thickness_mm: Decimal | None, dropped_at: datetime
) -> dict[str, Any]:
    """Form, thickness and the two clocks that the specimens of one drop share."""
    recipe = lot.grade.recipe
    form = form or recipe.form
    if form not in Form.values:
        raise RuleViolation(
            "form_unknown",
            _("There is no form %(name)s.") % {"name": form},
            fields={"form": [", ".join(Form.values)]},
        )
    if form == recipe.form and thickness_mm is None:
        thickness_mm = recipe.thickness_mm
    rule = wait_of(
        form, thickness_mm, own_minutes=recipe.wait_minutes if form == recipe.form else None
    )
    return {
        "form": form,
        "thickness_mm": thickness_mm,
        "dropped_at": dropped_at,
        "ready_at": ready_at(rule, dropped_at),
        "second_look_at": second_look_at(rule, dropped_at),
    }


def _cleared(fill: Fill, dropped_at: datetime) -> dict[str, Any]:
    """What a clearing pass that has ended since took out: a drop may be entered late."""
    since = (
        fill.basket_passes.filter(purpose=BasketPass.Purpose.CLEARING, ended_at__gte=dropped_at)
        .order_by("ended_at")
        .first()
    )
    return {"removed_at": since.ended_at, "removed_in": since} if since else {}


def _overridden(actor: User, fill: Fill, at: datetime, reason: str) -> str:
    """The reason of an override that was needed; raises when the fill is closed without one."""
    refusal = drop_refusal(fill, at)
    if refusal is None:
        return ""
    final = fill.state in NOT_TO_BE_OVERRIDDEN
    if final or not reason.strip():
        raise Conflict(
            refusal.code,
            refusal.message,
            may_override=not final and can(actor, Action.OVERRIDE_CLOSED),
        )
    require(actor, Action.OVERRIDE_CLOSED)
    return require_reason(reason, field="override_reason")


def take_over_specimens(
    *, actor: User, specimens: Sequence[Specimen], clock: Clock | None = None
) -> list[Specimen]:
    """Become the one who reads these specimens, as at a change of shift.

    Raises Conflict for a specimen that is no longer in a column. Repeated, it changes nothing.
    """
    require(actor, Action.MEASURE)
    with change(actor=actor, clock=clock) as log:
        return [_taken_over(log, actor, specimen) for specimen in specimens]


def _taken_over(log: Change, actor: User, specimen: Specimen) -> Specimen:
    specimen = locked(specimen)
    if specimen.removed_at is not None:
        raise Conflict(
            "specimen_removed", _("%(specimen)s was taken out already.") % {"specimen": specimen}
        )
    if specimen.reader_id == actor.pk:
        return specimen
    return log.update(specimen, actions.SPECIMEN_TAKEN_OVER, taken_over_by=actor)


def remove_specimens(log: Change, basket_pass: BasketPass) -> None:
    """Take all specimens out that lay in the fill when the basket pass cleared it."""
    if basket_pass.purpose != BasketPass.Purpose.CLEARING:
        return
    lying = in_columns([basket_pass.fill_id]).filter(dropped_at__lte=basket_pass.ended_at)
    for specimen in lying.select_related("lot"):
        log.update(
            specimen,
            actions.SPECIMEN_REMOVED,
            removed_at=basket_pass.ended_at,
            removed_in=basket_pass,
        )


def remove_drained(log: Change, fill: Fill) -> None:
    """What still lay in a drained fill goes with its liquid."""
    lying = Specimen.objects.filter(fill=fill, removed_at__isnull=True).select_related("lot")
    for specimen in lying:
        log.update(
            specimen, actions.SPECIMEN_DRAINED, removed_at=max(fill.drained_at, specimen.dropped_at)
        )
