"""Bath temperatures through the month: a slow wander inside the band, and one bad evening."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import ROUND_HALF_EVEN, Decimal

import numpy as np

from reports.demo.scenario import Bath

STEP = timedelta(minutes=10)
MEMORY = 0.93  # correlation of one step with the next: about two hours
WANDER_LIMIT_C = 0.08  # outside the excursion the bath keeps its band of 0.1 °C


@dataclass(frozen=True)
class Excursion:
    """A chiller that stops: up in 40 min, down again when it is put right."""

    start: datetime
    end: datetime
    height_c: float
    ramp: timedelta = timedelta(minutes=40)

    def at(self, instant: datetime) -> float:
        if not self.start <= instant <= self.end:
            return 0.0
        edge = min(instant - self.start, self.end - instant)
        return self.height_c * min(edge / self.ramp, 1.0)


class BathSeries:
    """One bath's true temperature."""

    def __init__(
        self,
        bath: Bath,
        start: datetime,
        end: datetime,
        rng: np.random.Generator,
        excursion: Excursion | None = None,
    ) -> None:
        self.bath = bath
        self.start = start
        self.excursion = excursion
        self.wander = _wander(bath, int((end - start) / STEP) + 2, rng)

    def true_c(self, at: datetime) -> float:
        place = (at - self.start) / STEP
        grid = np.arange(len(self.wander))
        extra = self.excursion.at(at) if self.excursion else 0.0
        return float(self.bath.setpoint_c) + float(np.interp(place, grid, self.wander)) + extra

    def typed_c(self, at: datetime) -> Decimal:
        """What the thermometer shows, to 0.01 °C."""
        return Decimal(repr(self.true_c(at))).quantize(Decimal("0.01"), rounding=ROUND_HALF_EVEN)


def _wander(bath: Bath, count: int, rng: np.random.Generator) -> np.ndarray:
    steps = rng.normal(0.0, bath.wander_c * np.sqrt(1 - MEMORY**2), count)
    values = np.empty(count)
    value = 0.0
    for index, step in enumerate(steps):
        value = MEMORY * value + step
        values[index] = value
    return np.clip(values + bath.offset_c, -WANDER_LIMIT_C, WANDER_LIMIT_C)
