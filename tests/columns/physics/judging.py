"""Bracketing and curve against the truth of simulated columns."""

from dataclasses import dataclass, field
from decimal import Decimal
from functools import lru_cache

import numpy as np

from columns.physics import FloatReading, LiquidSpan, calibrate
from tests.columns.physics.column_simulator import SCENARIOS, Column, read_session

READING_SD = 0.4
HEIGHT_U = float(np.hypot(READING_SD, 0.5 / np.sqrt(12)))
PHASES = {"fresh": (0.0, 0.25), "mid": (0.25, 0.65), "aged": (0.65, 1.0)}


def number(value):
    return Decimal(repr(float(value)))


def calibration_of(session, liquid=None):
    floats = [
        FloatReading(
            id=str(place),
            density_g_cm3=number(density),
            standard_uncertainty_g_cm3=float(u),
            height_mm=number(height),
        )
        for place, (density, u, height) in enumerate(
            zip(session.densities, session.standard_uncertainties, session.heights, strict=True)
        )
    ]
    return calibrate(floats, height_standard_uncertainty_mm=HEIGHT_U, liquid=liquid)


@dataclass
class Score:
    """Errors of both figures, which of them lie in an end gap, and whether intervals held."""

    bracketing: list = field(default_factory=list)
    curve: list = field(default_factory=list)
    at_end: list = field(default_factory=list)
    held: list = field(default_factory=list)
    bracketing_held: list = field(default_factory=list)

    def rms(self, name, *, only_ends=False):
        errors = np.array(getattr(self, name))
        return float(np.sqrt(np.mean(errors[self.at_end if only_ends else slice(None)] ** 2)))


@lru_cache
def judge(scenario_name, *, columns=20, known_liquid=False):
    """Simulate columns of one kind, read each once in every phase, and compare with the truth."""
    rng = np.random.default_rng(list(scenario_name.encode()))
    scenario = SCENARIOS[scenario_name]
    scores = {phase: Score() for phase in PHASES}
    liquid = LiquidSpan(bottom_mm=Decimal(0), top_mm=number(scenario.liquid_mm))
    for _ in range(columns):
        column = Column(scenario, rng)
        life = column.life()
        for phase, ages in PHASES.items():
            age = rng.uniform(*ages) * life
            session = read_session(column, age, rng, reading_sd=READING_SD, specimens=8)
            calibration = calibration_of(session, liquid if known_liquid else None)
            _compare(session, calibration, scores[phase])
    return scores


def _compare(session, calibration, score):
    for true, height in zip(session.specimen_densities, session.specimen_heights, strict=True):
        found = calibration.density_at(number(height))
        if found.outcome == "measured":
            low, high = found.curve.interval_95
            apart = found.bracketing.density_g_cm3 - true
            ends = {calibration.gaps[0].lower_float, calibration.gaps[-1].upper_float}
            score.bracketing.append(apart)
            score.curve.append(found.curve.density_g_cm3 - true)
            score.at_end.append(
                bool(ends & {found.bracketing.lower_float, found.bracketing.upper_float})
            )
            score.held.append(low <= true <= high)
            score.bracketing_held.append(
                abs(apart) <= 1.96 * found.bracketing.standard_uncertainty_g_cm3
            )
