"""Uncertainty of a determination: floats, scatter of specimens, temperature.

The scatter of specimens already holds the noise of reading them, so that the noise is never added
beside it; it only stands in where the scatter shows less than the reading itself must give.
"""

import math
from dataclasses import dataclass

from scipy.special import fdtrc

from columns.physics import coverage_factor
from samples.stats.errors import ValueNotValid
from samples.stats.replicates import exact_value, summarise_replicates

# JCGM 100:2008, G.6.4: k is taken as 2 where the degrees of freedom are many.
LEAST_COVERAGE_FACTOR = 2.0
# Our rule: observed scatter replaces the pooled one when chance would exceed it this rarely.
SCATTER_SIGNIFICANCE = 0.01

FLOATS, SCATTER, TEMPERATURE = "floats", "scatter", "temperature"
SOURCES = {
    "floats": "certificates and heights of the floats, shared by all specimens: JCGM 100:2008, 5.2",
    "observed": "observed scatter of the specimens, reading noise included: JCGM 100:2008, 4.2",
    "pooled": "pooled repeatability of the grade, reading noise included: JCGM 100:2008, 4.2.4",
    "reading": "height readings, which alone give more than the scatter seen: JCGM 100:2008, 4.3",
    "temperature": "temperature shared by floats and specimens: JCGM 100:2008, 5.1",
}


@dataclass(frozen=True)
class BudgetPart:
    """One line of the budget; `basis` says which rule gave the figure, `source` in words."""

    name: str
    standard_uncertainty_g_cm3: float
    degrees_of_freedom: float
    share: float
    basis: str
    source: str


@dataclass(frozen=True)
class Budget:
    """Uncertainty of a determination's mean.

    `findings` holds scatter_above_pooled when the specimens differ more than the pooled
    repeatability explains, and scatter_not_seen when a single specimen without a pooled figure
    shows no scatter.
    """

    parts: tuple[BudgetPart, ...]
    standard_uncertainty_g_cm3: float
    effective_degrees_of_freedom: float
    coverage_factor: float
    expanded_uncertainty_g_cm3: float
    findings: tuple[str, ...]


def determination_uncertainty(
    densities,
    *,
    shared_covariance,
    reading_standard_uncertainty_g_cm3,
    temperature_standard_uncertainty_g_cm3=0.0,
    pooled=None,
):
    """Uncertainty of the mean density of a determination.

    Parameters
    ----------
    densities : iterable of Fraction, Decimal or float, shape (n,)
        One density for each specimen [g/cm^3]
    shared_covariance : sequence of sequences of float, shape (n, n)
        Covariance of these densities through the floats alone, of the method that gave them
        [g^2/cm^6]
    reading_standard_uncertainty_g_cm3 : float
        Standard uncertainty of one density through its own height reading [g/cm^3]
    temperature_standard_uncertainty_g_cm3 : float, optional
        Standard uncertainty through the temperature that floats and specimens share [g/cm^3]
    pooled : PooledScatter, optional
        Pooled repeatability of the grade [g/cm^3]

    Returns
    -------
    Budget
        Parts, combined and expanded uncertainty, effective degrees of freedom and k [g/cm^3]

    Raises
    ------
    NotEnoughValues
        If there is no density.
    ValueNotValid
        If the covariance has another size, or a figure is negative or not finite.

    Notes
    -----
    The mean of n specimens keeps the covariance that they share; only the scatter falls with n.
    Scatter is the pooled figure where it has more degrees of freedom and the specimens do not
    contradict it, else the observed one. Where the reading noise alone gives more, it takes its
    place. k is Student's factor for the effective degrees of freedom [1]_ (G.2b), at least 2.

    References
    ----------
    .. [1] JCGM 100:2008, clause 5 and G.4.1 (Welch-Satterthwaite).
    """
    replicates = summarise_replicates(densities)
    reading = _checked(reading_standard_uncertainty_g_cm3, "The reading's uncertainty")
    heat = _checked(temperature_standard_uncertainty_g_cm3, "The temperature's uncertainty")
    floats = _mean_variance(shared_covariance, replicates.count)
    scatter, freedom, basis, findings = _scatter(replicates, reading, pooled)
    rows = (
        (FLOATS, math.sqrt(floats), math.inf, "floats"),
        (SCATTER, scatter / math.sqrt(replicates.count), freedom, basis),
        (TEMPERATURE, heat, math.inf, "temperature"),
    )
    return _budget(rows, findings)


def _budget(rows, findings):
    combined = math.hypot(*(u for _, u, _, _ in rows))
    effective = _effective_freedom(combined, rows)
    factor = max(LEAST_COVERAGE_FACTOR, coverage_factor(effective))
    parts = tuple(
        BudgetPart(
            name, u, freedom, (u / combined) ** 2 if combined else 0.0, basis, SOURCES[basis]
        )
        for name, u, freedom, basis in rows
    )
    return Budget(parts, combined, effective, factor, factor * combined, findings)


def _effective_freedom(combined, rows):
    """Welch-Satterthwaite (JCGM 100:2008, G.2b)."""
    weight = sum((u / combined) ** 4 / freedom for _, u, freedom, _ in rows) if combined else 0.0
    return 1 / weight if weight else math.inf


def _scatter(replicates, reading, pooled):
    """Standard deviation of one specimen, its degrees of freedom, basis and findings."""
    above_pooled = pooled is not None and _contradicts(replicates, pooled)
    findings = ("scatter_above_pooled",) if above_pooled else ()
    sd, freedom, basis = replicates.sd, replicates.degrees_of_freedom, "observed"
    if pooled is not None and not above_pooled and pooled.degrees_of_freedom > freedom:
        sd, freedom, basis = pooled.sd, pooled.degrees_of_freedom, "pooled"
    if sd is None:
        return reading, math.inf, "reading", ("scatter_not_seen",)
    if reading > sd:
        return reading, math.inf, "reading", findings
    return sd, freedom, basis, findings


def _contradicts(replicates, pooled):
    """True if the specimens scatter more than the pooled repeatability explains (F test)."""
    if replicates.sd is None or pooled.sd == 0:
        return replicates.sd is not None and replicates.sd > pooled.sd
    ratio = (replicates.sd / pooled.sd) ** 2
    chance = fdtrc(replicates.degrees_of_freedom, pooled.degrees_of_freedom, ratio)
    return bool(chance < SCATTER_SIGNIFICANCE)


def _mean_variance(covariance, count):
    rows = [[float(exact_value(each, "A covariance")) for each in row] for row in covariance]
    if len(rows) != count or any(len(row) != count for row in rows):
        raise ValueNotValid(
            f"The covariance of {count} specimens has {count} rows and columns.",
            value=len(rows),
            limit=count,
        )
    variance = sum(map(sum, rows)) / count**2
    if variance < 0:
        raise ValueNotValid("The covariance gives a negative variance.", value=variance, limit=0)
    return variance


def _checked(value, what):
    figure = float(exact_value(value, what))
    if figure < 0:
        raise ValueNotValid(f"{what} must not be negative: {value}.", value=value, limit=0)
    return figure
