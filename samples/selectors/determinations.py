"""Determinations, the results they rest on, and what a float set touches."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from columns.models import FloatSet
from samples.models import DensityResult, Determination, DeterminationPart, Lot
from samples.selectors.readings import counting_readings, present_results

Status = Determination.Status


class Barred(NamedTuple):
    """Why a person may not release a determination."""

    code: str
    message: Any


OWN_READING = Barred(
    "own_reading",
    _("You read or amended a specimen of this determination. Another person releases it."),
)
OWN_AMENDMENT = Barred(
    "own_amendment", _("You amended this determination. Another person releases it.")
)


def parts_of(determination: Determination) -> QuerySet[DeterminationPart]:
    """The parts with all that their densities rest on, in the order of the specimens."""
    return (
        DeterminationPart.objects.filter(determination=determination)
        .select_related(
            "result__reading__specimen__lot",
            "result__reading__specimen__fill__column__bath",
            "result__reading__read_by",
            "result__calibration__float_set__thermometer",
            "result__bound_float",
        )
        .order_by("result__reading__specimen__number")
    )


def present_issues(lot: Lot) -> QuerySet[Determination]:
    """A lot's determinations that no newer issue has replaced, the newest first."""
    return lot.determinations.exclude(status=Status.AMENDED).order_by("-number", "-issue")


def results_that_count(specimens: Any) -> dict[UUID, DensityResult]:
    """The present result of the reading that counts, by specimen."""
    counting = counting_readings(specimens)
    results = (
        present_results()
        .filter(reading__in=[reading.pk for reading in counting.values()])
        .select_related(
            "reading__specimen__lot",
            "reading__specimen__fill__column",
            "calibration__float_set__fill__column__bath",
            "calibration__float_set__thermometer",
            "bound_float",
        )
    )
    return {result.reading.specimen_id: result for result in results}


def used_specimens(lot: Lot, *, but: Determination | None) -> set[UUID]:
    """Specimens in determinations of the lot that stand, other than `but`."""
    parts = DeterminationPart.objects.filter(determination__in=present_issues(lot))
    if but is not None:
        parts = parts.exclude(determination=but)
    return set(parts.values_list("result__reading__specimen_id", flat=True))


def issues_with_specimens(specimen_ids: set[UUID]) -> list[Determination]:
    """Standing determinations in which one of these specimens has a part, oldest first."""
    found = (
        Determination.objects.exclude(status=Status.AMENDED)
        .filter(parts__result__reading__specimen__in=specimen_ids)
        .select_related("lot__grade", "prepared_by")
        .order_by("prepared_at")
    )
    return list({determination.pk: determination for determination in found}.values())


def touched_by_float_set(float_set: FloatSet) -> list[Determination]:
    """Standing determinations with a density that rests on this float set, newest first."""
    found = (
        Determination.objects.exclude(status=Status.AMENDED)
        .filter(
            parts__result__calibration__float_set=float_set,
            parts__result__superseded_at__isnull=True,
        )
        .select_related("lot__grade", "prepared_by", "released_by")
        .order_by("-prepared_at")
    )
    return list({determination.pk: determination for determination in found}.values())


def barred_from_release(person: Any, determinations: Iterable[Determination]) -> dict[UUID, Barred]:
    """Which of these the person may not release, and why: another one is to look at the work."""
    determinations = list(determinations)
    took_part = Q(result__reading__specimen__readings__read_by=person) | Q(
        result__reading__specimen__readings__entered_by=person
    )
    parts = DeterminationPart.objects.filter(took_part, determination__in=determinations)
    read = set(parts.values_list("determination_id", flat=True))
    return {
        each.pk: OWN_READING if each.pk in read else OWN_AMENDMENT
        for each in determinations
        if each.pk in read or _is_own_amendment(person, each)
    }


def _is_own_amendment(person: Any, determination: Determination) -> bool:
    amended = determination.amends
    was_released = amended is not None and amended.released_at is not None
    return was_released and determination.prepared_by_id == person.pk
