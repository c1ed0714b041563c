"""Mean, range and standard deviation of the specimens of a determination."""

import math
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from samples.stats.errors import NotEnoughValues, ValueNotValid

WITHIN, EXCEEDED, NO_LIMIT = "within", "exceeded", "no_limit"


@dataclass(frozen=True)
class Replicates:
    """Specimens of one determination; mean and range are exact.

    `sd` is None for one specimen. `all_equal` is True when more than one specimen gave the very
    same figure, which asks for the remark "same reading three times?".
    """

    count: int
    mean_exact: Fraction
    range_exact: Fraction
    sd: float | None
    degrees_of_freedom: int
    all_equal: bool


@dataclass(frozen=True)
class SpreadCheck:
    """A determination's range against the limit of its grade."""

    outcome: str
    range_exact: Fraction
    limit: Fraction | None


@dataclass(frozen=True)
class PooledScatter:
    """Repeatability of a grade from several determinations."""

    sd: float
    degrees_of_freedom: int


def exact_value(value, what="A value"):
    """Return a number as a rational; a float stands for its shortest decimal text."""
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal | Fraction):
        raise ValueNotValid(f"{what} must be a number, not {value!r}.", value=value)
    finite = value.is_finite() if isinstance(value, Decimal) else math.isfinite(value)
    if not finite:
        raise ValueNotValid(f"{what} must be finite, not {value}.", value=value)
    return Fraction(repr(float(value))) if isinstance(value, float) else Fraction(value)


def _exact_values(values, at_least):
    figures = [exact_value(value) for value in values]
    if len(figures) < at_least:
        raise NotEnoughValues(
            f"{len(figures)} value(s) are too few; at least {at_least} are needed.",
            value=len(figures),
            limit=at_least,
        )
    return figures


def _variance(figures):
    """Exact sample variance of at least two figures."""
    mean = sum(figures) / len(figures)
    return sum((figure - mean) ** 2 for figure in figures) / (len(figures) - 1)


def summarise_replicates(densities):
    """Mean, range and standard deviation of specimens' densities.

    Parameters
    ----------
    densities : iterable of Fraction, Decimal or float, shape (n,)
        One density for each specimen [g/cm^3]

    Returns
    -------
    Replicates
        Exact mean and range, standard deviation with n - 1 degrees of freedom [g/cm^3]

    Raises
    ------
    NotEnoughValues
        If there is no density.
    ValueNotValid
        If a density is no finite number.

    References
    ----------
    .. [1] ASTM D1505-18, 9.2 (three specimens are averaged).
    .. [2] JCGM 100:2008, 4.2.2.
    """
    figures = _exact_values(densities, 1)
    count = len(figures)
    span = max(figures) - min(figures)
    return Replicates(
        count=count,
        mean_exact=sum(figures) / count,
        range_exact=span,
        sd=math.sqrt(_variance(figures)) if count > 1 else None,
        degrees_of_freedom=count - 1,
        all_equal=count > 1 and span == 0,
    )


def check_spread(densities, limit=None):
    """Compare the range of a determination with the limit of its grade.

    Parameters
    ----------
    densities : iterable of Fraction, Decimal or float, shape (n,)
        One density for each specimen [g/cm^3]
    limit : Decimal or float, optional
        Largest range that the grade allows, itself included [g/cm^3]

    Returns
    -------
    SpreadCheck
        Outcome within, exceeded or no_limit, never within without a limit [-]

    Raises
    ------
    NotEnoughValues
        If there are fewer than two densities.
    ValueNotValid
        If a figure is not finite or the limit is not above zero.

    Notes
    -----
    With three specimens an outlier test cannot decide; the range can. Compared exactly.

    References
    ----------
    .. [1] Common practice, no source: a repeatability limit belongs to the grade and the lab.
    """
    figures = _exact_values(densities, 2)
    span = max(figures) - min(figures)
    if limit is None:
        return SpreadCheck(NO_LIMIT, span, None)
    allowed = exact_value(limit, "The limit of the range")
    if allowed <= 0:
        raise ValueNotValid(
            f"The limit of the range must be above zero, not {limit}.", value=limit, limit=0
        )
    return SpreadCheck(WITHIN if span <= allowed else EXCEEDED, span, allowed)


def pool_scatter(determinations):
    """Pooled standard deviation of one specimen from several determinations.

    Parameters
    ----------
    determinations : iterable of iterables of Fraction, Decimal or float
        Densities of the specimens of each determination; single ones say nothing [g/cm^3]

    Returns
    -------
    PooledScatter
        Standard deviation and its degrees of freedom [g/cm^3]

    Raises
    ------
    NotEnoughValues
        If no determination has two specimens.
    ValueNotValid
        If a density is no finite number.

    References
    ----------
    .. [1] JCGM 100:2008, H.3.6 and H.5.2 (pooled estimates of variance).
    """
    groups = [_exact_values(group, 0) for group in determinations]
    groups = [group for group in groups if len(group) > 1]
    freedom = sum(len(group) - 1 for group in groups)
    if freedom == 0:
        raise NotEnoughValues(
            "Pooled scatter needs a determination of at least two specimens.", value=0, limit=1
        )
    total = sum(_variance(group) * (len(group) - 1) for group in groups)
    return PooledScatter(math.sqrt(total / freedom), freedom)
