"""Float sets: all floats of a fill read at one time by one person."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from columns import audit_actions as actions
from columns.models import BathTemperature, Calibration, Fill, FloatHeight, FloatSet, Thermometer
from columns.selectors.calibrations import present_calibrations
from columns.selectors.fills import state_at
from columns.selectors.floats import placements_at, quarantined
from columns.services.baths import check_temperature, log_temperature, replace_temperature
from columns.services.calibration_inputs import Terms, present_terms, stored_terms
from columns.services.calibrations import compute, store, supersede
from columns.services.fills import refuse_before_pour, refuse_off_scale
from columns.services.locks import locked
from columns.services.moments import moment
from columns.signals import calibrations_changed, float_set_amended
from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.audit.services import Change, change
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.errors import Conflict, RuleViolation
from labsite.reasons import require_reason


@dataclass(frozen=True)
class SavedSet:
    """A float set with the calibration computed from it."""

    float_set: FloatSet
    calibration: Calibration


def record_float_set(
    *,
    actor: User,
    fill: Fill,
    bath_temperature_c: Decimal,
    heights: list[dict[str, Any]],
    read_at: datetime | None = None,
    read_by: User | None = None,
    thermometer: Thermometer | None = None,
    note: str = "",
    clock: Clock = SYSTEM_CLOCK,
) -> SavedSet:
    """Save a float set with the calibration that follows from it.

    `heights` holds one dict a float: `calibration_float` and `height_mm`, or `missing_reason`.
    Each float in the fill must be there; one in quarantine may be left out. A set that breaks no
    rule of form is kept even when it does not pass: its findings say why. `read_by` is for a set
    typed from the logbook: its reader, whose repeatability counts; the history names the actor.

    Raises Conflict without liquid in the column, RuleViolation for floats left out without a
    reason, too few floats, heights off the scale, equal or in reversed order, an impossible
    temperature, or a time in the future or before the pour.
    """
    require(actor, Action.RECORD_FLOAT_SET)
    reader = _reader(actor, read_by)
    check_temperature(bath_temperature_c, field="bath_temperature_c")
    with change(actor=actor, clock=clock) as log:
        fill = locked(fill)
        at = moment(read_at, log.now, field="read_at")
        _refuse_unless_filled(fill, at)
        terms = present_terms(fill, reader)
        rows = _checked_heights(fill, at, heights, terms)
        float_set = FloatSet(
            fill=fill,
            read_at=at,
            read_by=reader,
            bath_temperature_c=bath_temperature_c,
            thermometer=thermometer,
            note=note,
        )
        float_set.logged_temperature = log_temperature(
            log,
            fill.column.bath,
            bath_temperature_c,
            at,
            reader,
            thermometer,
            BathTemperature.Source.FLOAT_SET,
        )
        saved = _save(log, float_set, rows, terms, actions.FLOAT_SET_SAVED)
        calibrations_changed.send(sender=FloatSet, fill=fill, since_at=at, log=log)
        return saved


def _reader(actor: User, read_by: User | None) -> User:
    if read_by is None or read_by.pk == actor.pk:
        return actor
    require(actor, Action.IMPORT_RECORDS)
    return read_by


def _refuse_unless_filled(fill: Fill, at: datetime) -> None:
    refuse_before_pour(fill, at, field="read_at")
    state = state_at(fill, at)
    if state not in Fill.LIVE:
        raise Conflict(
            "wrong_state",
            _("There was no liquid of this fill in the column at that time."),
            state=state,
        )


def _save(
    log: Change, float_set: FloatSet, rows: list[FloatHeight], terms: Terms, action: str
) -> SavedSet:
    calibration = compute(float_set, rows, terms)
    log.add(float_set, action)
    for row in rows:
        row.float_set = float_set
        log.add(row, actions.FLOAT_HEIGHT_SAVED)
    return SavedSet(float_set, store(log, calibration))


def _checked_heights(
    fill: Fill, at: datetime, heights: list[dict[str, Any]], terms: Terms
) -> list[FloatHeight]:
    """One unsaved row a float, checked against what is in the fill."""
    rows = [_row(fill, index, entry) for index, entry in enumerate(heights)]
    placed = {p.calibration_float_id: p.calibration_float for p in placements_at(fill, at)}
    _refuse_strangers(rows, placed)
    _refuse_twice(rows)
    _refuse_left_out(rows, placed, at)
    count = sum(row.height_mm is not None for row in rows)
    if count < terms.minimum_floats:
        raise RuleViolation(
            "below_minimum_floats",
            _("%(count)s floats were read; a set needs at least %(minimum)s.")
            % {"count": count, "minimum": terms.minimum_floats},
            fields={"heights": [_("too few floats")]},
        )
    return rows


def _row(fill: Fill, index: int, entry: dict[str, Any]) -> FloatHeight:
    height = entry.get("height_mm")
    reason = (entry.get("missing_reason") or "").strip()
    each = entry["calibration_float"]
    if height is None:
        reason = _missing_reason(each, reason, index)
    elif reason:
        raise RuleViolation(
            "height_and_reason",
            _("%(float)s has a height and a reason for having none. Keep one.") % {"float": each},
            fields={f"heights[{index}].missing_reason": [_("not with a height")]},
        )
    else:
        refuse_off_scale(fill.column, height, field=f"heights[{index}].height_mm")
    return FloatHeight(calibration_float=each, height_mm=height, missing_reason=reason)


def _missing_reason(each: Any, reason: str, index: int) -> str:
    if not reason:
        raise RuleViolation(
            "float_without_height",
            _("%(float)s has no height. Read it, or say why it is missing.") % {"float": each},
            fields={f"heights[{index}].height_mm": [_("height or reason")]},
        )
    return require_reason(reason, field=f"heights[{index}].missing_reason")


def _refuse_strangers(rows: list[FloatHeight], placed: dict[Any, Any]) -> None:
    for index, row in enumerate(rows):
        if row.calibration_float_id not in placed:
            raise RuleViolation(
                "float_not_in_fill",
                _("%(float)s was not in this fill at that time.")
                % {"float": row.calibration_float},
                fields={f"heights[{index}].calibration_float": [_("not in this fill")]},
            )


def _refuse_twice(rows: list[FloatHeight]) -> None:
    seen = set()
    for index, row in enumerate(rows):
        if row.calibration_float_id in seen:
            raise RuleViolation(
                "duplicate_float",
                _("%(float)s is in the set twice; enter each float once.")
                % {"float": row.calibration_float},
                fields={f"heights[{index}].calibration_float": [_("twice")]},
            )
        seen.add(row.calibration_float_id)


def _refuse_left_out(rows: list[FloatHeight], placed: dict[Any, Any], at: datetime) -> None:
    absent = placed.keys() - {row.calibration_float_id for row in rows}
    absent -= quarantined(absent, at) if absent else set()
    if absent:
        labels = ", ".join(sorted(placed[key].label for key in absent))
        raise RuleViolation(
            "floats_left_out",
            _("No line for %(floats)s. Read every float of the fill, or say why one is missing.")
            % {"floats": labels},
            fields={"heights": [_("missing: %(floats)s") % {"floats": labels}]},
        )


def amend_float_set(
    *,
    actor: User,
    float_set: FloatSet,
    reason: str,
    heights: list[dict[str, Any]] | None = None,
    bath_temperature_c: Decimal | None = None,
    clock: Clock = SYSTEM_CLOCK,
) -> SavedSet:
    """Replace heights or temperature of a set by a new set; the old one stays and names its end.

    Reader, time and rules stay those of the old set. What rests on it is computed again by the
    layers above. Raises Conflict when the set was amended already, RuleViolation as
    `record_float_set` does.
    """
    require(actor, Action.RECORD_FLOAT_SET)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        locked(float_set.fill)
        old = locked(float_set)
        if old.replaced_at is not None:
            raise Conflict("already_replaced", _("This float set was amended; take the newer one."))
        draft = _draft(old, heights, bath_temperature_c, reason)
        if draft.float_set.bath_temperature_c != old.bath_temperature_c:
            draft.float_set.logged_temperature = replace_temperature(
                log, old.logged_temperature, draft.float_set.bath_temperature_c
            )
        for calibration in old.calibrations.filter(superseded_at__isnull=True):
            supersede(log, calibration)
        log.update(old, actions.FLOAT_SET_REPLACED, replaced_at=log.now)
        saved = _save(log, draft.float_set, draft.rows, draft.terms, actions.FLOAT_SET_AMENDED)
        float_set_amended.send(sender=FloatSet, old=old, new=saved.float_set, log=log)
        return saved


def preview_amended_float_set(
    *,
    float_set: FloatSet,
    heights: list[dict[str, Any]] | None = None,
    bath_temperature_c: Decimal | None = None,
) -> Calibration:
    """The calibration that an amendment would give, not saved. Raises as `amend_float_set`."""
    draft = _draft(float_set, heights, bath_temperature_c, "")
    if draft.float_set.bath_temperature_c != float_set.bath_temperature_c:
        bath = float_set.fill.column.bath
        draft.float_set.logged_temperature = BathTemperature(
            bath=bath,
            temperature_c=draft.float_set.bath_temperature_c,
            is_in_tolerance=bath.is_in_tolerance(draft.float_set.bath_temperature_c),
        )
    return compute(draft.float_set, draft.rows, draft.terms)


@dataclass(frozen=True)
class _Draft:
    float_set: FloatSet
    rows: list[FloatHeight]
    terms: Terms


def _draft(
    old: FloatSet,
    heights: list[dict[str, Any]] | None,
    bath_temperature_c: Decimal | None,
    reason: str,
) -> _Draft:
    """An unsaved set like `old` with other heights or temperature; the rest stays."""
    if heights is None and bath_temperature_c is None:
        raise RuleViolation("nothing_to_change", _("Give other heights or another temperature."))
    terms = stored_terms(present_calibrations().get(float_set=old))
    temperature = old.bath_temperature_c if bath_temperature_c is None else bath_temperature_c
    check_temperature(temperature, field="bath_temperature_c")
    entries = _old_entries(old) if heights is None else heights
    rows = _checked_heights(old.fill, old.read_at, entries, terms)
    float_set = FloatSet(
        fill=old.fill,
        read_at=old.read_at,
        read_by=old.read_by,
        bath_temperature_c=temperature,
        thermometer=old.thermometer,
        logged_temperature=old.logged_temperature,
        note=old.note,
        amends=old,
        amend_reason=reason,
    )
    return _Draft(float_set, rows, terms)


def _old_entries(old: FloatSet) -> list[dict[str, Any]]:
    return [
        {
            "calibration_float": row.calibration_float,
            "height_mm": row.height_mm,
            "missing_reason": row.missing_reason,
        }
        for row in old.heights.select_related("calibration_float")
    ]
