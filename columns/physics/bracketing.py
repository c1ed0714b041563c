"""Density between two neighbouring floats: the standard's figure, exact, with its uncertainty."""

import itertools
import math
from dataclasses import dataclass
from fractions import Fraction

METHOD = "bracketing/1"


@dataclass(frozen=True)
class Gap:
    """Two neighbouring floats and the slope between them (a magnitude, density falls upward)."""

    lower_float: str
    upper_float: str
    length_mm: float
    slope_g_cm3_per_mm: float


@dataclass(frozen=True)
class BracketedDensity:
    """A density between two floats.

    `density_exact` follows from the typed decimals without rounding. The parts are standard
    uncertainties in g/cm³; certificates and float heights are shared by all specimens between
    the same floats, the specimen's own height is not.
    """

    density_exact: Fraction
    density_g_cm3: float
    standard_uncertainty_g_cm3: float
    lower_float: str
    upper_float: str
    fraction: float
    slope_g_cm3_per_mm: float
    from_certificates_g_cm3: float
    from_float_heights_g_cm3: float
    from_specimen_height_g_cm3: float
    method: str = METHOD

    @property
    def shared_standard_uncertainty_g_cm3(self):
        return math.hypot(self.from_certificates_g_cm3, self.from_float_heights_g_cm3)


@dataclass(frozen=True)
class Bracket:
    """A height's place between its two floats: the one below, the one above, the share F of the
    gap's length from the lower to the upper one, and the slope d rho/d height (negative)."""

    lower: int
    upper: int
    share: Fraction
    slope: Fraction

    def weights(self):
        """How much each of the two floats' densities counts."""
        return {self.lower: 1.0 - float(self.share), self.upper: float(self.share)}


def slope_between(lower, upper):
    """Exact d rho/d height between two ordered floats, negative upward."""
    return (upper.density - lower.density) / (upper.above_mm - lower.above_mm)


def gaps_of(ladder):
    """The gaps of ordered floats from the bottom up."""
    return tuple(
        Gap(
            lower.id,
            upper.id,
            float(upper.above_mm - lower.above_mm),
            float(-slope_between(lower, upper)),
        )
        for lower, upper in itertools.pairwise(ladder)
    )


def bracket_of(ladder, above_mm):
    """Find the gap of a height that lies between the end floats, ends included.

    A height exactly on a float belongs to the gap above that float, on the uppermost float to the
    last gap; either way the figure is that float's density.
    """
    upper = next(
        (place for place, each in enumerate(ladder) if each.above_mm > above_mm), len(ladder) - 1
    )
    below, above = ladder[upper - 1], ladder[upper]
    share = (above_mm - below.above_mm) / (above.above_mm - below.above_mm)
    return Bracket(upper - 1, upper, share, slope_between(below, above))


def bracketed_density(ladder, above_mm, *, height_uncertainty, specimen_uncertainty):
    """Interpolate linearly in height between the neighbouring floats (ASTM D1505-18, 10.1.2)."""
    bracket = bracket_of(ladder, above_mm)
    lower, upper = ladder[bracket.lower], ladder[bracket.upper]
    density = lower.density + bracket.share * (upper.density - lower.density)
    steepness = float(-bracket.slope)
    certificates = math.sqrt(_certificate_covariance(ladder, bracket, bracket))
    heights = math.sqrt(_height_covariance(bracket, bracket, height_uncertainty))
    own = steepness * specimen_uncertainty
    return BracketedDensity(
        density_exact=density,
        density_g_cm3=float(density),
        standard_uncertainty_g_cm3=math.hypot(certificates, heights, own),
        lower_float=lower.id,
        upper_float=upper.id,
        fraction=float(bracket.share),
        slope_g_cm3_per_mm=steepness,
        from_certificates_g_cm3=certificates,
        from_float_heights_g_cm3=heights,
        from_specimen_height_g_cm3=own,
    )


def bracketing_covariance(ladder, heights, *, height_uncertainty):
    """Covariance that specimens share through certificates and heights of the floats."""
    brackets = [bracket_of(ladder, height) for height in heights]
    return tuple(
        tuple(
            _certificate_covariance(ladder, one, other)
            + _height_covariance(one, other, height_uncertainty)
            for other in brackets
        )
        for one in brackets
    )


def _certificate_covariance(ladder, one, other):
    """Propagate certified densities: independent own parts, common parts with correlation 1."""
    return sum(
        weight * other_weight * _density_covariance(ladder[place], ladder[other_place])
        for place, weight in one.weights().items()
        for other_place, other_weight in other.weights().items()
    )


def _density_covariance(one, other):
    same_run = one.reading.common_group == other.reading.common_group
    shared = one.common_uncertainty * other.common_uncertainty if same_run else 0.0
    return shared + (one.own_uncertainty**2 if one is other else 0.0)


def _height_covariance(one, other, height_uncertainty):
    """Propagate float heights: a float read too high shifts both of its gaps by slope x weight."""
    weights, other_weights = one.weights(), other.weights()
    slopes = float(one.slope) * float(other.slope)
    shared = weights.keys() & other_weights.keys()
    products = sum(weights[place] * other_weights[place] for place in shared)
    return slopes * products * height_uncertainty**2
