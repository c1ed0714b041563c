"""Legendre polynomials after diffusion in a closed column: the shapes that a profile can take.

A profile that starts as a polynomial of the height z in a column of length H, without flow
through either end, is after a mixing M = integral of D dt

    P_k(z; M) = sum over n of c_kn cos(n pi z / H) exp(-n^2 pi^2 M / H^2)

with c_kn the cosine coefficients of the Legendre polynomial k on [0, 1]. For the line (k = 1) this
is the textbook solution of the closed column; k = 2 and 3 carry what the pour left uneven.
"""

import numpy as np

SHAPES = 4
# Terms are dropped where exp(-n^2 pi^2 M / H^2) has fallen below exp(-20), about 2e-9.
_NEGLIGIBLE = 20.0
_MOST_TERMS = 400


def cosine_coefficients(terms):
    """Coefficients c_kn of Legendre polynomials 0 to 3 on [0, 1], shape (4, terms)."""
    order = np.arange(terms)
    coefficients = np.zeros((SHAPES, terms))
    coefficients[0, 0] = 1.0
    square = (np.pi * order[1:]) ** 2
    odd = (order[1:] % 2).astype(float)
    coefficients[1, 1:] = -8.0 * odd / square
    coefficients[2, 1:] = 24.0 * (1.0 - odd) / square
    coefficients[3, 1:] = odd * (480.0 / square - 48.0) / square
    return coefficients


def diffused_shapes(places, mixings):
    """Shapes and their slopes at relative heights z/H for relative mixings M/H^2.

    Returns two arrays of shape (mixings, places, 4); slopes are per unit of z/H.
    """
    places, mixings = np.asarray(places, float), np.asarray(mixings, float)
    terms = 2 + int(np.sqrt(_NEGLIGIBLE / mixings.min()) / np.pi)
    order = np.arange(min(terms, _MOST_TERMS))
    angles = np.pi * np.outer(places, order)
    decay = np.exp(-np.outer(mixings, (np.pi * order) ** 2))
    weights = decay[:, :, None] * cosine_coefficients(len(order)).T
    values = np.cos(angles) @ weights
    slopes = -np.sin(angles) @ (np.pi * order[:, None] * weights)
    return values, slopes
