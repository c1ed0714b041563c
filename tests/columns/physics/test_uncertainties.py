"""Uncertainties: conversions, oracles and a Monte Carlo check."""

import math
from decimal import Decimal

import GTC
import numpy as np
import pytest
from uncertainties import ufloat

from columns.physics import (
    basket_pass_minutes,
    coverage_factor,
    errors,
    height_standard_uncertainty,
    rectangular_uncertainty,
    standard_uncertainty,
)
from tests.columns.physics.sets import NINE, calibrated


def test_u_is_divided_by_the_certificates_own_factor():
    assert standard_uncertainty(Decimal("0.0002"), Decimal("2")) == pytest.approx(0.0001)
    assert standard_uncertainty(Decimal("0.0002"), Decimal("2.65")) == pytest.approx(7.547e-5, 1e-3)


@pytest.mark.parametrize(("expanded", "factor"), [(0.0002, 0), (-1, 2), (math.nan, 2), (1, -2)])
def test_an_impossible_certificate_is_refused(expanded, factor):
    with pytest.raises(errors.PhysicsError):
        standard_uncertainty(expanded, factor)


def test_a_reading_joins_repeatability_and_rounding():
    """Division 0.5 mm and a repeatability of 0.3 mm: sqrt(0.09 + 0.25/12) = 0.33 mm."""
    assert height_standard_uncertainty(Decimal("0.5"), 0.3) == pytest.approx(0.332916, abs=1e-6)
    assert rectangular_uncertainty(1) == pytest.approx(0.57735027, abs=1e-8)


@pytest.mark.parametrize(
    ("freedom", "factor"), [(1, 12.71), (2, 4.30), (5, 2.57), (10, 2.23), (50, 2.01)]
)
def test_coverage_factors_are_those_of_the_table(freedom, factor):
    """JCGM 100:2008, Table G.2, p = 95 %; fractional degrees of freedom are cut down (G.4.1)."""
    assert round(coverage_factor(freedom), 2) == factor
    assert coverage_factor(freedom + 0.9) == coverage_factor(freedom)


def test_many_degrees_of_freedom_give_the_normal_factor():
    assert coverage_factor(math.inf) == pytest.approx(1.959964, abs=1e-5)


@pytest.mark.parametrize(("freedom", "coverage"), [(0.5, 0.95), (math.nan, 0.95), (5, 1.0)])
def test_a_factor_without_freedom_is_refused(freedom, coverage):
    with pytest.raises(ValueError):
        coverage_factor(freedom, coverage)


def test_the_basket_takes_half_an_hour_for_300_mm():
    """ASTM D1505-18, 9.3."""
    assert basket_pass_minutes(300) == 30
    with pytest.raises(ValueError, match="rate"):
        basket_pass_minutes(300, 0)


def _by_hand(number, correlate=None):
    """The bracketing formula in another library's uncertain numbers, F-104 to F-105."""
    a, b = number(0.9249, 0.0001), number(0.9202, 0.0001)
    y, z, x = number(372.5, 0.4), number(430.0, 0.4), number(401.0, 0.4)
    if correlate:
        correlate(a, b)
    return a + (x - y) * (b - a) / (z - y)


def test_bracketing_agrees_with_two_other_uncertainty_calculators():
    found = calibrated().density_at(Decimal("401.0")).bracketing
    first = _by_hand(ufloat)
    second = _by_hand(GTC.ureal)
    assert found.standard_uncertainty_g_cm3 == pytest.approx(first.std_dev, rel=1e-9)
    assert found.standard_uncertainty_g_cm3 == pytest.approx(GTC.uncertainty(second), rel=1e-9)


def test_common_parts_agree_with_another_calculators_correlation():
    found = calibrated(extra={"common_standard_uncertainty_g_cm3": 0.00006})
    found = found.density_at(Decimal("401.0")).bracketing

    def dependent(value, u):
        return GTC.ureal(value, u, independent=False)

    expected = _by_hand(dependent, lambda a, b: GTC.set_correlation(0.36, a, b))
    assert found.standard_uncertainty_g_cm3 == pytest.approx(GTC.uncertainty(expected), rel=1e-9)


def test_monte_carlo_agrees_with_the_propagated_bracketing_uncertainty():
    """JCGM 101:2008, clause 7: propagate distributions through the formula, errors in all five."""
    rng = np.random.default_rng(20)
    heights, densities = (np.array([[float(row[place])] for row in NINE[3:5]]) for place in (2, 1))
    draws = 200_000
    densities = densities + rng.normal(0, 1e-4, (2, draws))
    heights = heights + rng.normal(0, 0.4, (2, draws))
    specimen = 401.0 + rng.normal(0, 0.4, draws)
    share = (specimen - heights[1]) / (heights[0] - heights[1])
    simulated = densities[1] + share * (densities[0] - densities[1])
    found = calibrated().density_at(Decimal("401.0")).bracketing
    assert simulated.mean() == pytest.approx(found.density_g_cm3, abs=1e-6)
    assert simulated.std() == pytest.approx(found.standard_uncertainty_g_cm3, rel=0.01)


def test_monte_carlo_agrees_with_the_shared_covariance():
    rng = np.random.default_rng(21)
    rows = np.array([[float(row[1]), float(row[2])] for row in NINE])[::-1]
    draws, specimens = 20_000, (401.0, 410.0, 330.0)
    densities = rows[:, 0] + rng.normal(0, 1e-4, (draws, 9))
    heights = rows[:, 1] + rng.normal(0, 0.4, (draws, 9))
    simulated = np.array(
        [np.interp(specimens, h, d) for h, d in zip(heights, densities, strict=True)]
    )
    expected = calibrated().covariance([Decimal(str(h)) for h in specimens]).bracketing
    assert np.cov(simulated.T) == pytest.approx(np.array(expected), abs=2.5e-10)
