"""A calibration curve through all floats of one set, with its own uncertainty.

The profile is a sum of four diffused shapes (`shapes.py`) and a small smooth departure. How much
the column has mixed, where its liquid ends, and whether one float is worse than its certificate
says are not known: the curve is the average over a table of such hypotheses, each weighted by how
well it explains the floats. Within a hypothesis everything is linear and Gaussian, so that nothing
is iterated but the slope by which height errors count.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from columns.physics.lines import least_squares
from columns.physics.shapes import SHAPES, diffused_shapes

METHOD = "diffused-shapes/1"

# Prior widths of the four shapes, as shares of the density range of the floats.
SHAPE_WIDTHS = np.array([3.0, 3.0, 0.05, 0.03])
# Mixing in mm²: from an undisturbed pour to a column past its life.
MIXINGS = np.geomspace(60.0, 12000.0, 16)
MIXING_MEDIAN = 2500.0
MIXING_SPREAD = 1.5  # sd of ln mixing
# The liquid's ends beyond the end floats in mm, where they are not given.
ASSUMED_MARGIN_MM = 100.0
# Smooth departure from the shapes: sd as a share of the range, correlation length of the liquid.
DEPARTURE = 0.003
DEPARTURE_LENGTH = 0.16
# A float may be worse than its certificate: sd multiplied by the factor, with this probability.
WORSE_FACTOR = 3.0
WORSE_PROBABILITY = 0.05
# The resolution of stored figures: the least noise of a float, so that u = 0 stays solvable.
LEAST_NOISE_G_CM3 = 1e-7
SLOPE_ROUNDS = 2


@dataclass(frozen=True)
class CurveDensity:
    """A density on the curve; the interval is that of the mixture, not of a normal law."""

    density_g_cm3: float
    standard_uncertainty_g_cm3: float
    interval_95: tuple[float, float]
    from_curve_g_cm3: float
    from_specimen_height_g_cm3: float
    slope_g_cm3_per_mm: float
    method: str = METHOD


@dataclass(frozen=True, eq=False)
class _Noise:
    """Hypotheses on the errors of the floats, stacked: shape (s, n, n) and so on."""

    whitener: np.ndarray  # inverse of the lower Cholesky factor
    log_weight: np.ndarray  # prior and normalisation
    departure: np.ndarray  # variance of the smooth departure, shape (s,)


@dataclass(frozen=True, eq=False)
class Curve:
    """The fitted curve; heights are millimetres above the scale's zero, growing upward."""

    heights: np.ndarray
    centre: float
    bottom: float
    length: float
    noise: _Noise
    weights: np.ndarray  # (s, m), sum 1
    coefficients: np.ndarray  # (s, m, 4)
    inverse_root: np.ndarray  # (s, m, 4, 4)
    pulls: np.ndarray  # (s, m, n): covariance^-1 times residuals of the shapes
    whitened: np.ndarray  # (s, m, n, 4) whitened, width-scaled design
    scale: np.ndarray  # (4,) prior sds

    def predict(self, heights):
        """Means (s, m, p), covariances (s, m, p, p) and slopes (s, m, p) of each hypothesis."""
        heights = np.asarray(heights, float)
        values, slopes = diffused_shapes(self._relative(heights), MIXINGS / self.length**2)
        kernel, kernel_slope = self._kernels(heights)
        mean = np.einsum("mpk,smk->smp", values, self.coefficients)
        mean += np.einsum("spn,smn->smp", kernel, self.pulls)
        slope = np.einsum("mpk,smk->smp", slopes / self.length, self.coefficients)
        slope += np.einsum("spn,smn->smp", kernel_slope, self.pulls)
        return mean + self.centre, self._covariance(heights, values, kernel), slope

    def _relative(self, heights):
        return (heights - self.bottom) / self.length

    def _kernels(self, heights):
        distance = (heights[:, None] - self.heights) / (DEPARTURE_LENGTH * self.length)
        kernel = self.noise.departure[:, None, None] * np.exp(-0.5 * distance**2)
        return kernel, -kernel * distance / (DEPARTURE_LENGTH * self.length)

    def _covariance(self, heights, values, kernel):
        distance = (heights[:, None] - heights) / (DEPARTURE_LENGTH * self.length)
        prior = self.noise.departure[:, None, None] * np.exp(-0.5 * distance**2)
        seen = np.einsum("sij,spj->sip", self.noise.whitener, kernel)
        left = prior - np.swapaxes(seen, 1, 2) @ seen
        known = np.einsum("sip,smik->smpk", seen, self.whitened)
        shapes = (values * self.scale)[None] - known
        spread = shapes @ self.inverse_root
        return left[:, None] + spread @ np.swapaxes(spread, -1, -2)

    def summary(self, heights):
        """Mean (p,), covariance (p, p) and slope (p,) averaged over the hypotheses."""
        means, covariances, slopes = self.predict(heights)
        mean = np.einsum("sm,smp->p", self.weights, means)
        apart = means - mean
        covariance = np.einsum("sm,smpq->pq", self.weights, covariances)
        covariance += np.einsum("sm,smp,smq->pq", self.weights, apart, apart)
        return mean, covariance, np.einsum("sm,smp->p", self.weights, slopes)

    def density_at(self, height, specimen_uncertainty):
        """Density of a specimen at one height with its uncertainty and 95 % interval."""
        means, covariances, slopes = (each[..., 0] for each in self.predict([height]))
        covariances = covariances[..., 0]
        mean = float(np.sum(self.weights * means))
        slope = float(np.sum(self.weights * slopes))
        of_curve = float(np.sum(self.weights * (covariances + (means - mean) ** 2)))
        own = abs(slope) * specimen_uncertainty
        deviations = np.sqrt(covariances + own**2)
        interval = tuple(
            _quantile(share, self.weights, means, deviations) for share in (0.025, 0.975)
        )
        return CurveDensity(
            density_g_cm3=mean,
            standard_uncertainty_g_cm3=float(np.sqrt(of_curve + own**2)),
            interval_95=interval,
            from_curve_g_cm3=float(np.sqrt(of_curve)),
            from_specimen_height_g_cm3=own,
            slope_g_cm3_per_mm=abs(slope),
        )

    def studentised(self):
        """Each float's misfit to the curve of the others, over its standard uncertainty.

        Only hypotheses that take every certificate at its word count here: those that excuse a bad
        float would hide it.
        """
        inner = self.whitened @ self.inverse_root
        left = np.eye(len(self.heights)) - inner @ np.swapaxes(inner, -1, -2)
        trusted = self.noise.whitener[:1, None]
        precision = np.einsum("smij,smik,smkj->smj", trusted, left[:1], trusted)
        apart = self.pulls[:1] / np.maximum(precision, 1e-300)
        weights = self.weights[:1] / self.weights[:1].sum()
        mean = np.einsum("sm,smn->n", weights, apart)
        variance = np.einsum("sm,smn->n", weights, 1 / np.maximum(precision, 1e-300))
        variance += np.einsum("sm,smn->n", weights, (apart - mean) ** 2)
        return mean / np.sqrt(variance)


def _quantile(share, weights, means, deviations):
    """Quantile of a mixture of normal laws by bisection."""
    low, high = (means - 8 * deviations).min(), (means + 8 * deviations).max()
    for _ in range(60):
        middle = 0.5 * (low + high)
        reached = np.sum(weights * ndtr((middle - means) / deviations))
        low, high = (middle, high) if reached < share else (low, middle)
    return float(0.5 * (low + high))


def fit_curve(ladder, *, height_uncertainty, ends=None):
    """Fit the curve to ordered floats; `ends` are the liquid's lower and upper end or None."""
    heights = np.array([float(each.above_mm) for each in ladder])
    densities = np.array([float(each.density) for each in ladder])
    bottom, top = ends or (heights[0] - ASSUMED_MARGIN_MM, heights[-1] + ASSUMED_MARGIN_MM)
    frame = (heights, densities - densities.mean(), densities.mean(), bottom, top - bottom)
    slopes = _first_slopes(heights, densities)
    for _ in range(SLOPE_ROUNDS):
        curve = _fit(ladder, frame, np.abs(slopes) * height_uncertainty)
        slopes = curve.summary(heights)[2]
    return curve


def _first_slopes(heights, densities):
    """Slopes of a parabola through the floats, heights centred and scaled."""
    centre, half = heights.mean(), np.ptp(heights) / 2
    place = (heights - centre) / half
    parabola = least_squares(np.column_stack([np.ones_like(place), place, place**2]), densities)
    _, linear, square = parabola.coefficients
    return (linear + 2 * square * place) / half


def _fit(ladder, frame, from_heights):
    heights, offsets, centre, bottom, length = frame
    noise = _noise(ladder, heights, length, np.ptp(offsets), from_heights)
    scale = SHAPE_WIDTHS * np.ptp(offsets)
    values, _ = diffused_shapes((heights - bottom) / length, MIXINGS / length**2)
    whitened = noise.whitener[:, None] @ (values * scale)[None]
    target = np.broadcast_to((noise.whitener @ offsets)[:, None], whitened.shape[:3])
    solution = _solve_with_prior(whitened, target)
    pulled = target - np.einsum("smnk,smk->smn", whitened, solution.coefficients)
    return Curve(
        heights=heights,
        centre=centre,
        bottom=bottom,
        length=length,
        noise=noise,
        weights=_hypothesis_weights(noise, solution),
        coefficients=solution.coefficients * scale,
        inverse_root=np.linalg.inv(solution.root),
        pulls=np.einsum("sij,smi->smj", noise.whitener, pulled),
        whitened=whitened,
        scale=scale,
    )


def _solve_with_prior(whitened, target):
    """Least squares with one row more for each shape: its coefficient is 0 ± 1 prior sd."""
    stack = whitened.shape[:2]
    prior = np.broadcast_to(np.eye(SHAPES), (*stack, SHAPES, SHAPES))
    zeros = np.zeros((*stack, SHAPES))
    return least_squares(
        np.concatenate([whitened, prior], axis=2), np.concatenate([target, zeros], axis=2)
    )


def _hypothesis_weights(noise, solution):
    """Marginal likelihood times prior of each (noise, mixing) hypothesis, normalised."""
    spread = np.log(np.abs(np.diagonal(solution.root, axis1=-2, axis2=-1))).sum(axis=-1)
    log_weight = -0.5 * solution.residual_sum_of_squares - spread
    log_weight += noise.log_weight[:, None]
    log_weight += -0.5 * (np.log(MIXINGS / MIXING_MEDIAN) / MIXING_SPREAD) ** 2
    weights = np.exp(log_weight - log_weight.max())
    return weights / weights.sum()


def _noise(ladder, heights, length, span, from_heights):
    factors, prior = _trust(len(ladder))
    own = np.array([each.own_uncertainty for each in ladder])
    variance = np.maximum(own**2 + from_heights**2, LEAST_NOISE_G_CM3**2)
    distance = (heights[:, None] - heights) / (DEPARTURE_LENGTH * length)
    departure = np.full(len(factors), (DEPARTURE * span) ** 2)
    covariance = departure[:, None, None] * np.exp(-0.5 * distance**2)
    covariance = covariance + _common_covariance(ladder)
    diagonal = np.arange(len(ladder))
    covariance[:, diagonal, diagonal] += variance * factors**2
    root = np.linalg.cholesky(covariance)
    log_size = np.log(np.diagonal(root, axis1=-2, axis2=-1)).sum(axis=-1)
    return _Noise(np.linalg.inv(root), np.log(prior) - log_size, departure)


def _trust(count):
    """Factors on the floats' own sds: all as certified first, then one float worse at a time."""
    factors = np.vstack([np.ones(count), 1 + (WORSE_FACTOR - 1) * np.eye(count)])
    prior = np.array([1.0] + [WORSE_PROBABILITY] * count)
    return factors, prior / prior.sum()


def _common_covariance(ladder):
    """Errors that floats of one calibration run share, with correlation 1."""
    common = np.array([each.common_uncertainty for each in ladder])
    groups = np.array([each.reading.common_group for each in ladder])
    return np.outer(common, common) * (groups[:, None] == groups)
