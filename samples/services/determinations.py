"""Determinations: prepared from a lot's specimens, marked ready, released by another person.

docs/measuring-a-lot.md tells the rules. A determination that was released never changes; what
corrects it is a new issue with a reason.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from uuid import UUID

from django.utils.translation import gettext as _

from columns.selectors.calibrations import calibration_in_force
from columns.services.locks import locked
from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.audit.services import Change, change
from labsite.clock import Clock
from labsite.errors import Conflict, NotPermitted, RuleViolation
from labsite.reasons import require_reason
from labsite.records import canonical_json
from samples import audit_actions as actions
from samples.findings import LOOK, STOP, any_at, level_of, told
from samples.models import (
    DensityResult,
    Determination,
    DeterminationPart,
    Lot,
    Specimen,
)
from samples.selectors.blindness import is_blind
from samples.selectors.determinations import (
    barred_from_release,
    issues_with_specimens,
    parts_of,
)
from samples.services.combining import METHOD, combine
from samples.services.results import METHOD_VERSION as RESULT_METHOD
from samples.services.selection import Selection, select, selection_of

Status = Determination.Status
METHOD_VERSION = f"{METHOD}+{RESULT_METHOD}"
OPEN = (Status.DRAFT, Status.READY)


def prepare_determination(
    *,
    actor: User,
    lot: Lot,
    counted: Sequence[Specimen] | None = None,
    set_aside: Mapping[UUID, str] | None = None,
    repeat_because: str = "",
    clock: Clock | None = None,
) -> Determination:
    """Prepare a lot's determination from the specimens counted; others are set aside with reason.

    Without `counted` all specimens with a density that are not set aside count. One that is not
    released yet is prepared again as a newer issue. Raises RuleViolation when a specimen with a
    density is neither counted nor set aside, and when the lot was determined before and
    `repeat_because` is missing.
    """
    require(actor, Action.MEASURE)
    with change(actor=actor, clock=clock) as log:
        lot = locked(lot)
        latest = _latest(lot)
        again = latest is not None and latest.status in OPEN and not repeat_because.strip()
        because = "" if again else _repeat_reason(latest, repeat_because)
        chosen = select(
            lot,
            counted,
            set_aside or {},
            again=latest if again else None,
            masked=is_blind(actor, lot),
        )
        new = _new(log, lot, chosen, prepared_by=actor)
        if again:
            return _prepared_again(log, latest, new, chosen)
        new.number = latest.number + 1 if latest else 1
        new.repeat_because = because
        return _insert(log, new, chosen, actions.DETERMINATION_PREPARED)


def mark_ready(
    *, actor: User, determination: Determination, clock: Clock | None = None
) -> Determination:
    """Mark a draft as ready for release. Raises Conflict when something bars its release."""
    require(actor, Action.MEASURE)
    with change(actor=actor, clock=clock) as log:
        determination = locked(determination)
        if determination.status == Status.READY:
            return determination
        _require_status(determination, Status.DRAFT, "not_a_draft")
        _refuse_barred(determination)
        return log.update(determination, actions.DETERMINATION_READY, status=Status.READY)


def release_determination(
    *, actor: User, determination: Determination, note: str = "", clock: Clock | None = None
) -> Determination:
    """Release a ready determination, as a person who read, typed or amended none of it.

    Raises NotPermitted for one's own readings or amendment, Conflict when it is not ready or no
    longer rests on calibrations in force, RuleViolation when findings ask for a note.
    """
    require(actor, Action.RELEASE)
    with change(actor=actor, clock=clock) as log:
        determination = locked(determination)
        _require_status(determination, Status.READY, "not_ready")
        _refuse_own(actor, determination)
        _refuse_barred(determination)
        if any_at(LOOK, determination.finding_list):
            note = require_reason(note, field="note")
        return log.update(
            determination,
            actions.DETERMINATION_RELEASED,
            reason=note.strip(),
            status=Status.RELEASED,
            released_at=log.now,
            released_by=actor,
            release_note=note.strip(),
        )


def amend_determination(
    *,
    actor: User,
    determination: Determination,
    reason: str,
    counted: Sequence[Specimen] | None = None,
    set_aside: Mapping[UUID, str] | None = None,
    clock: Clock | None = None,
) -> Determination:
    """Replace a released determination by a new issue, which must be released again.

    Without `counted` the same specimens count, with their present densities. The old issue stays
    and is marked as amended.
    """
    require(actor, Action.RELEASE)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        old = locked(determination)
        _require_status(old, Status.RELEASED, "not_released")
        if counted is None and set_aside is None:
            chosen = selection_of(old)
        else:
            chosen = select(old.lot, counted, set_aside or {}, again=old)
        new = _new(log, old.lot, chosen, prepared_by=actor)
        barred = any_at(STOP, new.finding_list)
        new.status = Status.DRAFT if barred else Status.READY
        return _reissue(log, old, new, chosen, actions.DETERMINATION_AMENDED, reason)


def recompute_determinations(log: Change, specimen_ids: Iterable[UUID]) -> list[Determination]:
    """Follow changed readings or densities of these specimens.

    Drafts and ready ones become new issues, as drafts; released ones stay as they are and are
    flagged, since only a person may amend them.
    """
    followed = []
    for determination in issues_with_specimens(set(specimen_ids)):
        chosen = selection_of(determination)
        if not _has_moved(determination, chosen):
            continue
        if determination.status == Status.RELEASED:
            followed.append(_flag(log, determination))
        else:
            new = _new(log, determination.lot, chosen, prepared_by=determination.prepared_by)
            followed.append(
                _reissue(
                    log, determination, new, chosen, actions.DETERMINATION_RECOMPUTED, log.reason
                )
            )
    return followed


def _flag(log: Change, determination: Determination) -> Determination:
    why = log.reason or _("A specimen was read again after the release.")
    return log.update(determination, actions.DETERMINATION_TO_BE_AMENDED, to_be_amended_because=why)


def _has_moved(determination: Determination, chosen: Selection) -> bool:
    before = {(part.result_id, part.is_counted) for part in parts_of(determination)}
    return before != {
        *((result.pk, True) for result in chosen.counted),
        *((result.pk, False) for result, _reason in chosen.set_aside),
    }


def _latest(lot: Lot) -> Determination | None:
    return lot.determinations.order_by("-number", "-issue").first()


def _repeat_reason(latest: Determination | None, reason: str) -> str:
    if latest is None:
        return ""
    if not reason.strip():
        raise RuleViolation(
            "repeat_because_required",
            _("This lot was determined before (%(number)s). Say why it is repeated.")
            % {"number": f"{latest.number}.{latest.issue}"},
            fields={"repeat_because": [_("needed for a repeat")]},
            earlier=str(latest.pk),
        )
    return require_reason(reason, field="repeat_because")


def _new(log: Change, lot: Lot, chosen: Selection, *, prepared_by: User) -> Determination:
    """A determination of the selection, not saved yet, as a draft of issue 1."""
    combined = combine(lot.grade, chosen.counted, chosen.set_aside)
    return Determination(
        lot=lot,
        issue=1,
        status=Status.DRAFT,
        figure=lot.grade.reported_figure,
        method_version=METHOD_VERSION,
        specimens_counted=len(chosen.counted),
        density_g_cm3=combined.density,
        expanded_uncertainty_g_cm3=combined.expanded_uncertainty,
        coverage_factor=combined.coverage_factor,
        spread_g_cm3=combined.spread,
        inputs=canonical_json(combined.inputs),
        results=canonical_json(combined.results),
        findings=canonical_json(combined.findings),
        prepared_at=log.now,
        prepared_by=prepared_by,
    )


def _prepared_again(
    log: Change, old: Determination, new: Determination, chosen: Selection
) -> Determination:
    """A newer issue of one that is not released; the same selection changes nothing."""
    if old.inputs == new.inputs:
        return old
    new.repeat_because = old.repeat_because
    reason = _("prepared again with other specimens")
    return _reissue(log, old, new, chosen, actions.DETERMINATION_PREPARED, reason)


def _reissue(
    log: Change,
    old: Determination,
    new: Determination,
    chosen: Selection,
    action: str,
    reason: str,
) -> Determination:
    log.update(old, actions.DETERMINATION_REPLACED, status=Status.AMENDED)
    new.number, new.issue, new.amends = old.number, old.issue + 1, old
    new.repeat_because = old.repeat_because
    new.amend_reason = reason
    return _insert(log, new, chosen, action)


def _insert(log: Change, new: Determination, chosen: Selection, action: str) -> Determination:
    log.add(new, action)
    for result in chosen.counted:
        part = DeterminationPart(determination=new, result=result)
        log.add(part, actions.DETERMINATION_PART_ADDED)
    for result, reason in chosen.set_aside:
        part = DeterminationPart(
            determination=new, result=result, is_counted=False, set_aside_reason=reason
        )
        log.add(part, actions.DETERMINATION_PART_ADDED)
    return new


def _require_status(determination: Determination, wanted: str, code: str) -> None:
    if determination.status != wanted:
        raise Conflict(
            code,
            _("%(determination)s is %(status)s, not %(wanted)s.")
            % {
                "determination": determination,
                "status": determination.get_status_display().lower(),
                "wanted": str(Status(wanted).label).lower(),
            },
            status_now=determination.status,
        )


def _refuse_barred(determination: Determination) -> None:
    stops = [each for each in determination.finding_list if level_of(each["code"]) == STOP]
    if stops:
        raise Conflict(
            "not_complete",
            " ".join(each["text"] for each in told(stops)),
            findings=told(stops),
        )
    for part in parts_of(determination).filter(is_counted=True):
        _refuse_without_calibration(part.result)


def _refuse_without_calibration(result: DensityResult) -> None:
    """A hold, a quarantine or a temperature entered later may have ended the calibration."""
    reading = result.reading
    in_force = calibration_in_force(reading.specimen.fill, reading.read_at)
    if in_force is None or in_force.pk != result.calibration_id:
        raise Conflict(
            "calibration_gone",
            _("The calibration by which specimen %(specimen)s was read is no longer in force.")
            % {"specimen": reading.specimen},
        )


def _refuse_own(actor: User, determination: Determination) -> None:
    barred = barred_from_release(actor, [determination]).get(determination.pk)
    if barred is not None:
        raise NotPermitted(barred.code, str(barred.message))
