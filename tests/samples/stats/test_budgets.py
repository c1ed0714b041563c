"""Uncertainty of a determination: hand-worked, against an oracle, and by Monte Carlo."""

import math
from decimal import Decimal

import GTC
import numpy as np
import pytest

from columns.physics import FloatReading, calibrate
from samples.stats import PooledScatter, determination_uncertainty, errors

THREE = [Decimal("0.91837"), Decimal("0.91845"), Decimal("0.91842")]
# All three between the same floats: nearly the same error.
SHARED = [[49e-10] * 3] * 3


def budget(densities=THREE, *, covariance=SHARED, reading=0.00003, **options):
    return determination_uncertainty(
        densities,
        shared_covariance=covariance,
        reading_standard_uncertainty_g_cm3=reading,
        **options,
    )


def part(found, name):
    return next(each for each in found.parts if each.name == name)


def test_the_worked_example_of_the_docs():
    """docs/algorithms/uncertainty.md: 70, 23.33 and 20 in 1e-6 g/cm³, nu = 230, k = 2."""
    found = budget(temperature_standard_uncertainty_g_cm3=0.00002)
    assert part(found, "floats").standard_uncertainty_g_cm3 == pytest.approx(70e-6)
    assert part(found, "scatter").standard_uncertainty_g_cm3 == pytest.approx(23.3333e-6, rel=1e-5)
    assert part(found, "temperature").standard_uncertainty_g_cm3 == pytest.approx(20e-6)
    assert found.standard_uncertainty_g_cm3 == pytest.approx(76.4490e-6, rel=1e-5)
    assert found.effective_degrees_of_freedom == pytest.approx(230.5, abs=0.1)
    assert found.coverage_factor == 2.0
    assert found.expanded_uncertainty_g_cm3 == pytest.approx(152.898e-6, rel=1e-5)
    assert sum(each.share for each in found.parts) == pytest.approx(1.0)


def test_reading_noise_is_never_added_beside_the_scatter():
    assert budget(reading=0.0) == budget(reading=0.00004)


def test_scatter_below_the_reading_noise_is_replaced_by_it():
    found = budget([Decimal("0.9184")] * 3, reading=0.00003)
    assert part(found, "scatter").basis == "reading"
    assert part(found, "scatter").standard_uncertainty_g_cm3 == pytest.approx(0.00003 / 3**0.5)


def test_few_specimens_without_pooled_scatter_take_students_factor():
    scattered = [Decimal("0.9180"), Decimal("0.9184"), Decimal("0.9190")]
    found = budget(scattered, covariance=[[1e-12] * 3] * 3)
    assert found.coverage_factor == pytest.approx(4.3027, abs=1e-4)  # JCGM 100, Table G.2, nu = 2
    assert found.expanded_uncertainty_g_cm3 > 2 * found.standard_uncertainty_g_cm3


def test_pooled_scatter_is_used_where_it_knows_more():
    found = budget(pooled=PooledScatter(0.00006, 40))
    assert part(found, "scatter").basis == "pooled"
    assert part(found, "scatter").standard_uncertainty_g_cm3 == pytest.approx(0.00006 / 3**0.5)
    assert budget(pooled=PooledScatter(0.00006, 2)).parts[1].basis == "observed"


def test_specimens_that_contradict_the_pooled_scatter_are_believed():
    wide = [Decimal("0.9180"), Decimal("0.9184"), Decimal("0.9190")]
    found = budget(wide, pooled=PooledScatter(0.00006, 40))
    assert found.findings == ("scatter_above_pooled",)
    assert part(found, "scatter").basis == "observed"


def test_a_single_specimen_says_that_scatter_was_not_seen():
    found = budget(THREE[:1], covariance=[[49e-10]])
    assert found.findings == ("scatter_not_seen",)
    assert part(found, "scatter").standard_uncertainty_g_cm3 == 0.00003
    pooled = budget(THREE[:1], covariance=[[49e-10]], pooled=PooledScatter(0.00006, 40))
    assert pooled.findings == ()
    assert part(pooled, "scatter").basis == "pooled"


def test_the_mean_keeps_what_specimens_share_and_averages_what_they_do_not():
    together = part(budget(), "floats").standard_uncertainty_g_cm3
    apart = budget(covariance=np.diag([49e-10] * 3).tolist())
    assert together == pytest.approx(70e-6)
    assert part(apart, "floats").standard_uncertainty_g_cm3 == pytest.approx(70e-6 / 3**0.5)


def test_welch_satterthwaite_agrees_with_another_calculator():
    found = budget(temperature_standard_uncertainty_g_cm3=0.00002)
    scatter = part(found, "scatter")
    sum_of_parts = (
        GTC.ureal(0.0, 70e-6)
        + GTC.ureal(0.0, scatter.standard_uncertainty_g_cm3, 2)
        + GTC.ureal(0.0, 20e-6)
    )
    assert found.effective_degrees_of_freedom == pytest.approx(GTC.dof(sum_of_parts), rel=1e-9)
    assert found.standard_uncertainty_g_cm3 == pytest.approx(GTC.uncertainty(sum_of_parts))


def test_nothing_uncertain_gives_zero():
    found = budget([Decimal("0.9184")] * 3, covariance=[[0.0] * 3] * 3, reading=0.0)
    assert found.expanded_uncertainty_g_cm3 == 0.0
    assert math.isinf(found.effective_degrees_of_freedom)


@pytest.mark.parametrize(
    "options",
    [
        {"covariance": [[1e-9]]},
        {"covariance": [[1e-9, 0, 0], [0, 1e-9, 0]]},
        {"covariance": [[-1e-9] * 3] * 3},
        {"reading": -1e-5},
        {"reading": float("nan")},
        {"temperature_standard_uncertainty_g_cm3": -1e-5},
    ],
)
def test_impossible_parts_are_refused(options):
    with pytest.raises(errors.ValueNotValid):
        budget(**options)


def simulated_determination(rng, *, piece_sd, method, floats):
    """One float set with errors as certified, three specimens read; the product's statement."""
    heights = np.linspace(120.0, 610.0, floats)
    true = 0.95 - 9e-5 * (heights - 120.0)
    seen = (true + rng.normal(0, 1e-4, floats), heights + rng.normal(0, 0.4, floats))
    column = calibrate(
        [
            FloatReading(
                id=str(place),
                density_g_cm3=Decimal(repr(round(float(density), 6))),
                standard_uncertainty_g_cm3=1e-4,
                height_mm=Decimal(repr(round(float(height), 2))),
            )
            for place, (density, height) in enumerate(zip(*seen, strict=True))
        ],
        height_standard_uncertainty_mm=0.4,
    )
    lot = rng.uniform(150.0, 580.0)
    pieces = lot + rng.normal(0, piece_sd / 9e-5, 3) + rng.normal(0, 0.4, 3)
    pieces = [Decimal(repr(round(float(piece), 2))) for piece in pieces]
    found = [getattr(column.density_at(piece), method) for piece in pieces]
    statement = determination_uncertainty(
        [each.density_g_cm3 for each in found],
        shared_covariance=getattr(column.covariance(pieces), method),
        reading_standard_uncertainty_g_cm3=found[0].from_specimen_height_g_cm3,
    )
    mean = sum(each.density_g_cm3 for each in found) / 3
    return mean - (0.95 - 9e-5 * (lot - 120.0)), statement


@pytest.mark.parametrize(
    ("method", "floats", "piece_sd", "draws"),
    [
        ("bracketing", 4, 0.0, 300),
        ("bracketing", 4, 5e-5, 300),
        ("bracketing", 4, 2e-4, 300),
        ("curve", 7, 5e-5, 100),
    ],
)
def test_monte_carlo_expanded_uncertainty_holds_the_truth(method, floats, piece_sd, draws):
    """JCGM 101:2008, clause 8: the stated interval against simulated determinations.

    The share that holds may differ from 95 % by four standard errors of the simulation.
    """
    rng = np.random.default_rng(31)
    results = [
        simulated_determination(rng, piece_sd=piece_sd, method=method, floats=floats)
        for _ in range(draws)
    ]
    held = np.mean([abs(error) <= stated.expanded_uncertainty_g_cm3 for error, stated in results])
    assert abs(held - 0.95) <= 4 * math.sqrt(0.95 * 0.05 / draws)


def test_monte_carlo_standard_uncertainty_is_the_spread_of_the_mean():
    rng = np.random.default_rng(32)
    results = [
        simulated_determination(rng, piece_sd=1e-4, method="bracketing", floats=4)
        for _ in range(600)
    ]
    seen = np.array([error for error, _ in results])
    stated = np.sqrt(np.mean([each.standard_uncertainty_g_cm3**2 for _, each in results]))
    assert seen.std() == pytest.approx(stated, rel=0.1)
