"""What is known of a lot, for one person's eyes: pieces, determinations, and the density axis."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db.models import Prefetch

from labsite.quantities import format_result, reported, stored
from samples.models import DensityResult, Determination, Grade, Lot, Reading, Specimen
from samples.selectors.blindness import blind_lots
from samples.selectors.occupants import age_of, plain, working
from samples.selectors.readings import with_results

# JCGM 100:2008, 6.3.3: about 95 % for a single piece
INTERVAL_FACTOR = 2


@dataclass(frozen=True)
class LotFacts:
    """A lot with its pieces; while masked the axis holds the limits only."""

    lot: Lot
    masked: bool
    specimens: list[Specimen]
    determinations: list[Determination]
    axis: dict[str, Any]


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
    issues = lot.determinations.select_related("lot", "prepared_by", "released_by")
    determinations = list(issues.order_by("-number", "-issue"))
    masked = lot.pk in blind_lots(person, [lot.pk])
    standing = next((d for d in determinations if d.status != Determination.Status.AMENDED), None)
    axis = {
        "pieces": [] if masked else list(_pieces(specimens, lot.grade, standing, at)),
        "mean": None if masked else _mean(standing),
        "limits": _limits(lot.grade),
    }
    return LotFacts(lot, masked, specimens, determinations, axis)


def _pieces(
    specimens: Iterable[Specimen], grade: Grade, standing: Determination | None, at: datetime
) -> Iterable[dict[str, Any]]:
    """Each piece with a density; the ones set aside are marked as excluded."""
    set_aside = _set_aside(standing) if standing else set()
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
        }


def _set_aside(determination: Determination) -> set[Any]:
    return set(determination.parts.filter(is_counted=False).values_list("result_id", flat=True))


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
        "lower": None if lower is None else plain(lower),
        "upper": None if upper is None else plain(upper),
        "target": plain(grade.expected_density_g_cm3),
        "guard": None,
    }
