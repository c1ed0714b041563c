"""Before a drop: which shape can be told apart, and which column has the place and the room."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from columns.models import Column
from columns.selectors.calibrations import physics_of
from columns.selectors.fills import Standing, live_fills, standings
from samples.constants import NEAR_MM
from samples.models import Lot, Reading, Specimen
from samples.selectors.blindness import is_blind
from samples.selectors.specimens import PRESENT, in_columns


@dataclass(frozen=True)
class ShapeUse:
    """How often a shape lies near the expected place, and in the whole column."""

    shape: str
    near: int
    in_column: int


@dataclass(frozen=True)
class DropAdvice:
    """One column's answer; the expected height is None where it is masked or not on the scale.

    `covers` is None while no calibration is in force: then nobody knows.
    """

    column: Column
    fill: Any
    standing: Standing
    covers: bool | None
    expected_height_mm: float | None
    masked: bool
    shapes: list[ShapeUse]

    @property
    def is_open(self) -> bool:
        return self.standing.state == "open"

    @property
    def crowd(self) -> int:
        return sum(use.near for use in self.shapes)


def drop_advice(person: Any, lot: Lot, column: Column, at: datetime) -> DropAdvice | None:
    """Advice for one column; None when it holds no fill."""
    return next(iter(column_advice(person, lot, at, columns=[column])), None)


def column_advice(
    person: Any, lot: Lot, at: datetime, *, columns: Iterable[Column] | None = None
) -> list[DropAdvice]:
    """Advice for each filled column, the best first: open, holding the density, least crowded."""
    if columns is None:
        columns = Column.objects.filter(retired_at__isnull=True).select_related("bath")
    columns = list(columns)
    fills = live_fills(columns)
    states = standings(fills.values(), at)
    lying = _lying(list(fills.values()))
    masked = is_blind(person, lot)
    found = [
        _advice(column, fills[column.pk], states[fills[column.pk].pk], lot, lying, masked)
        for column in columns
        if column.pk in fills
    ]
    return sorted(found, key=lambda each: (not each.is_open, not each.covers, each.crowd))


def _advice(
    column: Column,
    fill: Any,
    standing: Standing,
    lot: Lot,
    lying: dict[Any, list[tuple[str, Decimal | None]]],
    masked: bool,
) -> DropAdvice:
    expected, covers = None, None
    if standing.calibration is not None:
        expected = physics_of(standing.calibration).height_at(lot.grade.expected_density_g_cm3)
        covers = expected is not None
    shapes = _shape_uses(lying.get(fill.pk, []), expected)
    return DropAdvice(column, fill, standing, covers, None if masked else expected, masked, shapes)


def _shape_uses(lying: list[tuple[str, Decimal | None]], expected: float | None) -> list[ShapeUse]:
    """All shapes, the one least used near the expected place first."""
    uses = []
    for shape in Specimen.Shape.values:
        heights = [height for used, height in lying if used == shape]
        uses.append(ShapeUse(shape, sum(_is_near(h, expected) for h in heights), len(heights)))
    return sorted(uses, key=lambda use: (use.near, use.in_column))


def _is_near(height: Decimal | None, expected: float | None) -> bool:
    """A piece still falling may come to rest anywhere: it counts as near."""
    if expected is None:
        return False
    return height is None or abs(float(height) - expected) <= NEAR_MM


def _lying(fills: list[Any]) -> dict[Any, list[tuple[str, Decimal | None]]]:
    """Shape and last height of every piece in the fills, in two queries."""
    pieces = list(in_columns(fills).values_list("pk", "fill_id", "shape"))
    heights = dict(
        Reading.objects.filter(
            PRESENT, specimen__in=[pk for pk, _fill, _shape in pieces], height_mm__isnull=False
        )
        .order_by("read_at", "created_at")
        .values_list("specimen_id", "height_mm")
    )
    found: dict[Any, list[tuple[str, Decimal | None]]] = {}
    for pk, fill, shape in pieces:
        found.setdefault(fill, []).append((shape, heights.get(pk)))
    return found
