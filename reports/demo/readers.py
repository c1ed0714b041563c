"""How a person reads a height: noise, an eye that is too high, a habit of whole millimetres."""

from __future__ import annotations

from decimal import Decimal

import numpy as np

from reports.demo.scenario import Column, Person

EYE_LEVEL_MM = 400.0  # where parallax vanishes


def parallax_mm(person: Person, above_bottom_mm: float) -> float:
    """Low in the column an eye that is too high reads low; at eye level it does no harm."""
    share = max(0.0, 1.0 - above_bottom_mm / EYE_LEVEL_MM)
    return person.low_end_bias_mm * share


def read_mm(
    person: Person, column: Column, above_bottom_mm: float, rng: np.random.Generator
) -> Decimal:
    """A height as typed, on the scale as printed, to its division or to whole millimetres."""
    seen = above_bottom_mm + parallax_mm(person, above_bottom_mm)
    seen += rng.normal(0.0, person.true_noise_mm)
    division = Decimal(1) if rng.random() < person.whole_mm_share else column.division_mm
    steps = round(column.scale_mm(seen) / float(division))
    typed = (steps * division).quantize(Decimal("0.1"))
    return min(max(typed, Decimal("0.0")), column.length_mm.quantize(Decimal("0.1")))


def mistyped(height: Decimal) -> Decimal:
    """A slip of 9 to 27 mm: two whole digits exchanged, else a centimetre misread on the scale."""
    whole, part = str(height).split(".")
    if len(whole) > 1 and 1 <= abs(int(whole[-1]) - int(whole[-2])) <= 3:
        return Decimal(f"{whole[:-2]}{whole[-1]}{whole[-2]}.{part}")
    return height + 10 if height < 350 else height - 10
