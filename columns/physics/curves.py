"""A calibration curve through all floats of one set, with its own uncertainty.

The profile is a sum of four diffused shapes (`shapes.py`) and a small smooth departure. How much
the column has mixed, where its liquid ends, and whether one float is worse than its certificate
says are not known: the curve is the average over a table of such hypotheses, each weighted by how
well it explains the floats. Within a hypothesis everything is linear and Gaussian, so that nothing
is iterated but the slope by which height errors count.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import ndtr

from columns.physics.lines import least_squares
from columns.physics.shapes import SHAPES, DiffusedShapes

METHOD = "diffused-shapes/1"

# Prior widths of the four shapes, as shares of the density range of the floats; they grow with the
# liquid's length where it exceeds this many height ranges of the floats.
LONG_LIQUID = 2.0
SHAPE_WIDTHS = np.array([3.0, 3.0, 0.05, 0.03])
# Mixing in mm²: from an undisturbed pour to a column past its life.
MIXINGS = np.geomspace(60.0, 15000.0, 10)
MIXING_MEDIAN = 2500.0
MIXING_SPREAD = 1.5  # sd of ln mixing
# The liquid's ends beyond the lower and upper end float in mm, where they are not given.
ASSUMED_MARGINS_MM = ((25.0, 25.0), (70.0, 70.0), (120.0, 120.0), (30.0, 90.0), (90.0, 30.0))
# Liquid farther away than so many height ranges of the floats no longer shapes the profile there.
FARTHEST_END = 5.0
# Smooth departure from the shapes: sd and correlation length as shares of the floats' ranges.
DEPARTURE = 0.004
DEPARTURE_LENGTH = 0.16
# A float may be worse than its certificate: sd multiplied by the factor, with this probability.
WORSE_FACTOR = 3.0
WORSE_PROBABILITY = 0.05
# That many floats, the worst of a first fit, are tried as the worse one.
SUSPECTS = 3
# Least local slope by which height errors count, as a share of the mean slope.
LEAST_SLOPE = 0.05
# The resolution of stored figures: the least noise of a float, so that u = 0 stays solvable.
LEAST_NOISE_G_CM3 = 1e-7


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
class _Frame:
    """The floats as arrays, and the shape hypotheses: liquid's ends and mixing, shape (m,)."""

    heights: np.ndarray
    offsets: np.ndarray  # densities from their mean
    centre: float
    own: np.ndarray
    common: np.ndarray  # covariance of the parts that floats share
    ends: tuple[tuple[float, float], ...]

    @property
    def span(self):
        return np.ptp(self.offsets)

    @property
    def sensitivity(self):
        return self.span / np.ptp(self.heights)

    @property
    def departure_length(self):
        return DEPARTURE_LENGTH * np.ptp(self.heights)

    def kernel(self, heights, others):
        """Covariance of the smooth departure and its derivative by the first height."""
        distance = (np.asarray(heights)[:, None] - others) / self.departure_length
        values = (DEPARTURE * self.span) ** 2 * np.exp(-0.5 * distance**2)
        return values, -values * distance / self.departure_length

    @cached_property
    def lengths(self):
        bottoms, tops = np.array(self.ends).T
        return (tops - bottoms)[:, None]

    @cached_property
    def diffused(self):
        return DiffusedShapes(MIXINGS / self.lengths**2)

    @property
    def widths(self):
        """Prior widths of the shapes' coefficients for each hypothesis, shape (m, 1, 4)."""
        growth = np.maximum(1.0, self.lengths[:, 0] / (LONG_LIQUID * np.ptp(self.heights)))
        return self.span * np.repeat(growth, len(MIXINGS))[:, None, None] * SHAPE_WIDTHS

    def shapes(self, heights):
        """Values and slopes per mm of the shapes for each hypothesis, shape (m, p, 4)."""
        bottoms = np.array(self.ends)[:, :1]
        values, slopes = self.diffused.at((heights - bottoms) / self.lengths)
        slopes = slopes / self.lengths[:, :, None, None]
        return values.reshape(-1, len(heights), SHAPES), slopes.reshape(-1, len(heights), SHAPES)

    @cached_property
    def float_shapes(self):
        return self.shapes(self.heights)

    def log_prior(self):
        one = -0.5 * (np.log(MIXINGS / MIXING_MEDIAN) / MIXING_SPREAD) ** 2
        return np.tile(one, len(self.ends))


@dataclass(frozen=True, eq=False)
class Curve:
    """The fitted curve; heights are millimetres above the scale's zero, growing upward.

    Hypotheses run over s, the errors of the floats (0: all certificates hold), and m, the shapes.
    """

    frame: _Frame
    whitener: np.ndarray  # (s, n, n) inverse Cholesky factor of the floats' covariance
    weights: np.ndarray  # (s, m), sum 1
    trusting_weights: np.ndarray  # (m,), sum 1: weights given that all certificates hold
    coefficients: np.ndarray  # (s, m, 4)
    inverse_root: np.ndarray  # (s, m, 4, 4)
    pulls: np.ndarray  # (s, m, n): covariance^-1 times residuals of the shapes
    whitened: np.ndarray  # (s, m, n, 4) whitened design in units of the prior widths

    def _means(self, heights, shapes):
        """Means and slopes (s, m, p) of each hypothesis."""
        kernel, kernel_slope = self.frame.kernel(heights, self.frame.heights)
        values, slopes = (shape @ self.coefficients[..., None] for shape in shapes)
        means = values[..., 0] + self.pulls @ kernel.T + self.frame.centre
        return means, slopes[..., 0] + self.pulls @ kernel_slope.T

    def predict(self, heights):
        """Means (s, m, p), covariances (s, m, p, p) and slopes (s, m, p) of each hypothesis."""
        shapes = self.frame.shapes(heights)
        means, slopes = self._means(heights, shapes)
        kernel = self.frame.kernel(heights, self.frame.heights)[0]
        return means, self._covariance(heights, shapes[0], kernel), slopes

    def _covariance(self, heights, values, kernel):
        seen = self.whitener @ kernel.T
        left = self.frame.kernel(heights, heights)[0] - np.swapaxes(seen, 1, 2) @ seen
        spread = values * self.frame.widths - np.swapaxes(seen, 1, 2)[:, None] @ self.whitened
        spread = spread @ self.inverse_root
        return left[:, None] + spread @ np.swapaxes(spread, -1, -2)

    def summary(self, heights):
        """Mean (p,), covariance (p, p) and slope (p,) averaged over the hypotheses."""
        means, covariances, slopes = self.predict(heights)
        mean = np.tensordot(self.weights, means, 2)
        apart = np.sqrt(self.weights)[..., None] * (means - mean)
        between = np.tensordot(apart, apart, ((0, 1), (0, 1)))
        covariance = np.tensordot(self.weights, covariances, 2) + between
        return mean, covariance, np.tensordot(self.weights, slopes, 2)

    @cached_property
    def at_floats(self):
        """Mean and slope (p,) at the floats' own heights."""
        means, slopes = self._means(self.frame.heights, self.frame.float_shapes)
        return np.tensordot(self.weights, means, 2), np.tensordot(self.weights, slopes, 2)

    def density_at(self, height, specimen_uncertainty):
        """Density of a specimen at one height with its uncertainty and 95 % interval."""
        means, covariances, slopes = self.predict(np.array([height]))
        means, variances = means[..., 0], covariances[..., 0, 0]
        mean = float(np.sum(self.weights * means))
        slope = float(np.sum(self.weights * slopes[..., 0]))
        of_curve = float(np.sum(self.weights * (variances + (means - mean) ** 2)))
        own = abs(slope) * specimen_uncertainty
        deviation = float(np.sqrt(of_curve + own**2))
        mixture = (self.weights, means, np.sqrt(variances + own**2))
        return CurveDensity(
            density_g_cm3=mean,
            standard_uncertainty_g_cm3=deviation,
            interval_95=tuple(
                _quantile(share, mixture, mean + side * deviation)
                for share, side in ((0.025, -1.96), (0.975, 1.96))
            ),
            from_curve_g_cm3=float(np.sqrt(of_curve)),
            from_specimen_height_g_cm3=own,
            slope_g_cm3_per_mm=abs(slope),
        )

    @cached_property
    def studentised(self):
        """Each float's misfit to the curve of the others, over its standard uncertainty.

        Only the hypothesis that takes every certificate at its word counts here: those that excuse
        a bad float would hide it.
        """
        inner = self.whitened[0] @ self.inverse_root[0]
        kept = np.eye(len(self.frame.heights)) - inner @ np.swapaxes(inner, -1, -2)
        precision = np.einsum("ij,mik,kj->mj", self.whitener[0], kept, self.whitener[0])
        precision = np.maximum(precision, np.finfo(float).tiny)
        apart = self.pulls[0] / precision
        weights = self.trusting_weights
        mean = weights @ apart
        return mean / np.sqrt(weights @ (1 / precision + (apart - mean) ** 2))


def _quantile(share, mixture, start):
    """Quantile of a mixture of normal laws by Newton steps kept between two bounds."""
    weights, means, deviations = mixture
    low, high = (means - 9 * deviations).min(), (means + 9 * deviations).max()
    place = start
    for _ in range(40):
        apart = (place - means) / deviations
        excess = np.sum(weights * ndtr(apart)) - share
        if abs(excess) < 1e-10:
            break
        low, high = (low, place) if excess > 0 else (place, high)
        density = np.sum(weights * np.exp(-0.5 * apart**2) / deviations) / np.sqrt(2 * np.pi)
        step = place - excess / density if density > 0 else low
        place = step if low < step < high else 0.5 * (low + high)
    return float(place)


def fit_curve(ladder, *, height_uncertainty, ends=None):
    """Fit the curve to ordered floats; `ends` are the liquid's lower and upper end or None.

    A first fit with every float as certified gives the slopes by which height errors count, and
    the floats to be suspected in the second.
    """
    frame = _frame(ladder, ends)
    count = len(ladder)
    first = _fit(frame, _first_slopes(frame) * height_uncertainty, np.ones((1, count)))
    # Where errors swamp the floats the fitted slope may vanish; height errors must still count.
    slopes = np.maximum(np.abs(first.at_floats[1]), LEAST_SLOPE * frame.sensitivity)
    suspects = np.argsort(-np.abs(first.studentised))[:SUSPECTS]
    factors = np.vstack([np.ones(count), 1 + (WORSE_FACTOR - 1) * np.eye(count)[suspects]])
    return _fit(frame, slopes * height_uncertainty, factors)


def _frame(ladder, ends):
    heights = np.array([float(each.above_mm) for each in ladder])
    densities = np.array([float(each.density) for each in ladder])
    common = np.array([each.common_uncertainty for each in ladder])
    groups = np.array([each.reading.common_group for each in ladder])
    assumed = [(heights[0] - below, heights[-1] + above) for below, above in ASSUMED_MARGINS_MM]
    return _Frame(
        heights=heights,
        offsets=densities - densities.mean(),
        centre=densities.mean(),
        own=np.array([each.own_uncertainty for each in ladder]),
        common=np.outer(common, common) * (groups[:, None] == groups),
        ends=(_near(ends, heights),) if ends else tuple(assumed),
    )


def _near(ends, heights):
    """The liquid's ends, brought to a distance at which they still matter to the floats."""
    reach = FARTHEST_END * np.ptp(heights)
    return max(ends[0], heights[0] - reach), min(ends[1], heights[-1] + reach)


def _first_slopes(frame):
    """Slopes of a parabola through the floats, heights centred and scaled."""
    half = np.ptp(frame.heights) / 2
    place = (frame.heights - frame.heights.mean()) / half
    design = np.column_stack([np.ones_like(place), place, place**2])
    _, linear, square = least_squares(design, frame.offsets).coefficients
    return (linear + 2 * square * place) / half


def _fit(frame, from_heights, factors):
    """Solve all hypotheses: floats' errors multiplied by `factors` (s, n), and shapes."""
    whitener, log_size = _whiteners(frame, from_heights, factors)
    whitened = whitener[:, None] @ (frame.float_shapes[0] * frame.widths)
    target = np.broadcast_to((whitener @ frame.offsets)[:, None], whitened.shape[:3])
    solution = _solve_with_prior(whitened, target)
    left = target - (whitened @ solution.coefficients[..., None])[..., 0]
    log_prior = np.log(np.where(np.arange(len(factors)) > 0, WORSE_PROBABILITY, 1.0)) - log_size
    log_weights = _log_weights(solution, log_prior[:, None] + frame.log_prior())
    return Curve(
        frame=frame,
        whitener=whitener,
        weights=_normalised(log_weights),
        trusting_weights=_normalised(log_weights[0]),
        coefficients=solution.coefficients * frame.widths[:, 0],
        inverse_root=np.linalg.inv(solution.root),
        pulls=left @ whitener,
        whitened=whitened,
    )


def _whiteners(frame, from_heights, factors):
    """Inverse Cholesky factors of the floats' covariance, and half their log determinants."""
    variance = np.maximum(frame.own**2 + from_heights**2, LEAST_NOISE_G_CM3**2)
    shared = frame.kernel(frame.heights, frame.heights)[0] + frame.common
    root = np.linalg.cholesky(shared + (variance * factors**2)[:, :, None] * np.eye(len(variance)))
    return np.linalg.inv(root), np.log(np.diagonal(root, axis1=-2, axis2=-1)).sum(axis=-1)


def _solve_with_prior(whitened, target):
    """Least squares with one row more for each shape: its coefficient is 0 ± 1 prior width."""
    stack = whitened.shape[:2]
    prior = np.broadcast_to(np.eye(SHAPES), (*stack, SHAPES, SHAPES))
    zeros = np.zeros((*stack, SHAPES))
    return least_squares(
        np.concatenate([whitened, prior], axis=2), np.concatenate([target, zeros], axis=2)
    )


def _log_weights(solution, log_prior):
    """Log of marginal likelihood times prior of each hypothesis."""
    spread = np.log(np.abs(np.diagonal(solution.root, axis1=-2, axis2=-1))).sum(axis=-1)
    return log_prior - 0.5 * solution.residual_sum_of_squares - spread


def _normalised(log_weights):
    weights = np.exp(log_weights - log_weights.max())
    return weights / weights.sum()
