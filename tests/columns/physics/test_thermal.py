"""Thermal expansion: Callister, Fundamentals of Materials Science and Engineering, Table B.6."""

import pytest

from columns.physics import (
    density_at_reference,
    errors,
    expansion_uncertainty,
    volume_expansion,
    water_density,
)
from columns.physics.thermal import BOROSILICATE_EXPANSION_PER_K
from tests.columns.physics.reference import reference

FACTS = reference("09")
SHARED = [each for each in FACTS["model"]["examples"] if "polymer" in each]


def test_glass_of_the_floats_is_three_times_the_linear_value():
    linear = FACTS["linear_1e6_per_K"]["glass_borosilicate"][0] * 1e-6
    assert volume_expansion(linear) == pytest.approx(BOROSILICATE_EXPANSION_PER_K, rel=1e-12)
    assert FACTS["volume_is_three_times_linear"]


def test_volume_expansion_of_water_follows_from_its_density():
    slope = (water_density(23.005) - water_density(22.995)) / 0.01
    assert -slope / water_density(23.0) == pytest.approx(FACTS["water_beta_23C"], rel=1e-4)


@pytest.mark.parametrize("example", SHARED, ids=lambda each: each["polymer"])
def test_a_warm_bath_reads_light_by_the_published_amount(example):
    at_23 = density_at_reference(
        example["rho"],
        23.0 + example["dT"],
        specimen_expansion_per_k=example["beta"],
        float_expansion_per_k=example["beta_glass"],
    )
    assert at_23 - example["rho"] == pytest.approx(example["drho"], rel=1e-3)


def test_polyethylene_in_the_table_covers_the_typical_value():
    low, high = FACTS["linear_1e6_per_K"]["HDPE"]
    typical = FACTS["pe_specific"]["beta_typical"]
    assert volume_expansion(low * 1e-6) <= typical * 1.3
    assert volume_expansion(high * 1e-6) >= typical * 0.7


def test_at_23_degrees_nothing_changes():
    assert density_at_reference(0.95, 23, specimen_expansion_per_k=6e-4) == 0.95


def test_the_temperature_part_of_the_uncertainty_is_the_same_product():
    part = expansion_uncertainty(
        0.95,
        temperature_standard_uncertainty_c=0.1,
        specimen_expansion_per_k=6e-4,
    )
    assert part == pytest.approx(SHARED[0]["drho"], rel=1e-3)


def test_figures_that_cannot_be_are_refused():
    with pytest.raises(errors.NotANumber):
        density_at_reference(float("nan"), 23, specimen_expansion_per_k=6e-4)
    with pytest.raises(errors.UncertaintyNotValid):
        expansion_uncertainty(
            0.95, temperature_standard_uncertainty_c=-0.1, specimen_expansion_per_k=6e-4
        )
