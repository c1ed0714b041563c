"""Legendre polynomials after diffusion in a closed column: the shapes that a profile can take.

A profile that starts as a polynomial of the height z in a column of length H, without flow
through either end, is after a mixing M = integral of D dt

    P_k(z; M) = sum over n of c_kn cos(n pi z / H) exp(-n^2 pi^2 M / H^2)

with c_kn the cosine coefficients of the Legendre polynomial k on [0, 1]. For the line (k = 1) this
is the textbook solution of the closed column; k = 2 and 3 carry what the pour left uneven.
"""

from functools import lru_cache

import numpy as np

SHAPES = 4
# Terms are dropped where exp(-n^2 pi^2 M / H^2) has fallen below exp(-16): with the coefficients,
# which fall as 1/n^2, less than 1e-9 of value and slope is lost.
_NEGLIGIBLE = 16.0
_MOST_TERMS = 400


@lru_cache(maxsize=64)
def cosine_coefficients(terms):
    """Coefficients c_kn of Legendre polynomials 0 to 3 on [0, 1], shape (terms, 4)."""
    coefficients = np.zeros((terms, SHAPES))
    order = np.arange(1, terms)
    square = (np.pi * order) ** 2
    odd = (order % 2).astype(float)
    coefficients[0, 0] = 1.0
    coefficients[1:, 1] = -8.0 * odd / square
    coefficients[1:, 2] = 24.0 * (1.0 - odd) / square
    coefficients[1:, 3] = odd * (480.0 / square - 48.0) / square
    return coefficients


class DiffusedShapes:
    """Shapes for columns of different lengths at once, each after several mixings.

    `mixings` are M/H^2, shape (columns, m). What does not depend on the places is made once.
    """

    def __init__(self, mixings):
        mixings = np.asarray(mixings, float)
        terms = 2 + int(np.sqrt(_NEGLIGIBLE / mixings.min()) / np.pi)
        self.order = np.pi * np.arange(min(terms, _MOST_TERMS))
        decay = np.exp(-mixings[..., None] * self.order**2)
        self.weights = decay[..., None] * cosine_coefficients(len(self.order))
        self.slope_weights = -self.order[:, None] * self.weights

    def at(self, places):
        """Values and slopes, shape (columns, m, p, 4), at z/H of shape (columns, p)."""
        angles = np.asarray(places, float)[:, None, :, None] * self.order
        return np.cos(angles) @ self.weights, np.sin(angles) @ self.slope_weights
