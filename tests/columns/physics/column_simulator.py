"""A small simulator of gradient columns for judging the curve; independent of the product.

One column is a closed tube of liquid whose density profile diffuses: cells of 5 mm, no flux at
either end, a diffusivity that differs along the tube, a pour that is not quite linear, basket
passes that mix a little more. Floats stand evenly in the fresh column, 75 to 130 mm inside the
liquid; the column's life ends when one of them comes within 12 mm of an end. Certificates err (one
in twenty by a doubled sd), heights are read with noise and rounded to half a millimetre.
"""

from dataclasses import dataclass

import numpy as np

CELL_MM = 5.0
READABLE_MARGIN_MM = 12.0
LONGEST_LIFE_DAYS = 200


@dataclass(frozen=True)
class Scenario:
    """What differs between kinds of column."""

    lightest: float
    densest: float
    floats: int
    liquid_mm: float = 720.0
    float_u: tuple = (5e-5, 1e-4, 2e-4)


SCENARIOS = {
    "pe": Scenario(0.905, 0.965, 9),
    "pp": Scenario(0.892, 0.918, 7),
    "pet": Scenario(1.335, 1.405, 9),
    "pe_narrow": Scenario(0.930, 0.960, 6),
}


class Column:
    """One filled tube: true profile at any age, and where a density comes to rest."""

    def __init__(self, scenario, rng):
        self.scenario = scenario
        self.cells = int(scenario.liquid_mm / CELL_MM)
        self.centres = (np.arange(self.cells) + 0.5) * CELL_MM
        self.start = self._poured(rng)
        self.diffusivity = rng.uniform(45.0, 120.0)
        self.first_mixing = rng.lognormal(np.log(150.0), 0.6)
        self.passes_per_day = rng.choice([0.0, 0.05, 0.15])
        self.pass_mixing = rng.uniform(15.0, 60.0)
        skew = rng.uniform(-0.5, 0.5)
        self._set_modes(skew)
        low, high = rng.uniform(75.0, 130.0, 2)
        wanted = np.linspace(low, scenario.liquid_mm - high, scenario.floats)
        self.floats = np.interp(wanted, self.centres, self.profile(0.0))
        self.floats += rng.normal(0, 1e-4, scenario.floats)

    def _poured(self, rng):
        """Linear but for a bend of the pour and one smooth wave, 5 to 15 % in slope."""
        place = self.centres / self.scenario.liquid_mm
        bend, cubic = rng.normal(0.0, 0.05, 2)
        wave = rng.normal(0.0, 0.003) * np.sin(
            2 * np.pi * (rng.uniform(1.0, 2.5) * place + rng.uniform())
        )
        shape = place + bend * place * (1 - place)
        shape += cubic * place * (1 - place) * (1 - 2 * place) + wave
        span = self.scenario.densest - self.scenario.lightest
        return self.scenario.densest - span * shape

    def _set_modes(self, skew):
        """Eigenmodes of diffusion with a diffusivity that changes along the tube."""
        faces = np.arange(1, self.cells) / self.cells
        rate = (1.0 + skew * (faces - 0.5) * 2.0) / CELL_MM**2
        operator = np.diag(np.append(rate, 0.0) + np.insert(rate, 0, 0.0))
        operator -= np.diag(rate, 1) + np.diag(rate, -1)
        self.decay, self.modes = np.linalg.eigh(operator)

    def profile(self, age_days):
        """Cell densities from the bottom up after some days."""
        mixing = self.first_mixing + age_days * (
            self.diffusivity + self.passes_per_day * self.pass_mixing
        )
        return self.modes @ (np.exp(-self.decay * mixing) * (self.modes.T @ self.start))

    def life(self):
        """First whole day on which an end float stands too near an end."""
        low, high = 0, LONGEST_LIFE_DAYS
        while high - low > 1:
            day = (low + high) // 2
            low, high = (low, day) if self._is_over(day) else (day, high)
        return high

    def _is_over(self, day):
        heights = rest_heights(self, self.profile(day), self.floats)
        nearest = min(heights.min(), self.scenario.liquid_mm - heights.max())
        return nearest < READABLE_MARGIN_MM


def rest_heights(column, profile, densities):
    """Heights at which densities come to rest."""
    return np.interp(-np.asarray(densities), -profile, column.centres)


@dataclass(frozen=True)
class Session:
    """One float set and a row of specimens read with it."""

    densities: np.ndarray
    standard_uncertainties: np.ndarray
    heights: np.ndarray
    specimen_densities: np.ndarray
    specimen_heights: np.ndarray
    gap: np.ndarray  # 0 first interval, floats - 2 last interval
    floats: int


def read_session(column, age_days, rng, *, reading_sd=0.4, specimens=12):
    """Read all floats and some specimens of a column once."""
    scenario = column.scenario
    profile = column.profile(age_days)
    true = column.floats
    uncertainty = rng.choice(scenario.float_u, scenario.floats)
    tails = np.where(rng.random(scenario.floats) < 0.05, 2.0, 1.0)
    certified = np.round(true + rng.normal(0, 1, scenario.floats) * uncertainty * tails, 4)
    pieces = rng.uniform(true.min(), true.max(), specimens)
    heights = _read(rest_heights(column, profile, true), rng, reading_sd)
    piece_heights = _read(rest_heights(column, profile, pieces), rng, reading_sd)
    order = np.sort(heights)
    return Session(
        certified,
        uncertainty,
        heights,
        pieces,
        piece_heights,
        np.searchsorted(order, piece_heights) - 1,
        scenario.floats,
    )


def _read(heights, rng, reading_sd):
    return np.round((heights + rng.normal(0, reading_sd, len(heights))) * 2) / 2
