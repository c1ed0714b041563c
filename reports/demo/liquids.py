"""The liquid in one fill: a density profile that diffuses between closed ends.

The profile is a cosine series; term n dies as exp(-(n π / H)² M), where M (mm²) is all mixing so
far, D × time and what each basket pass adds. The mean never changes, so mass is conserved.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache

import numpy as np
from scipy.fft import dct, idct

CELLS = 700
DAY = timedelta(days=1)
GLASS_EXPANSION_PER_K = 1e-5  # borosilicate, three times 3.3e-6


@dataclass(frozen=True)
class Liquid:
    length_mm: float
    top_g_cm3: float
    bottom_g_cm3: float
    bend: tuple[float, float]
    diffusivity_mm2_day: float
    expansion_per_k: float
    poured_at: datetime
    passes: Sequence[tuple[datetime, float]] = ()  # instant, mixing in mm²

    def cells_mm(self) -> np.ndarray:
        return (np.arange(CELLS) + 0.5) * self.length_mm / CELLS

    def poured_profile(self) -> np.ndarray:
        """Density from the bottom up as poured: a line, bowed a little."""
        up = self.cells_mm() / self.length_mm
        bow = up * (1 - up) * (self.bend[0] + self.bend[1] * (1 - 2 * up))
        return self.bottom_g_cm3 + (self.top_g_cm3 - self.bottom_g_cm3) * (up + bow)

    def mixing_mm2(self, at: datetime) -> float:
        days = max((at - self.poured_at) / DAY, 0.0)
        return self.diffusivity_mm2_day * days + sum(mm2 for when, mm2 in self.passes if when <= at)

    def profile(self, at: datetime) -> np.ndarray:
        return _profile(self, self.mixing_mm2(at))

    def rest_mm(
        self, density_g_cm3: float, at: datetime, *, warmer_k: float, expansion_per_k: float
    ) -> float:
        """Height above the bottom where a body of this density at 23 °C rests; 0 or H at the ends.

        A liquid that is warmer by ΔT is lighter, so the body rests where the liquid is denser.
        """
        matched = density_g_cm3 * (1 - expansion_per_k * warmer_k)
        matched /= 1 - self.expansion_per_k * warmer_k
        profile = self.profile(at)
        heights = np.concatenate(([0.0], self.cells_mm(), [self.length_mm]))
        densities = np.concatenate((profile[:1], profile, profile[-1:]))
        if matched > densities[0] or matched < densities[-1]:
            return 0.0 if matched > densities[0] else self.length_mm
        return float(np.interp(-matched, -densities, heights))


@lru_cache(maxsize=32)
def _profile(liquid: Liquid, mixing_mm2: float) -> np.ndarray:
    terms = dct(liquid.poured_profile(), norm="ortho")
    rates = (np.arange(CELLS) * np.pi / liquid.length_mm) ** 2
    return idct(terms * np.exp(-rates * mixing_mm2), norm="ortho")
