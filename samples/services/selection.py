"""Which densities of a lot make a determination: each one counted, or set aside with a reason."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from labsite.errors import RuleViolation
from labsite.reasons import require_reason
from samples.findings import STOP, any_at, told
from samples.models import DensityResult, Determination, Lot, Specimen
from samples.selectors.determinations import parts_of, results_that_count, used_specimens

Outcome = DensityResult.Outcome


@dataclass(frozen=True)
class Selection:
    counted: list[DensityResult]
    set_aside: list[tuple[DensityResult, str]]


def select(
    lot: Lot,
    counted: Sequence[Specimen] | None,
    set_aside: Mapping[UUID, str],
    *,
    again: Determination | None,
    masked: bool = False,
) -> Selection:
    """Select among the lot's specimens that are in no other determination.

    Specimens without a number ("lighter than", no calibration) are set aside by themselves, those
    whose last look is still to come are left out. `again` is the determination whose specimens
    may be selected anew; a refusal does not tell a `masked` person what a reading said.
    """
    results = results_that_count(lot.specimens.all())
    used = used_specimens(lot, but=again)
    results = {key: result for key, result in results.items() if key not in used}
    measured = {key: result for key, result in results.items() if is_countable(result)}
    wanted = _wanted(measured, counted, set_aside)
    for keys, allowed in ((wanted, measured), (set(set_aside), results)):
        _refuse_uncountable(lot, keys - set(allowed), {} if masked else results, used)
    _refuse_unaccounted(measured, wanted, set_aside)
    aside = [
        (result, require_reason(set_aside[key], field="set_aside"))
        if key in set_aside
        else (result, reason_without_number(result))
        for key, result in results.items()
        if key in set_aside or (key not in measured and not _is_pending(result))
    ]
    return Selection(_in_order(measured[key] for key in wanted), aside)


def selection_of(determination: Determination) -> Selection:
    """The same specimens with the densities that they have now."""
    parts = list(parts_of(determination))
    specimens = [part.result.reading.specimen_id for part in parts]
    present = results_that_count(Specimen.objects.filter(pk__in=specimens))
    counted, aside = [], []
    for part in parts:
        result = present.get(part.result.reading.specimen_id)
        if result is None:
            continue
        if part.is_counted and is_countable(result):
            counted.append(result)
        else:
            aside.append((result, part.set_aside_reason or reason_without_number(result)))
    return Selection(_in_order(counted), aside)


def is_countable(result: DensityResult) -> bool:
    """Whether a density may enter a mean: a number, from a piece whose last look is done."""
    return result.outcome == Outcome.MEASURED and not any_at(STOP, result.finding_list)


def reason_without_number(result: DensityResult) -> str:
    """Why a result has no number that could count."""
    if result.outcome == Outcome.LIGHTER:
        return _("lighter than %(float)s") % {"float": result.bound_float}
    if result.outcome == Outcome.DENSER:
        return _("denser than %(float)s") % {"float": result.bound_float}
    return " ".join(each["text"] for each in told(result.finding_list)) or _("no density")


def _is_pending(result: DensityResult) -> bool:
    return result.outcome == Outcome.MEASURED


def _wanted(
    measured: Mapping[UUID, Any], counted: Sequence[Specimen] | None, aside: Mapping[UUID, str]
) -> set[UUID]:
    if counted is None:
        wanted = set(measured) - set(aside)
    else:
        wanted = {specimen.pk for specimen in counted}
    if wanted & set(aside):
        raise RuleViolation(
            "counted_and_set_aside",
            _("A specimen is either counted or set aside."),
            fields={"set_aside": [_("counted as well")]},
        )
    if not wanted:
        raise RuleViolation(
            "nothing_to_count",
            _("No specimen of this lot has a density that could count. Read one first."),
            fields={"counted": [_("none")]},
        )
    return wanted


def _refuse_uncountable(
    lot: Lot, keys: set[UUID], results: Mapping[UUID, DensityResult], used: set[UUID]
) -> None:
    for key in sorted(keys, key=str):
        specimen = lot.specimens.filter(pk=key).first()
        if specimen is None:
            why = _("It is not a specimen of this lot.")
        elif key in used:
            why = _("It is in another determination of this lot.")
        elif key in results:
            why = reason_without_number(results[key])
        else:
            why = _("It has no density.")
        raise RuleViolation(
            "specimen_not_countable",
            _("%(specimen)s cannot count. %(why)s")
            % {"specimen": specimen or _("This specimen"), "why": why},
            fields={"counted": [why]},
            specimen=str(key),
        )


def _refuse_unaccounted(
    measured: Mapping[UUID, DensityResult], wanted: set[UUID], aside: Mapping[UUID, str]
) -> None:
    """Nothing is left out silently."""
    left = [result for key, result in measured.items() if key not in wanted and key not in aside]
    if left:
        names = ", ".join(str(result.reading.specimen) for result in _in_order(left))
        raise RuleViolation(
            "specimens_unaccounted",
            _("Count these specimens or set them aside with a reason: %(names)s.")
            % {"names": names},
            fields={"set_aside": [_("a reason for each is needed")]},
            specimens=[str(result.reading.specimen_id) for result in _in_order(left)],
        )


def _in_order(results: Any) -> list[DensityResult]:
    return sorted(results, key=lambda result: result.reading.specimen.number)
