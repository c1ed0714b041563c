"""What happens here when something changes in a column: connected when the app starts."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import QuerySet
from django.dispatch import receiver

from columns import signals
from columns.models import BasketPass, Calibration, Fill, FloatSet
from labsite.audit.services import Change
from samples.models import DensityResult
from samples.selectors.readings import present_results
from samples.services.determinations import recompute_determinations
from samples.services.results import recompute_result
from samples.services.specimens import remove_drained, remove_specimens


@receiver(signals.basket_pass_finished)
def clear_column(sender: Any, basket_pass: BasketPass, log: Change, **more: Any) -> None:
    remove_specimens(log, basket_pass)


@receiver(signals.fill_drained)
def empty_column(sender: Any, fill: Fill, log: Change, **more: Any) -> None:
    remove_drained(log, fill)


@receiver(signals.float_set_amended)
def follow_amended_set(sender: Any, old: FloatSet, new: FloatSet, log: Change, **more: Any) -> None:
    _follow(log, present_results().filter(calibration__float_set=old))
    _follow(log, _results_since(new.fill, min(old.read_at, new.read_at)))


@receiver(signals.calibration_recomputed)
def follow_recomputed(
    sender: Any, old: Calibration, new: Calibration, log: Change, **more: Any
) -> None:
    _follow(log, present_results().filter(calibration=old))


@receiver(signals.calibrations_changed)
def follow_changed(sender: Any, fill: Fill, since_at: datetime, log: Change, **more: Any) -> None:
    _follow(log, _results_since(fill, since_at))


def _results_since(fill: Fill, since_at: datetime) -> QuerySet[DensityResult]:
    return present_results().filter(reading__specimen__fill=fill, reading__read_at__gte=since_at)


def _follow(log: Change, results: QuerySet[DensityResult]) -> None:
    """Compute results anew, then the determinations that rest on those that changed."""
    found = results.select_related(
        "reading__read_by", "reading__specimen__lot", "reading__specimen__fill__column__bath"
    )
    changed = {
        old.reading.specimen_id
        for old in found.order_by("reading__read_at")
        if recompute_result(log, old) is not None
    }
    if changed:
        recompute_determinations(log, changed)
