"""Grubbs' test for one outlier, with exact critical values."""

import math
from dataclasses import dataclass

from scipy.special import stdtrit

from samples.stats.errors import NotEnoughValues, ValueNotValid
from samples.stats.replicates import exact_value

FEWEST_VALUES = 3
# With three values G cannot exceed 1.1547 while its critical value is 1.1543: whether two of three
# agree by chance decides, not the third. Use the range (`check_spread`) instead.
FEWEST_TO_DECIDE = 4
OUTLIER, NO_OUTLIER, CANNOT_DECIDE = "outlier", "no_outlier", "cannot_decide"


@dataclass(frozen=True)
class GrubbsTest:
    """The value farthest from the mean, by how many standard deviations, and the verdict."""

    outcome: str
    suspect: int
    statistic: float
    critical: float
    significance: float


def grubbs_critical_value(count, significance=0.05, *, sides=2):
    """Critical value of Grubbs' statistic.

    Parameters
    ----------
    count : int
        Number of values, at least three [-]
    significance : float, optional
        Probability of a false alarm [-]
    sides : {1, 2}, optional
        One if only the largest, or only the smallest, value is suspected beforehand [-]

    Returns
    -------
    float
        Largest statistic that chance explains [-]

    Raises
    ------
    NotEnoughValues
        If there are fewer than three values.
    ValueNotValid
        If the significance is not between 0 and 1, or sides is neither 1 nor 2.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1.
    """
    if count < FEWEST_VALUES:
        raise NotEnoughValues(
            f"Grubbs' test needs {FEWEST_VALUES} values, not {count}.",
            value=count,
            limit=FEWEST_VALUES,
        )
    if not 0 < significance < 1 or sides not in (1, 2):
        raise ValueNotValid(
            "A significance lies between 0 and 1, and a test has one or two sides.",
            value=(significance, sides),
        )
    quantile = -stdtrit(count - 2, significance / (sides * count))
    share = quantile**2 / (count - 2 + quantile**2)
    return float((count - 1) / math.sqrt(count) * math.sqrt(share))


def grubbs_test(values, significance=0.05):
    """Test whether the value farthest from the mean is an outlier, on either side.

    Parameters
    ----------
    values : iterable of Fraction, Decimal or float, shape (n,)
        At least three values [any unit]
    significance : float, optional
        Probability of a false alarm [-]

    Returns
    -------
    GrubbsTest
        Outcome outlier, no_outlier or cannot_decide, with place of the suspect [-]

    Raises
    ------
    NotEnoughValues
        If there are fewer than three values.
    ValueNotValid
        If a value is not finite or the significance is not between 0 and 1.

    Notes
    -----
    Three values cannot decide. Equal values have no suspect: the statistic is zero. A value is
    never removed by this test; a person decides, with a reason.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1.
    """
    figures = [exact_value(value) for value in values]
    critical = grubbs_critical_value(len(figures), significance)
    suspect, statistic = _farthest(figures)
    if len(figures) < FEWEST_TO_DECIDE:
        outcome = CANNOT_DECIDE
    else:
        outcome = OUTLIER if statistic > critical else NO_OUTLIER
    return GrubbsTest(outcome, suspect, statistic, critical, significance)


def _farthest(figures):
    """Place of the value farthest from the mean, and its distance in standard deviations."""
    mean = sum(figures) / len(figures)
    distances = [abs(figure - mean) for figure in figures]
    suspect = max(range(len(figures)), key=distances.__getitem__)
    variance = sum(distance**2 for distance in distances) / (len(figures) - 1)
    if variance == 0:
        return suspect, 0.0
    return suspect, math.sqrt(distances[suspect] ** 2 / variance)
