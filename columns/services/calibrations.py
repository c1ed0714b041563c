"""Calibrations: computed from a float set, stored with all they rest on, never changed."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _

from columns import audit_actions as actions
from columns import physics
from columns.findings import is_blocking
from columns.instants import told
from columns.models import Calibration, FloatHeight, FloatSet
from columns.physics.bracketing import METHOD as BRACKETING
from columns.physics.curves import METHOD as CURVE
from columns.physics.errors import PhysicsError
from columns.selectors.calibrations import rebuilt
from columns.selectors.hold_offs import (
    excursion_hold_off_until,
    last_excursion,
    last_pass_ends,
    running_pass,
)
from columns.services.calibration_inputs import (
    Terms,
    float_items,
    input_facts,
    missing_findings,
    plain,
    stored_terms,
)
from columns.services.locks import locked
from columns.services.physics_refusals import as_refusal
from columns.signals import calibration_recomputed
from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.audit.services import Change, change
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.errors import Conflict
from labsite.quantities import rounded
from labsite.reasons import require_reason
from labsite.records import canonical_json

METHOD_VERSION = f"{BRACKETING} {CURVE}"
CORRELATION_PLACES, SENSITIVITY_PLACES = 9, 10


def compute(float_set: FloatSet, heights: list[FloatHeight], terms: Terms) -> Calibration:
    """The calibration of a set, not saved.

    Raises RuleViolation when the heights cannot be those of a column.
    """
    read = [each for each in heights if each.height_mm is not None]
    items, found = float_items(float_set, read)
    inputs = canonical_json(input_facts(float_set, items, heights, terms))
    try:
        figures = rebuilt(inputs)
    except PhysicsError as error:
        raise as_refusal(error) from error
    found += _condition_findings(float_set, terms) + missing_findings(heights)
    found += [finding_facts(finding) for finding in figures.findings]
    return Calibration(
        float_set=float_set,
        method_version=METHOD_VERSION,
        passes=figures.passes and not any(is_blocking(each["code"]) for each in found),
        correlation=rounded(figures.correlation, CORRELATION_PLACES),
        sensitivity_g_cm3_per_mm=rounded(figures.sensitivity_g_cm3_per_mm, SENSITIVITY_PLACES),
        inputs=inputs,
        results=canonical_json(_results(figures, found)),
    )


def _condition_findings(float_set: FloatSet, terms: Terms) -> list[dict[str, Any]]:
    """What was wrong around the column when the floats were read."""
    return [
        *_temperature_findings(float_set),
        *_pass_findings(float_set, terms),
        *_excursion_findings(float_set),
    ]


def _temperature_findings(float_set: FloatSet) -> list[dict[str, Any]]:
    logged = float_set.logged_temperature
    if logged is None or logged.is_in_tolerance:
        return []
    bath = logged.bath
    return [
        {
            "code": "temperature_out",
            "value": plain(logged.temperature_c),
            "limit": f"{bath.setpoint_c} ± {bath.tolerance_c}",
        }
    ]


def _pass_findings(float_set: FloatSet, terms: Terms) -> list[dict[str, Any]]:
    fill, at = float_set.fill, float_set.read_at
    if running_pass(fill, at):
        return [{"code": "pass_running"}]
    ended_at = last_pass_ends([fill], at).get(fill.pk)
    return _hold_off_findings(
        "pass_hold_off",
        at,
        ended_at and ended_at + timedelta(hours=terms.pass_hold_off_hours),
    )


def _excursion_findings(float_set: FloatSet) -> list[dict[str, Any]]:
    column, at = float_set.fill.column, float_set.read_at
    poured_at = float_set.fill.poured_at
    excursion = last_excursion(column.bath, at)
    if excursion is None or (poured_at and excursion.last_out_at < poured_at):
        return []
    return _hold_off_findings("excursion_hold_off", at, excursion_hold_off_until(column, excursion))


def _hold_off_findings(code: str, at: datetime, until_at: datetime | None) -> list[dict[str, Any]]:
    if until_at is None or until_at <= at:
        return []
    return [{"code": code, "limit": _("until %(at)s") % {"at": told(until_at)}}]


def finding_facts(finding: Any) -> dict[str, Any]:
    facts = {
        "code": finding.code,
        "float": finding.float or "",
        "value": _figure_text(finding.value),
        "limit": _figure_text(finding.limit),
    }
    return {name: value for name, value in facts.items() if value != ""}


def _figure_text(value: Any) -> str:
    """Figures of findings in five significant digits: they are read by people, not reused."""
    if value is None:
        return ""
    return format(value, ".5g") if isinstance(value, float) else str(value)


def _results(figures: physics.Calibration, found: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "correlation": repr(figures.correlation),
        "sensitivity_g_cm3_per_mm": repr(figures.sensitivity_g_cm3_per_mm),
        "floats": [_float_result(each) for each in figures.floats],
        "gaps": [
            {
                "lower_float": gap.lower_float,
                "upper_float": gap.upper_float,
                "length_mm": repr(gap.length_mm),
                "slope_g_cm3_per_mm": repr(gap.slope_g_cm3_per_mm),
            }
            for gap in figures.gaps
        ],
        "has_curve": figures.curve is not None,
        "findings": found,
    }


def _float_result(each: Any) -> dict[str, Any]:
    names = ("residual_g_cm3", "residual_mm", "studentised_residual")
    figures = {name: getattr(each, name) for name in names}
    return {
        "label": each.id,
        **{name: None if value is None else repr(value) for name, value in figures.items()},
    }


def store(log: Change, calibration: Calibration) -> Calibration:
    """Save a computed calibration in an open change."""
    return log.add(calibration, actions.CALIBRATION_COMPUTED)


def supersede(log: Change, calibration: Calibration) -> None:
    log.update(calibration, actions.CALIBRATION_SUPERSEDED, superseded_at=log.now)


def recompute(log: Change, calibration: Calibration) -> Calibration:
    """Compute a set again with the certificates and quarantines known now; a new row.

    Rules and the reader's repeatability stay those of its day. Without any difference nothing is
    written and the old calibration is returned.
    """
    old = locked(calibration)
    heights = list(old.float_set.heights.select_related("calibration_float"))
    new = compute(old.float_set, heights, stored_terms(old))
    if _rests_on_the_same(old, new):
        return old
    supersede(log, old)
    store(log, new)
    calibration_recomputed.send(sender=Calibration, old=old, new=new, log=log)
    return new


def _rests_on_the_same(old: Calibration, new: Calibration) -> bool:
    """Figures of the curve may differ in their last digits between machines: not compared."""
    return (
        all(
            getattr(old, name) == getattr(new, name)
            for name in ("inputs", "method_version", "passes")
        )
        and old.result_facts["findings"] == new.result_facts["findings"]
    )


def recompute_calibration(
    *, actor: User, float_set: FloatSet, reason: str, clock: Clock = SYSTEM_CLOCK
) -> Calibration:
    """Compute a float set again, for instance after a quarantine or with a new certificate.

    Raises Conflict for a set that was replaced by an amended one.
    """
    require(actor, Action.RECORD_FLOAT_SET)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        locked(float_set.fill)
        float_set = locked(float_set)
        if float_set.replaced_at is not None:
            raise Conflict("already_replaced", _("This float set was amended; take the newer one."))
        return recompute(log, float_set.calibrations.get(superseded_at__isnull=True))
