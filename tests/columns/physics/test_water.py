"""Density of water against the published table (Tanaka et al., Metrologia 38 (2001) 301)."""

import pytest

from columns.physics import errors, water_density
from tests.columns.physics.reference import reference

WATER = reference("01")


@pytest.mark.parametrize("row", WATER["table"], ids=lambda row: f"{row['t_C']} °C")
def test_water_agrees_with_the_table(row):
    assert water_density(row["t_C"]) * 1000 == pytest.approx(row["rho_kg_m3"], abs=0.00006)


@pytest.mark.parametrize("row", WATER["cross_check_iapws95"], ids=lambda row: f"{row['t_C']} °C")
def test_water_agrees_with_another_equation_of_state(row):
    assert water_density(row["t_C"]) * 1000 == pytest.approx(row["iapws95"], abs=0.0008)


def test_water_at_the_bath_temperature():
    assert round(water_density(23.0), 6) == WATER["key_value_23C"]["rho_g_cm3"]


@pytest.mark.parametrize("temperature", [-0.1, 40.1, float("nan"), float("inf")])
def test_outside_its_range_the_formula_is_refused(temperature):
    with pytest.raises(errors.TemperatureOutOfRange):
        water_density(temperature)
