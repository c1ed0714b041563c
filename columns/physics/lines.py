"""Linear least squares with covariance, and the straight line of density on height."""

from dataclasses import dataclass

import numpy as np

from columns.physics import errors


@dataclass(frozen=True, eq=False)
class LeastSquares:
    """Solution of one or many linear least-squares problems of the same shape.

    `root` is the upper triangular factor R of the design; the covariance of the coefficients is
    (R'R)^-1 times the variance of an observation.
    """

    coefficients: np.ndarray
    root: np.ndarray
    orthogonal: np.ndarray
    residual_sum_of_squares: np.ndarray

    def unscaled_covariance(self):
        """(X'X)^-1 of a single problem."""
        inverse = np.linalg.inv(self.root)
        return inverse @ np.swapaxes(inverse, -1, -2)


def least_squares(design, response):
    """Solve linear least squares by orthogonal factors, one problem or a stack of them.

    Parameters
    ----------
    design : array_like, shape (..., n, k)
        One row for each observation, one column for each coefficient [-]
    response : array_like, shape (..., n)
        Observed values [-]

    Returns
    -------
    LeastSquares
        Coefficients, shape (..., k), with the factors for their covariance [-]

    Raises
    ------
    NotEnoughPoints
        If there are fewer observations than coefficients.

    References
    ----------
    .. [1] JCGM 100:2008, H.3 (least squares with the covariance of the coefficients).
    """
    design, response = np.asarray(design, float), np.asarray(response, float)
    if design.shape[-2] < design.shape[-1]:
        raise errors.NotEnoughPoints(
            f"{design.shape[-1]} coefficients need as many points, not {design.shape[-2]}.",
            value=design.shape[-2],
            limit=design.shape[-1],
        )
    orthogonal, root = np.linalg.qr(design)
    projected = np.einsum("...nk,...n->...k", orthogonal, response)
    coefficients = np.linalg.solve(root, projected[..., None])[..., 0]
    residuals = response - np.einsum("...nk,...k->...n", design, coefficients)
    return LeastSquares(coefficients, root, orthogonal, np.sum(residuals**2, axis=-1))


@dataclass(frozen=True)
class LineFit:
    """A straight line y = intercept + slope x with the covariance of its coefficients."""

    intercept: float
    slope: float
    standard_uncertainty_intercept: float
    standard_uncertainty_slope: float
    covariance: float
    residual_sd: float
    degrees_of_freedom: int

    @property
    def correlation_of_coefficients(self):
        return self.covariance / (
            self.standard_uncertainty_intercept * self.standard_uncertainty_slope
        )

    def at(self, x):
        """Value of the line and its standard uncertainty, covariance included."""
        variance = (
            self.standard_uncertainty_intercept**2
            + (x * self.standard_uncertainty_slope) ** 2
            + 2 * x * self.covariance
        )
        return self.intercept + self.slope * x, float(np.sqrt(max(0.0, variance)))


def fit_line(x, y):
    """Fit a straight line by ordinary least squares, with the covariance of its coefficients.

    Parameters
    ----------
    x : array_like, shape (n,)
        Places of the observations, such as heights [mm]
    y : array_like, shape (n,)
        Observed values, such as densities [g/cm^3]

    Returns
    -------
    LineFit
        Intercept, slope, their uncertainties and covariance, residual sd [g/cm^3]

    Raises
    ------
    NotEnoughPoints
        If fewer than two points differ in `x`.

    Notes
    -----
    Solved about the mean of `x`, where the coefficients are uncorrelated, and moved to zero
    afterwards; two points leave no degree of freedom and a residual sd of zero.

    References
    ----------
    .. [1] JCGM 100:2008, H.3, equations (H.13a) to (H.13g).
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    if x.ndim != 1 or x.shape != y.shape or np.unique(x).size < 2:
        raise errors.NotEnoughPoints("A straight line needs two points at different places.")
    centre = x.mean()
    solution = least_squares(np.column_stack([np.ones_like(x), x - centre]), y)
    freedom = len(x) - 2
    variance = float(solution.residual_sum_of_squares) / freedom if freedom else 0.0
    (u_mean2, shared), (_, u_slope2) = solution.unscaled_covariance() * variance
    value_at_centre, slope = solution.coefficients
    return LineFit(
        intercept=float(value_at_centre - slope * centre),
        slope=float(slope),
        standard_uncertainty_intercept=float(np.sqrt(u_mean2 + centre**2 * u_slope2)),
        standard_uncertainty_slope=float(np.sqrt(u_slope2)),
        covariance=float(shared - centre * u_slope2),
        residual_sd=float(np.sqrt(variance)),
        degrees_of_freedom=freedom,
    )
