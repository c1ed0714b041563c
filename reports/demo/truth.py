"""What is true behind the events: kept apart, so that tests can score what the app finds."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from reports.demo.liquids import Liquid


@dataclass(frozen=True)
class Planted:
    """An error put in on purpose, and the key of the event that carries it."""

    kind: str
    key: str
    size: float
    note: str = ""


@dataclass
class Truth:
    float_density: dict[str, float] = field(default_factory=dict)
    float_change: dict[str, tuple[datetime, float]] = field(default_factory=dict)
    liquids: dict[str, Liquid] = field(default_factory=dict)
    baths: dict[str, Any] = field(default_factory=dict)
    lot_density: dict[str, float] = field(default_factory=dict)
    specimen_density: dict[str, float] = field(default_factory=dict)
    # heights above the bottom at the time of reading, before eye and hand
    float_rest_mm: dict[str, dict[str, float]] = field(default_factory=dict)
    reading_rest_mm: dict[str, float] = field(default_factory=dict)
    planted: list[Planted] = field(default_factory=list)

    def density_of_float(self, label: str, at: datetime) -> float:
        when, change = self.float_change.get(label, (at, 0.0))
        return self.float_density[label] + (change if at >= when else 0.0)
