"""The liquid obeys what diffusion between closed ends must obey."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from reports.demo.liquids import Liquid

POURED = datetime(2026, 1, 1, tzinfo=UTC)
SPAN, LENGTH = 0.040, 700.0
SLOPE = SPAN / LENGTH


def liquid(**changes: object) -> Liquid:
    values = {
        "length_mm": LENGTH,
        "top_g_cm3": 0.905,
        "bottom_g_cm3": 0.945,
        "bend": (0.0, 0.0),
        "diffusivity_mm2_day": 90.0,
        "expansion_per_k": 8e-4,
        "poured_at": POURED,
        "passes": (),
    }
    return Liquid(**{**values, **changes})  # type: ignore[arg-type]


def days(count: float) -> datetime:
    return POURED + timedelta(days=count)


def test_mass_is_conserved() -> None:
    bowed = liquid(bend=(0.04, -0.03), passes=((days(9), 300.0),))
    fresh = bowed.profile(POURED).mean()
    for age in (1, 10, 45, 400):
        assert bowed.profile(days(age)).mean() == pytest.approx(fresh, abs=1e-12)


@pytest.mark.parametrize("bend", [(0.04, 0.03), (-0.04, 0.03), (0.03, -0.02)])
@pytest.mark.parametrize("age", [0, 5, 45])
def test_density_falls_from_the_bottom_up(bend: tuple[float, float], age: float) -> None:
    assert (np.diff(liquid(bend=bend).profile(days(age))) < 0).all()


def test_the_end_flattens_as_in_a_half_space() -> None:
    # A straight gradient g that meets a closed wall: the wall's density moves by 2 g √(M/π)
    # (diffusion in a half-space, M = D t), as long as the other end is far.
    age = 20.0
    moved = 2 * SLOPE * np.sqrt(90.0 * age / np.pi)
    profile = liquid().profile(days(age))
    cell = SLOPE * LENGTH / 1400  # the last cell's centre is half a cell from the wall
    assert profile[0] == pytest.approx(0.945 - moved, abs=cell)
    assert profile[-1] == pytest.approx(0.905 + moved, abs=cell)


def test_the_middle_keeps_its_density() -> None:
    assert liquid().profile(days(42))[350] == pytest.approx(0.925 - SLOPE / 2, abs=1e-7)


def test_an_outer_float_moves_outwards_and_the_middle_one_stays() -> None:
    def rest(density: float, age: float) -> float:
        return liquid().rest_mm(density, days(age), warmer_k=0.0, expansion_per_k=1e-5)

    assert rest(0.9089, 31) > rest(0.9089, 0) + 15
    assert rest(0.9411, 31) < rest(0.9411, 0) - 15
    assert rest(0.9250, 31) == pytest.approx(rest(0.9250, 0), abs=0.1)


def test_a_warmer_bath_lets_a_float_sink_by_what_the_liquid_expands() -> None:
    # ρ (β_liquid − β_glass) ΔT / g = 0.925 × 7.9e-4 × 0.1 / 5.71e-5 = 1.28 mm at this slope
    cold = liquid().rest_mm(0.925, days(5), warmer_k=0.0, expansion_per_k=1e-5)
    warm = liquid().rest_mm(0.925, days(5), warmer_k=0.1, expansion_per_k=1e-5)
    assert cold - warm == pytest.approx(0.925 * 7.9e-4 * 0.1 / SLOPE, abs=0.02)


def test_beyond_the_liquid_a_body_floats_on_top_or_lies_on_the_floor() -> None:
    def rest(density: float) -> float:
        return liquid().rest_mm(density, days(3), warmer_k=0.0, expansion_per_k=1e-5)

    assert rest(0.900) == LENGTH
    assert rest(0.950) == 0.0


def test_a_basket_pass_mixes_once() -> None:
    passed = liquid(passes=((days(3), 50.0),))
    assert passed.mixing_mm2(days(2)) == pytest.approx(180.0)
    assert passed.mixing_mm2(days(4)) == pytest.approx(410.0)
