"""A column's calibration from one float set, and the densities that follow from it."""

import math
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

import numpy as np

from columns.physics import constants, errors
from columns.physics.bracketing import (
    BracketedDensity,
    Gap,
    bracketed_density,
    bracketing_covariance,
    gaps_of,
    slope_between,
)
from columns.physics.curves import Curve, CurveDensity, fit_curve
from columns.physics.findings import (
    Finding,
    disagreement_findings,
    line_findings,
    misfit_findings,
    number_findings,
)
from columns.physics.floats import (
    OrderedFloat,
    checked_uncertainty,
    exact_figure,
    liquid_ends,
    ordered_floats,
    upward,
)
from columns.physics.lines import LineFit, fit_line

MEASURED, LIGHTER, DENSER = "measured", "lighter", "denser"


@dataclass(frozen=True)
class CalibratedFloat:
    """One float of the set against the curve of all.

    The residual is certified minus curve. In millimetres it is how much higher the float stands
    than the curve puts its density; studentised, its misfit to the curve of the other floats over
    that misfit's standard uncertainty. All three are None without a curve.
    """

    id: str
    density_g_cm3: Decimal
    height_mm: Decimal
    standard_uncertainty_g_cm3: float
    residual_g_cm3: float | None = None
    residual_mm: float | None = None
    studentised_residual: float | None = None


@dataclass(frozen=True)
class SpecimenDensity:
    """What a specimen's height says: a density, or lighter or denser than an end float."""

    id: str | None
    height_mm: Decimal
    outcome: str
    bound_float: str | None = None
    bracketing: BracketedDensity | None = None
    curve: CurveDensity | None = None
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class SharedCovariance:
    """Covariance of densities read on the same floats, without the specimens' own heights.

    Square matrices as tuples of rows, in (g/cm³)²; `curve` is None without a curve.
    """

    bracketing: tuple[tuple[float, ...], ...]
    curve: tuple[tuple[float, ...], ...] | None


@dataclass(frozen=True)
class ProfilePoint:
    """One point of the column's profile, height as on the scale."""

    height_mm: float
    density_g_cm3: float


@dataclass(frozen=True, eq=False)
class Calibration:
    """A calibrated column: floats against the curve, gaps, findings, and densities at heights.

    `correlation` is signed, `sensitivity_g_cm3_per_mm` positive; `floats` keeps the order given,
    `gaps` run from the bottom up.
    """

    origin: str
    height_standard_uncertainty_mm: float
    minimum_floats: int
    floats: tuple[CalibratedFloat, ...]
    gaps: tuple[Gap, ...]
    line: LineFit
    correlation: float
    correlation_passes: bool
    sensitivity_g_cm3_per_mm: float
    findings: tuple[Finding, ...]
    curve: Curve | None
    ladder: tuple[OrderedFloat, ...]

    @property
    def passes(self):
        """True if correlation and number of floats allow densities from this calibration."""
        return self.correlation_passes and len(self.ladder) >= self.minimum_floats

    def density_at(self, height_mm, *, id=None, height_standard_uncertainty_mm=None):
        """Density of a specimen from its height.

        The reading's standard uncertainty is that of the float heights unless another is given.
        Outside the end floats no number is given: the outcome is lighter or denser than the bound.
        """
        own = height_standard_uncertainty_mm
        own = (
            self.height_standard_uncertainty_mm
            if own is None
            else checked_uncertainty(
                own,
                "The standard uncertainty of the height",
                largest=constants.LARGEST_HEIGHT_U_MM,
            )
        )
        above = self._above(height_mm)
        outcome, bound = self._outcome(above)
        if outcome != MEASURED:
            return SpecimenDensity(id, height_mm, outcome, bound_float=bound)
        bracketed = bracketed_density(
            self.ladder,
            above,
            height_uncertainty=self.height_standard_uncertainty_mm,
            specimen_uncertainty=own,
        )
        curve = self.curve.density_at(float(above), own) if self.curve else None
        found = disagreement_findings(bracketed, curve)
        return SpecimenDensity(id, height_mm, outcome, None, bracketed, curve, found)

    def covariance(self, heights_mm):
        """Covariance that specimens at these heights share through the floats.

        Every height must lie between the end floats; others have no density.
        """
        places = [self._above(height) for height in heights_mm]
        if any(self._outcome(place)[0] != MEASURED for place in places):
            raise errors.HeightOutsideLiquid(
                "Only heights between the end floats have a density and a covariance.",
                value=tuple(heights_mm),
            )
        bracketed = bracketing_covariance(
            self.ladder, places, height_uncertainty=self.height_standard_uncertainty_mm
        )
        curve = None
        if self.curve:
            matrix = self.curve.summary(np.array(places, float))[1]
            curve = tuple(tuple(float(each) for each in row) for row in matrix)
        return SharedCovariance(bracketed, curve)

    def height_at(self, density_g_cm3):
        """Height on the scale where a density rests by bracketing; None outside the end floats."""
        density = exact_figure(density_g_cm3, "The density")
        for lower, upper in zip(self.ladder, self.ladder[1:], strict=False):
            if lower.density >= density >= upper.density:
                slope = slope_between(lower, upper)
                above = lower.above_mm + (density - lower.density) / slope
                return float(upward(above, self.origin))
        return None

    def profile(self, points=33):
        """Points of the profile from the lower to the upper end float, for a drawing."""
        low, high = self.ladder[0].above_mm, self.ladder[-1].above_mm
        places = [low + (high - low) * Fraction(step, points - 1) for step in range(points)]
        densities = self._profile_densities(places)
        return tuple(
            ProfilePoint(float(upward(place, self.origin)), float(density))
            for place, density in zip(places, densities, strict=True)
        )

    def _profile_densities(self, places):
        if self.curve:
            return self.curve.summary(np.array(places, float))[0]
        return [
            bracketed_density(
                self.ladder, place, height_uncertainty=0.0, specimen_uncertainty=0.0
            ).density_g_cm3
            for place in places
        ]

    def _above(self, height_mm):
        return upward(exact_figure(height_mm, "The specimen's height"), self.origin)

    def _outcome(self, above):
        if above > self.ladder[-1].above_mm:
            return LIGHTER, self.ladder[-1].id
        if above < self.ladder[0].above_mm:
            return DENSER, self.ladder[0].id
        return MEASURED, None


def calibrate(
    floats,
    *,
    height_standard_uncertainty_mm,
    origin="bottom",
    liquid=None,
    minimum_floats=constants.MINIMUM_FLOATS,
):
    """Calibrate a column from the floats of one set.

    Parameters
    ----------
    floats : iterable of FloatReading
        The floats of the set in any order [-]
    height_standard_uncertainty_mm : float
        Standard uncertainty of one height reading, of floats and specimens alike [mm]
    origin : {"bottom", "top"}, optional
        End of the scale from which heights are counted [-]
    liquid : LiquidSpan, optional
        Where the liquid begins and ends; without it, several ends 25 to 120 mm beyond the end
        floats are averaged over [-]
    minimum_floats : int, optional
        Floats that the lab asks for before a density may be released [-]

    Returns
    -------
    Calibration
        Densities in g/cm^3 at heights in mm, with residuals, gaps and findings [-]

    Raises
    ------
    TooFewFloats, TooManyFloats, DuplicateFloat
        If the floats are not 2 to 60 different ones.
    FloatHeightsEqual, FloatDensitiesEqual, FloatOrderReversed
        If the set cannot be a column's; the message names floats and likely cause.
    DensityImplausible, HeightImplausible, UncertaintyNotValid, NotANumber
        If a figure of a float cannot be right.
    HeightOutsideLiquid, LiquidSpanNotValid, OriginUnknown, MinimumFloatsNotValid
        If the column's description does not fit.

    Notes
    -----
    Bracketing follows [1]_ 10.1.2 and the acceptance of the correlation 10.1.1; sensitivity is
    judged by Note 3. Uncertainties are propagated by [2]_ clause 5. Nothing is extrapolated. With
    two to four floats there is no curve.

    References
    ----------
    .. [1] ASTM D1505-18.
    .. [2] JCGM 100:2008.
    """
    s_height = checked_uncertainty(
        height_standard_uncertainty_mm,
        "The standard uncertainty of a height",
        largest=constants.LARGEST_HEIGHT_U_MM,
    )
    _check_minimum(minimum_floats)
    floats = tuple(floats)
    ladder = ordered_floats(floats, origin=origin, liquid=liquid)

    def fit(some):
        return _curve(some, s_height, liquid, origin)

    curve = fit(ladder)
    correlation, passes = _correlation(ladder, origin)
    sensitivity = _sensitivity(ladder)
    return Calibration(
        origin=origin,
        height_standard_uncertainty_mm=s_height,
        minimum_floats=minimum_floats,
        floats=_calibrated(floats, ladder, curve),
        gaps=gaps_of(ladder),
        line=fit_line(
            [float(upward(each.above_mm, origin)) for each in ladder],
            [float(each.density) for each in ladder],
        ),
        correlation=correlation,
        correlation_passes=passes,
        sensitivity_g_cm3_per_mm=float(sensitivity),
        findings=(
            *number_findings(len(ladder), minimum_floats),
            *line_findings(correlation, passes, sensitivity),
            *misfit_findings(ladder, curve, fit),
        ),
        curve=curve,
        ladder=ladder,
    )


def _check_minimum(minimum_floats):
    if minimum_floats < constants.FEWEST_FLOATS:
        raise errors.MinimumFloatsNotValid(
            f"The minimum number of floats is at least {constants.FEWEST_FLOATS}, "
            f"not {minimum_floats}.",
            value=minimum_floats,
            limit=constants.FEWEST_FLOATS,
        )


def _curve(ladder, s_height, liquid, origin):
    if len(ladder) < constants.FEWEST_FLOATS_FOR_CURVE:
        return None
    ends = tuple(float(end) for end in liquid_ends(liquid, origin)) if liquid else None
    return fit_curve(ladder, height_uncertainty=s_height, ends=ends)


def _correlation(ladder, origin):
    """Signed coefficient, and whether |r| reaches the limit, compared exactly by squares."""
    heights = _whole_numbers([upward(each.above_mm, origin) for each in ladder])
    densities = _whole_numbers([each.density for each in ladder])
    together = _sum_of_products(heights, densities)
    square = Fraction(
        together**2,
        _sum_of_products(heights, heights) * _sum_of_products(densities, densities),
    )
    limit = Fraction(constants.MINIMUM_CORRELATION) ** 2
    return math.copysign(math.sqrt(square), together), square >= limit


def _whole_numbers(figures):
    """The same figures in a unit small enough that all are whole; correlation has no unit."""
    unit = math.lcm(*(figure.denominator for figure in figures))
    return [figure.numerator * (unit // figure.denominator) for figure in figures]


def _sum_of_products(one, other):
    """Number of figures times the sum of products about the means."""
    products = sum(a * b for a, b in zip(one, other, strict=True))
    return len(one) * products - sum(one) * sum(other)


def _sensitivity(ladder):
    """Density span over height span of the floats, exact and positive."""
    return -slope_between(ladder[0], ladder[-1])


def _calibrated(floats, ladder, curve):
    rows = _residuals(ladder, curve) if curve else {}
    return tuple(
        CalibratedFloat(
            reading.id,
            reading.density_g_cm3,
            reading.height_mm,
            float(reading.standard_uncertainty_g_cm3),
            *rows.get(reading.id, ()),
        )
        for reading in floats
    )


def _residuals(ladder, curve):
    """Residuals in g/cm³ and mm and studentised, by float."""
    mean, slope = curve.at_floats
    residual = np.array([float(each.density) for each in ladder]) - mean
    steepness = np.maximum(np.abs(slope), np.finfo(float).tiny)
    columns = zip(residual, residual / steepness, curve.studentised, strict=True)
    return {
        each.id: tuple(float(figure) for figure in figures)
        for each, figures in zip(ladder, columns, strict=True)
    }
