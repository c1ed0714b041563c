"""What is known of a lot, for one person's eyes: pieces, determinations, and the density axis."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import Prefetch

from labsite.quantities import format_result, reported, stored
from samples.models import DensityResult, Determination, Grade, Lot, Reading, Specimen
from samples.selectors.blindness import blind_lots
from samples.selectors.determinations import barred_from_release
from samples.selectors.occupants import age_of, plain, working
from samples.selectors.readings import with_results
from samples.selectors.specimens import in_columns, unread

# JCGM 100:2008, 6.3.3: about 95 % for a single piece
INTERVAL_FACTOR = 2


@dataclass(frozen=True)
class LotFacts:
    """A lot with its pieces; while masked the axis holds the limits only.

    `unread` are the pieces whose last reading is still to come, `barred` says why the person may
    not release what stands.
    """

    lot: Lot
    masked: bool
    specimens: list[Specimen]
    determinations: list[Determination]
    axis: dict[str, Any]
    unread: list[UUID]
    barred: str | None = None


def lot_facts(lot: Lot, person: Any, at: datetime) -> LotFacts:
    readings = with_results(
        Reading.objects.select_related("specimen", "read_by", "entered_by").order_by(
            "read_at", "created_at"
        )
    )
    specimens = list(
        lot.specimens.select_related("lot", "fill__column", "dropped_by", "taken_over_by")
        .prefetch_related(Prefetch("readings", readings, to_attr="shown_readings"))
        .order_by("number")
    )
    issues = lot.determinations.select_related("lot", "prepared_by", "released_by", "amends")
    determinations = list(issues.order_by("-number", "-issue"))
    masked = lot.pk in blind_lots(person, [lot.pk])
    standing = next((d for d in determinations if d.status != Determination.Status.AMENDED), None)
    axis = {
        "pieces": [] if masked else list(_pieces(specimens, lot.grade, standing, at)),
        "mean": None if masked else _mean(standing),
        "limits": _limits(lot.grade),
    }
    left = list(unread(in_columns().filter(lot=lot)).values_list("pk", flat=True))
    return LotFacts(lot, masked, specimens, determinations, axis, left, _barred(person, standing))


def _barred(person: Any, standing: Determination | None) -> str | None:
    if standing is None or standing.status != Determination.Status.READY:
        return None
    barred = barred_from_release(person, [standing]).get(standing.pk)
    return None if barred is None else str(barred.message)


def _pieces(
    specimens: Iterable[Specimen], grade: Grade, standing: Determination | None, at: datetime
) -> Iterable[dict[str, Any]]:
    """Each piece with a density; the ones set aside are marked as excluded."""
    set_aside = _set_aside(standing) if standing else {}
    for specimen in specimens:
        result = _counting_result(specimen.shown_readings)
        density, u = figure_of(result, grade) if result else (None, None)
        if density is None:
            continue
        yield {
            "specimen": str(specimen.pk),
            "shape": specimen.shape,
            "number": specimen.number,
            "age": age_of(specimen.dropped_at, at),
            "density": working(density),
            "low": working(density - INTERVAL_FACTOR * u),
            "high": working(density + INTERVAL_FACTOR * u),
            "excluded": result.pk in set_aside,
            "set_aside_reason": set_aside.get(result.pk, ""),
        }


def _set_aside(determination: Determination) -> dict[UUID, str]:
    parts = determination.parts.filter(is_counted=False)
    return dict(parts.values_list("result_id", "set_aside_reason"))


def _counting_result(readings: Iterable[Reading]) -> DensityResult | None:
    standing = [
        reading
        for reading in readings
        if reading.withdrawn_at is None and reading.replaced_at is None and reading.shown_results
    ]
    return standing[-1].shown_results[0] if standing else None


def figure_of(result: DensityResult, grade: Grade) -> tuple[Decimal | None, Decimal | None]:
    """The figure that the grade reports, with its standard uncertainty."""
    if grade.reported_figure == Grade.Figure.CURVE:
        return result.curve_g_cm3, result.curve_u_g_cm3
    return result.bracketing_g_cm3, result.bracketing_u_g_cm3


def _mean(determination: Determination | None) -> dict[str, Any] | None:
    if determination is None or determination.density_g_cm3 is None:
        return None
    density, expanded = determination.density_g_cm3, determination.expanded_uncertainty_g_cm3
    return {
        "density": str(reported(density)),
        "low": str(stored(density - expanded)),
        "high": str(stored(density + expanded)),
        "text": format_result(density, expanded),
        "count": determination.specimens_counted,
    }


def _limits(grade: Grade) -> dict[str, Any] | None:
    lower, upper = grade.lower_limit_g_cm3, grade.upper_limit_g_cm3
    if lower is None and upper is None:
        return None
    return {
        "lower": None if lower is None else _typed(lower),
        "upper": None if upper is None else _typed(upper),
        "target": _typed(grade.expected_density_g_cm3),
        "guard": None,
    }


def _typed(density: Decimal) -> str:
    """A limit as it was typed, with at least the places of a report: 1.4 is 1.4000."""
    least = reported(density)
    return str(least) if least == density else plain(density)
