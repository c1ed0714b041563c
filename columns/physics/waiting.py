"""How long a specimen falls before its height counts, and how long a basket pass takes."""

import math
from dataclasses import dataclass
from fractions import Fraction

from columns.physics import errors
from columns.physics.constants import (
    BASKET_RATE_MM_PER_MIN,
    PELLET_WAIT_MINUTES,
    THIN_FILM_THICKEST_MM,
    THIN_FILM_WAIT_MINUTES,
)
from columns.physics.floats import exact_figure

STANDARD = "ASTM D1505-18, 9.1"
OUR_RULE = "our rule: in viscous fall the time to come to rest goes as one over the thickness"


@dataclass(frozen=True)
class Wait:
    """Minutes to wait, whether to look again after hours, and where the rule comes from."""

    minutes: int
    second_reading: bool
    source: str


def wait_before_reading(form, thickness_mm=None):
    """Shortest wait between dropping a specimen and reading it.

    Parameters
    ----------
    form : {"pellet", "moulded", "strand", "film"}
        What the specimen is cut from [-]
    thickness_mm : Decimal or float, optional
        Thickness of the piece; needed for film only [mm]

    Returns
    -------
    Wait
        Whole minutes, second reading wanted or not, and source [min]

    Raises
    ------
    ThicknessNotValid
        If a film has no thickness, or a thickness is not positive.
    ValueError
        If the form is unknown.

    Notes
    -----
    Pieces that are no film wait as pellets do. Film up to 0.051 mm waits 90 min and is read
    again, as in [1]_. Thicker film waits 90 min times 0.051 mm / thickness, but never less than a
    pellet: for pieces of one outline the viscous drag is the same and the force that brings them
    to their height grows with the thickness. That part is our rule.

    References
    ----------
    .. [1] ASTM D1505-18, 9.1.
    """
    if form not in ("pellet", "moulded", "strand", "film"):
        raise ValueError(f"Unknown form of specimen: {form!r}.")
    thickness = _checked_thickness(thickness_mm, needed=form == "film")
    if form != "film":
        return Wait(PELLET_WAIT_MINUTES, False, STANDARD)
    if thickness <= THIN_FILM_THICKEST_MM:
        return Wait(THIN_FILM_WAIT_MINUTES, True, STANDARD)
    minutes = math.ceil(THIN_FILM_WAIT_MINUTES * Fraction(THIN_FILM_THICKEST_MM) / thickness)
    return Wait(max(PELLET_WAIT_MINUTES, minutes), True, OUR_RULE)


def _checked_thickness(thickness_mm, *, needed):
    if thickness_mm is None and not needed:
        return None
    figure = None if thickness_mm is None else exact_figure(thickness_mm, "The thickness")
    if figure is None or figure <= 0:
        raise errors.ThicknessNotValid(
            "Give the thickness in millimetres, for example 0.050.", value=thickness_mm, limit=0
        )
    return figure


def basket_pass_minutes(distance_mm, rate_mm_per_min=BASKET_RATE_MM_PER_MIN):
    """Time that the basket takes over a distance, one way.

    Parameters
    ----------
    distance_mm : Decimal or float
        Length of column that the basket is moved through [mm]
    rate_mm_per_min : Decimal or float, optional
        Speed of the basket [mm/min]

    Returns
    -------
    float
        Duration of the movement [min]

    Raises
    ------
    ValueError
        If the distance is negative or the rate is not positive.

    References
    ----------
    .. [1] ASTM D1505-18, 9.3.
    """
    distance = exact_figure(distance_mm, "The distance")
    rate = exact_figure(rate_mm_per_min, "The rate")
    if distance < 0 or rate <= 0:
        raise ValueError("A basket pass needs a distance of at least 0 and a rate above 0.")
    return float(distance / rate)
