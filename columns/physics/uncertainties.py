"""From what a certificate or a scale states to standard uncertainties, and back to U = k u."""

import math

from scipy.special import stdtrit

from columns.physics import errors
from columns.physics.floats import checked_uncertainty

# JCGM 100:2008, 6.2.2: coverage probability asked of expanded uncertainties.
COVERAGE = 0.95


def standard_uncertainty(expanded, coverage_factor):
    """Standard uncertainty from a certificate's expanded uncertainty and its own factor.

    Parameters
    ----------
    expanded : Decimal or float
        Expanded uncertainty U as the certificate states it [g/cm^3]
    coverage_factor : Decimal or float
        The certificate's factor k, never assumed [-]

    Returns
    -------
    float
        u = U / k [g/cm^3]

    Raises
    ------
    UncertaintyNotValid
        If U is negative or k is not above zero.
    NotANumber
        If either is not finite.

    References
    ----------
    .. [1] JCGM 100:2008, 4.3.3.
    """
    whole = checked_uncertainty(expanded, "The expanded uncertainty")
    factor = checked_uncertainty(coverage_factor, "The coverage factor")
    if factor == 0:
        raise errors.UncertaintyNotValid(
            "The coverage factor must be above zero.", value=coverage_factor, limit=0
        )
    return whole / factor


def rectangular_uncertainty(half_width):
    """Standard uncertainty of a value known only to lie within ± a half width.

    Parameters
    ----------
    half_width : Decimal or float
        Half width of the interval [any unit]

    Returns
    -------
    float
        Half width over the square root of three [same unit]

    Raises
    ------
    UncertaintyNotValid
        If the half width is negative.
    NotANumber
        If it is not finite.

    References
    ----------
    .. [1] JCGM 100:2008, 4.3.7.
    """
    return checked_uncertainty(half_width, "The half width") / math.sqrt(3)


def height_standard_uncertainty(division_mm, repeatability_mm):
    """Standard uncertainty of one height reading.

    Parameters
    ----------
    division_mm : Decimal or float
        Smallest step in which heights are written down [mm]
    repeatability_mm : float
        Standard deviation of one person's repeated readings before rounding [mm]

    Returns
    -------
    float
        Root of repeatability squared plus division squared over twelve [mm]

    Raises
    ------
    UncertaintyNotValid
        If either is negative.
    NotANumber
        If either is not finite.

    Notes
    -----
    The two are taken as independent, which holds while the repeatability is at least about half
    a division.

    References
    ----------
    .. [1] JCGM 100:2008, 4.2 and F.2.2.1.
    """
    rounding = rectangular_uncertainty(checked_uncertainty(division_mm, "The scale division") / 2)
    return math.hypot(rounding, checked_uncertainty(repeatability_mm, "The repeatability"))


def coverage_factor(degrees_of_freedom, coverage=COVERAGE):
    """Factor k that turns a standard into an expanded uncertainty.

    Parameters
    ----------
    degrees_of_freedom : float
        Effective degrees of freedom, cut down to a whole number; infinity is allowed [-]
    coverage : float, optional
        Probability that the interval is to hold [-]

    Returns
    -------
    float
        Two-sided quantile of Student's t distribution [-]

    Raises
    ------
    NotEnoughPoints
        If there is less than one degree of freedom.
    ValueError
        If the coverage is not between 0 and 1.

    References
    ----------
    .. [1] JCGM 100:2008, G.3 and G.4.1.
    """
    if not degrees_of_freedom >= 1:
        raise errors.NotEnoughPoints(
            "An expanded uncertainty needs at least one degree of freedom.",
            value=degrees_of_freedom,
            limit=1,
        )
    if not 0 < coverage < 1:
        raise ValueError(f"A coverage lies between 0 and 1, not at {coverage}.")
    whole = min(math.floor(min(degrees_of_freedom, 1e9)), 10**9)
    return float(stdtrit(whole, 0.5 + coverage / 2))
