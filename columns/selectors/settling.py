"""What is still missing before a fill may be opened."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from uuid import UUID

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from columns.instants import told
from columns.models import Fill, FloatSet, LabRules
from columns.selectors.calibrations import Refusal, calibration_state
from columns.selectors.fills import open_holds
from columns.selectors.rules import lab_rules

# Our rule: sets closer together agree whether or not the column still moves.
SETS_APART = timedelta(hours=2)


@dataclass(frozen=True)
class Agreement:
    """The two sets that are compared, and the largest difference of one float between them."""

    earlier: FloatSet
    later: FloatSet
    largest_mm: Decimal


def missing_to_open(fill: Fill, at: datetime) -> list[Refusal]:
    """Each condition that is not met yet, as a sentence that says what to do."""
    rules = lab_rules()
    found = [_rest(fill, at, rules), _agreement(fill, at, rules), _calibration(fill, at)]
    return [refusal for refusal in found if refusal]


def _rest(fill: Fill, at: datetime, rules: LabRules) -> Refusal | None:
    if fill.poured_at is None:
        return None
    over_at = fill.poured_at + timedelta(hours=rules.settling_minimum_hours)
    if over_at <= at:
        return None
    return Refusal(
        "settling_time",
        _("The fill settles at least %(hours)s h after the pour, until %(at)s.")
        % {"hours": rules.settling_minimum_hours, "at": told(over_at)},
    )


def _agreement(fill: Fill, at: datetime, rules: LabRules) -> Refusal | None:
    found = agreement(fill, at)
    if found is None:
        hours = int(SETS_APART.total_seconds() // 3600)
        return Refusal(
            "two_sets_needed",
            ngettext(
                "Two float sets at least %(hours)s h apart are needed; read the floats again.",
                "Two float sets at least %(hours)s h apart are needed; read the floats again.",
                hours,
            )
            % {"hours": hours},
        )
    if found.largest_mm <= rules.settling_agreement_mm:
        return None
    return Refusal(
        "sets_disagree",
        _(
            "The sets of %(earlier)s and %(later)s differ by up to %(mm)s mm; allowed are "
            "%(limit)s mm. Let it settle and read the floats again."
        )
        % {
            "earlier": told(found.earlier.read_at),
            "later": told(found.later.read_at),
            "mm": found.largest_mm.normalize(),
            "limit": rules.settling_agreement_mm,
        },
    )


def _calibration(fill: Fill, at: datetime) -> Refusal | None:
    hold = open_holds([fill], at).first()
    if hold:
        return Refusal("on_hold", _("The fill is on hold: %(why)s") % {"why": hold.reason})
    return calibration_state(fill, at).refusal


def agreement(fill: Fill, at: datetime) -> Agreement | None:
    """The last set against the newest one that is old enough; None without two such sets."""
    sets = list(
        fill.float_sets.filter(replaced_at__isnull=True, read_at__lte=at)
        .order_by("-read_at")
        .prefetch_related("heights")
    )
    if not sets:
        return None
    later = sets[0]
    earlier = next((s for s in sets if later.read_at - s.read_at >= SETS_APART), None)
    if earlier is None:
        return None
    differences = _differences(earlier, later)
    return Agreement(earlier, later, max(differences)) if differences else None


def _differences(earlier: FloatSet, later: FloatSet) -> list[Decimal]:
    before = _heights(earlier)
    after = _heights(later)
    return [abs(after[key] - before[key]) for key in before.keys() & after.keys()]


def _heights(float_set: FloatSet) -> dict[UUID, Decimal]:
    return {
        each.calibration_float_id: each.height_mm
        for each in float_set.heights.all()
        if each.height_mm is not None
    }
