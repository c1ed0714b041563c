"""Physics of the gradient column: calibration, densities, uncertainty, water, heat, waiting.

Pure: standard library, numpy and scipy only. `__all__` is the public list.
"""

from columns.physics.calibrations import Calibration, SpecimenDensity, calibrate
from columns.physics.floats import FloatReading, LiquidSpan
from columns.physics.lines import fit_line, least_squares
from columns.physics.thermal import density_at_reference, expansion_uncertainty, volume_expansion
from columns.physics.uncertainties import (
    coverage_factor,
    height_standard_uncertainty,
    rectangular_uncertainty,
    standard_uncertainty,
)
from columns.physics.waiting import basket_pass_minutes, wait_before_reading
from columns.physics.water import water_density

__all__ = [
    "Calibration",
    "FloatReading",
    "LiquidSpan",
    "SpecimenDensity",
    "basket_pass_minutes",
    "calibrate",
    "coverage_factor",
    "density_at_reference",
    "expansion_uncertainty",
    "fit_line",
    "height_standard_uncertainty",
    "least_squares",
    "rectangular_uncertainty",
    "standard_uncertainty",
    "volume_expansion",
    "wait_before_reading",
    "water_density",
]
