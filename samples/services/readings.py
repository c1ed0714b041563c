"""Readings: a height or an outcome, undone within ten seconds, amended with a reason."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from columns.instants import told
from columns.models import CalibrationFloat, Column
from columns.selectors.calibrations import CalibrationState, calibration_state
from columns.selectors.rules import lab_rules
from columns.services.moments import moment, refuse_before
from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.audit.services import Change, change
from labsite.clock import Clock
from labsite.errors import Conflict, NotPermitted, RuleViolation
from labsite.reasons import require_reason
from samples import audit_actions as actions
from samples.constants import UNDO_WITHIN
from samples.models import DeterminationPart, Reading, Specimen
from samples.selectors.blindness import lot_knowledge
from samples.selectors.readings import after_saving, first_value
from samples.selectors.specimens import in_columns, unread
from samples.services.determinations import recompute_determinations
from samples.services.gaps import check_gap
from samples.services.results import compute_result

Outcome = Reading.Outcome
NEEDS_HEIGHT = (Outcome.AT_REST,)
HAS_NO_HEIGHT = (Outcome.CANNOT_TELL, Outcome.OFF_TOP, Outcome.OFF_BOTTOM)


def record_reading(
    *,
    actor: User,
    specimen: Specimen | UUID,
    outcome: str,
    height_mm: Decimal | None = None,
    gap_upper_float: CalibrationFloat | None = None,
    gap_lower_float: CalibrationFloat | None = None,
    read_at: datetime | None = None,
    read_by: User | None = None,
    late_reason: str = "",
    found_with_help: bool = False,
    note: str = "",
    source: str = Reading.Source.EYE,
    seen_readings: int | None = None,
    device_at: datetime | None = None,
    clock: Clock | None = None,
) -> Reading:
    """Record what was seen of a specimen and compute its density at once.

    A height read before the specimen was ready is kept as "not at rest". `seen_readings` is how
    many readings of the specimen the person saw: with another number somebody was faster.
    `gap_…_float` are the floats between which the place was tapped before the height was typed.
    `read_by` and the source "logbook" are for heights typed from paper, written before anybody
    could have seen a density here.

    Raises RuleViolation for a height off the scale or outside the tapped gap and for a time
    before the drop or ahead of the clock; Conflict when somebody read it meanwhile or the
    specimen is no longer there.
    """
    require(actor, Action.MEASURE)
    if read_by not in (None, actor):
        require(actor, Action.IMPORT_RECORDS)
    with change(actor=actor, clock=clock, device_at=device_at) as log:
        specimen = _locked_specimen(specimen)
        read_at = moment(read_at, log.now, field="read_at")
        _check_time(specimen, read_at, log.now, late_reason)
        knowledge = lot_knowledge(actor, specimen.lot)
        _refuse_second_reader(actor, specimen, seen_readings, knowledge)
        _check_height(specimen.fill.column, outcome, height_mm)
        state = calibration_state(specimen.fill, read_at)
        check_gap(specimen.fill, state, height_mm, gap_upper_float, gap_lower_float)
        reading = Reading(
            specimen=specimen,
            read_at=read_at,
            read_by=read_by or actor,
            entered_by=actor if read_by not in (None, actor) else None,
            outcome=_outcome_at(outcome, read_at, specimen),
            height_mm=height_mm,
            gap_upper_float=gap_upper_float,
            gap_lower_float=gap_lower_float,
            source=source,
            density_seen=source != Reading.Source.LOGBOOK and knowledge.has_seen(specimen.pk),
            found_with_help=found_with_help,
            late_reason=late_reason.strip(),
            note=note.strip(),
        )
        _save(log, reading, actions.READING_RECORDED, state)
        reading.afterwards = after_saving(reading, knowledge.left_after(reading))
        if knowledge.present_of(specimen.pk):  # read before: it may be in a determination
            recompute_determinations(log, [specimen.pk])
        return reading


def withdraw_reading(
    *, actor: User, reading: Reading, reason: str = "undo", clock: Clock | None = None
) -> Reading:
    """Undo one's own reading within ten seconds of saving it, by the server's clock.

    The reading stays, marked as withdrawn; what is typed next is marked "density seen". Raises
    Conflict when it is too late: then it is amended. Repeated, it changes nothing.
    """
    require(actor, Action.MEASURE)
    with change(actor=actor, clock=clock, reason=reason) as log:
        specimen = _locked_specimen(reading.specimen)
        reading = Reading.objects.get(pk=reading.pk)
        reading.specimen = specimen
        if reading.read_by_id != actor.pk:
            raise NotPermitted(
                "not_your_reading", _("Only the person who read it can undo a reading.")
            )
        if reading.withdrawn_at is not None:
            return reading
        _refuse_late_undo(reading, log.now)
        return log.update(
            reading,
            actions.READING_WITHDRAWN,
            withdrawn_at=log.now,
            withdrawn_by=actor,
            withdraw_reason=reason,
        )


def amend_reading(
    *,
    actor: User,
    reading: Reading,
    reason: str,
    outcome: str | None = None,
    height_mm: Decimal | None = None,
    gap_upper_float: CalibrationFloat | None = None,
    gap_lower_float: CalibrationFloat | None = None,
    clock: Clock | None = None,
) -> Reading:
    """Replace a reading by a corrected one; the first value stays and is named by the new one.

    The outcome stays unless given. Determinations that rest on it are recomputed as new issues,
    released ones flagged. One's own readings, or everybody's for people who may release.
    """
    require(actor, Action.MEASURE)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        specimen = _locked_specimen(reading.specimen)
        old = Reading.objects.select_related("read_by").get(pk=reading.pk)
        if old.read_by_id != actor.pk:
            require(actor, Action.RELEASE)
        _refuse_not_present(old)
        outcome = outcome or old.outcome
        _check_height(specimen.fill.column, outcome, height_mm)
        state = calibration_state(specimen.fill, old.read_at)
        check_gap(specimen.fill, state, height_mm, gap_upper_float, gap_lower_float)
        log.update(old, actions.READING_REPLACED, replaced_at=log.now)
        new = Reading(
            specimen=specimen,
            read_at=old.read_at,
            read_by=old.read_by,
            entered_by=actor,
            outcome=_outcome_at(outcome, old.read_at, specimen),
            height_mm=height_mm,
            gap_upper_float=gap_upper_float,
            gap_lower_float=gap_lower_float,
            source=old.source,
            density_seen=True,
            found_with_help=old.found_with_help,
            late_reason=old.late_reason,
            note=old.note,
            amends=old,
            amend_reason=reason,
        )
        _save(log, new, actions.READING_AMENDED, state)
        new.afterwards = after_saving(new, unread(in_columns().filter(lot=specimen.lot)).count())
        recompute_determinations(log, [specimen.pk])
        return new


def _save(log: Change, reading: Reading, action: str, state: CalibrationState) -> Reading:
    log.add(reading, action)
    reading.present_result = compute_result(log, reading, state=state)
    return reading


def _locked_specimen(specimen: Specimen | UUID) -> Specimen:
    """Locked, so that of two readers of one specimen the second sees the first one's value."""
    key = specimen.pk if isinstance(specimen, Specimen) else specimen
    found = (
        Specimen.objects.select_for_update(of=("self",))
        .select_related("lot", "fill__column")
        .filter(pk=key)
        .first()
    )
    if found is None:
        raise RuleViolation(
            "specimen_unknown",
            _("There is no such specimen."),
            fields={"specimen": [_("unknown")]},
        )
    return found


def _check_time(specimen: Specimen, read_at: datetime, now: datetime, late_reason: str) -> None:
    refuse_before(
        read_at, specimen.dropped_at, code="read_before_drop", field="read_at", what=_("the drop")
    )
    if specimen.removed_at is not None and read_at >= specimen.removed_at:
        raise Conflict(
            "specimen_removed",
            _("%(specimen)s was taken out of the column at %(at)s.")
            % {"specimen": specimen, "at": told(specimen.removed_at)},
        )
    drained_at = specimen.fill.drained_at
    if drained_at is not None and read_at >= drained_at:
        raise Conflict(
            "fill_drained", _("The fill was drained at %(at)s.") % {"at": told(drained_at)}
        )
    if read_at == now:
        return
    allowed = lab_rules().late_entry_minutes
    if now - read_at > timedelta(minutes=allowed) and not late_reason.strip():
        raise RuleViolation(
            "late_reason_required",
            _("This was read at %(read)s and it is %(now)s: say why it is entered late.")
            % {"read": told(read_at), "now": told(now)},
            fields={"late_reason": [_("needed after %(minutes)s min") % {"minutes": allowed}]},
        )


def _check_height(column: Column, outcome: str, height_mm: Decimal | None) -> None:
    if outcome not in Outcome.values:
        raise RuleViolation(
            "outcome_unknown",
            _("There is no outcome %(name)s.") % {"name": outcome},
            fields={"outcome": [", ".join(Outcome.values)]},
        )
    if height_mm is None:
        if outcome in NEEDS_HEIGHT:
            raise RuleViolation(
                "height_required",
                _("A specimen at rest has a height. Type it, or choose another outcome."),
                fields={"height_mm": [_("in mm, for example 412.5")]},
            )
        return
    if outcome in HAS_NO_HEIGHT:
        raise RuleViolation(
            "height_not_expected",
            _("With “%(outcome)s” there is no height.") % {"outcome": Outcome(outcome).label},
            fields={"height_mm": [_("leave it empty")]},
        )
    if not 0 <= height_mm <= column.scale_length_mm:
        raise RuleViolation(
            "height_off_scale",
            _("%(height)s mm is not on the scale of %(column)s: it goes from 0 to %(length)s mm.")
            % {"height": height_mm, "column": column, "length": column.scale_length_mm},
            fields={"height_mm": [_("0 to %(length)s mm") % {"length": column.scale_length_mm}]},
        )


def _outcome_at(outcome: str, read_at: datetime, specimen: Specimen) -> str:
    """Before the wait is over nothing counts as at rest; the height is kept."""
    if outcome == Outcome.AT_REST and read_at < specimen.ready_at:
        return Outcome.NOT_AT_REST
    return outcome


def _refuse_second_reader(
    actor: User, specimen: Specimen, seen: int | None, knowledge: Any
) -> None:
    """Two people at one specimen: the second is shown the first one's value and chooses."""
    present = knowledge.present_of(specimen.pk)
    expected = len(present) if seen is None and not knowledge.is_read(specimen.pk) else seen or 0
    if len(present) == expected:
        return
    current = first_value(present[-1], masked=knowledge.is_blind) if present else None
    raise Conflict(
        "already_read",
        _("%(specimen)s was read meanwhile by somebody else. Compare, then choose.")
        % {"specimen": specimen},
        current=current,
        seen_readings=len(present),
    )


def _refuse_late_undo(reading: Reading, now: datetime) -> None:
    in_use = DeterminationPart.objects.filter(result__reading=reading).exists()
    if now - reading.created_at > UNDO_WITHIN or in_use or reading.replaced_at is not None:
        raise Conflict(
            "too_late_to_undo",
            _("A reading can be undone for 10 seconds. Amend it with a reason instead."),
        )


def _refuse_not_present(reading: Reading) -> None:
    if reading.replaced_at is not None or reading.withdrawn_at is not None:
        raise Conflict(
            "reading_not_present",
            _("This reading was replaced or undone already. Amend the one that stands."),
        )
