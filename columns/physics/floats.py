"""Float readings of one set, checked at the door and put in order from the bottom up."""

import math
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from columns.physics import errors
from columns.physics.constants import (
    DENSEST_FLOAT_G_CM3,
    FARTHEST_HEIGHT_MM,
    FEWEST_FLOATS,
    LARGEST_DENSITY_U_G_CM3,
    LEAST_DENSITY_APART_G_CM3,
    LEAST_HEIGHT_APART_MM,
    LIGHTEST_FLOAT_G_CM3,
    MOST_FLOATS,
)

ORIGINS = ("bottom", "top")
NUMBERS = (int, float, Decimal, Fraction)
MOST_PLACES = 300  # those of a binary number, before and after the point
DENSITY_SOURCE = "liquid pairs of JIS K 7112:1999, Annex 1, rounded outward"
LINE_SOURCE = "ASTM D1505-18, 10.1.2"


@dataclass(frozen=True, kw_only=True)
class FloatReading:
    """One calibration float in one float set.

    Parameters
    ----------
    id : str
        Name of the float, unique in the set [-]
    density_g_cm3 : Decimal
        Certified density at the temperature of the column [g/cm^3]
    standard_uncertainty_g_cm3 : float
        Whole standard uncertainty of the certified density [g/cm^3]
    height_mm : Decimal
        Height of the float's centre on the column's scale [mm]
    common_standard_uncertainty_g_cm3 : float, optional
        Part of the standard uncertainty shared with the floats of the same group [g/cm^3]
    common_group : str, optional
        Name of the calibration run whose floats share that part [-]

    Raises
    ------
    PhysicsError
        Not here: `calibrate` checks all floats of a set together.

    References
    ----------
    .. [1] JCGM 100:2008, 5.2 (correlated input quantities).
    """

    id: str
    density_g_cm3: Decimal
    standard_uncertainty_g_cm3: float
    height_mm: Decimal
    common_standard_uncertainty_g_cm3: float = 0.0
    common_group: str = ""


@dataclass(frozen=True, kw_only=True)
class LiquidSpan:
    """Where the liquid of the column begins and ends, in heights of its scale.

    Parameters
    ----------
    bottom_mm : Decimal
        Lower end of the liquid as read on the scale [mm]
    top_mm : Decimal
        Upper end of the liquid as read on the scale [mm]

    Raises
    ------
    PhysicsError
        Not here: `calibrate` checks the span against the scale's origin and the floats.

    References
    ----------
    .. [1] ASTM D1505-18, 9.2 (heights from any fixed datum).
    """

    bottom_mm: Decimal
    top_mm: Decimal


@dataclass(frozen=True)
class OrderedFloat:
    """A checked float with exact figures; `above_mm` grows upward whatever the scale's origin."""

    reading: FloatReading
    density: Fraction
    above_mm: Fraction
    own_uncertainty: float
    common_uncertainty: float

    @property
    def id(self):
        return self.reading.id


def exact_figure(value, what):
    """Return a typed decimal as a rational; a float stands for its shortest decimal text."""
    if isinstance(value, bool) or not isinstance(value, NUMBERS):
        raise errors.NotANumber(f"{what} must be a number.", value=value)
    if not _is_finite(value):
        raise errors.NotANumber(f"{what} must be a finite number, not {value}.", value=value)
    return Fraction(repr(float(value))) if isinstance(value, float) else Fraction(value)


def _is_finite(value):
    """True for a number of sensible size; a decimal of a billion digits would never become one."""
    if isinstance(value, Decimal):
        return value.is_finite() and abs(value.as_tuple().exponent) < MOST_PLACES
    if isinstance(value, float):
        return math.isfinite(value)
    return abs(value) < 10**MOST_PLACES


def checked_uncertainty(value, what, *, largest=None):
    """Return a standard uncertainty as float64, refusing negative, endless and absurd ones."""
    figure = float(exact_figure(value, what))
    if figure < 0:
        raise errors.UncertaintyNotValid(
            f"{what} must not be negative: {value}.", value=value, limit=0.0
        )
    if largest is not None and figure > largest:
        raise errors.UncertaintyNotValid(
            f"{what} must not exceed {largest:g}: {value}.", value=value, limit=largest
        )
    return figure


def checked_height(value, what):
    """Return a height as a rational, refusing what lies beyond any scale."""
    figure = exact_figure(value, what)
    if abs(figure) > FARTHEST_HEIGHT_MM:
        raise errors.HeightImplausible(
            f"{what} lies beyond any scale: {value} mm.", value=value, limit=FARTHEST_HEIGHT_MM
        )
    return figure


def upward(height, origin):
    """Turn a height of the scale into one that grows upward."""
    return height if origin == "bottom" else -height


def ordered_floats(floats, *, origin, liquid=None):
    """Check the floats of a set and return them from the bottom up."""
    if origin not in ORIGINS:
        raise errors.OriginUnknown(
            f'The origin of the scale is "bottom" or "top", not {origin!r}.', value=origin
        )
    checked = [_checked(reading, origin) for reading in floats]
    _check_number(checked)
    _check_distinct(checked)
    _check_inside(checked, liquid, origin)
    ladder = sorted(checked, key=lambda each: each.above_mm)
    _check_order(ladder)
    return tuple(ladder)


def _checked(reading, origin):
    name = f"{reading.id}: "
    density = exact_figure(reading.density_g_cm3, name + "the certified density")
    _check_plausible(reading, density)
    whole = checked_uncertainty(
        reading.standard_uncertainty_g_cm3,
        name + "the standard uncertainty",
        largest=LARGEST_DENSITY_U_G_CM3,
    )
    common = checked_uncertainty(
        reading.common_standard_uncertainty_g_cm3, name + "the common standard uncertainty"
    )
    # Two roundings of one figure must not count as more than the whole.
    if common > whole * (1 + 1e-9):
        raise errors.UncertaintyNotValid(
            f"{reading.id}: the common part {common} g/cm³ exceeds the whole standard "
            f"uncertainty {whole} g/cm³.",
            floats=[reading.id],
            value=common,
            limit=whole,
        )
    height = checked_height(reading.height_mm, name + "the height")
    own = math.sqrt(max(0.0, whole**2 - common**2))
    return OrderedFloat(reading, density, upward(height, origin), own, common)


def _check_plausible(reading, density):
    if LIGHTEST_FLOAT_G_CM3 <= density <= DENSEST_FLOAT_G_CM3:
        return
    hint = " Is it in kg/m³?" if density >= 100 else " Is a digit missing?"
    raise errors.DensityImplausible(
        f"{reading.id}: a float of {reading.density_g_cm3} g/cm³ cannot rest in a gradient "
        f"column; expected {LIGHTEST_FLOAT_G_CM3} to {DENSEST_FLOAT_G_CM3} g/cm³.{hint}",
        floats=[reading.id],
        value=reading.density_g_cm3,
        limit=(LIGHTEST_FLOAT_G_CM3, DENSEST_FLOAT_G_CM3),
        source=DENSITY_SOURCE,
    )


def _check_number(checked):
    if len(checked) < FEWEST_FLOATS:
        raise errors.TooFewFloats(
            f"{len(checked)} float(s) give no density; at least {FEWEST_FLOATS} are needed.",
            value=len(checked),
            limit=FEWEST_FLOATS,
            source=LINE_SOURCE,
        )

    if len(checked) > MOST_FLOATS:
        raise errors.TooManyFloats(
            f"{len(checked)} floats are more than a column holds; at most {MOST_FLOATS} are taken.",
            value=len(checked),
            limit=MOST_FLOATS,
        )


def _check_distinct(checked):
    seen = set()
    for each in checked:
        if each.id in seen:
            raise errors.DuplicateFloat(
                f"{each.id} is in the set twice; enter each float once.", floats=[each.id]
            )
        seen.add(each.id)
    _refuse_equal(
        checked, "above_mm", LEAST_HEIGHT_APART_MM, errors.FloatHeightsEqual, "at the same height"
    )
    _refuse_equal(
        checked,
        "density",
        LEAST_DENSITY_APART_G_CM3,
        errors.FloatDensitiesEqual,
        "of the same certified density",
    )


def _refuse_equal(checked, attribute, least, error, words):
    """Refuse two floats whose heights, or densities, cannot be told apart."""
    in_order = sorted(checked, key=lambda each: getattr(each, attribute))
    for one, other in pairwise(in_order):
        if getattr(other, attribute) - getattr(one, attribute) < least:
            raise error(
                f"{one.id} and {other.id} are {words}, which gives no slope between them. "
                "Check both lines, or leave one float out and say why.",
                floats=[one.id, other.id],
                limit=least,
            )


def liquid_ends(liquid, origin):
    """Return the liquid's lower and upper end as exact heights that grow upward."""
    low, high = (
        upward(checked_height(end, f"The liquid's {name} end"), origin)
        for name, end in (("lower", liquid.bottom_mm), ("upper", liquid.top_mm))
    )
    if low >= high:
        raise errors.LiquidSpanNotValid(
            f"The liquid from {liquid.bottom_mm} mm to {liquid.top_mm} mm has no length upward "
            f"on a scale with its origin at the {origin}.",
            value=(liquid.bottom_mm, liquid.top_mm),
        )
    return low, high


def _check_inside(checked, liquid, origin):
    if liquid is None:
        return
    low, high = liquid_ends(liquid, origin)
    for each in checked:
        if not low <= each.above_mm <= high:
            raise errors.HeightOutsideLiquid(
                f"{each.id} at {each.reading.height_mm} mm lies outside the liquid, which "
                f"reaches from {liquid.bottom_mm} mm to {liquid.top_mm} mm.",
                floats=[each.id],
                value=each.reading.height_mm,
                limit=(liquid.bottom_mm, liquid.top_mm),
            )


def _falls(densities):
    return all(below > above for below, above in pairwise(densities))


def _check_order(ladder):
    densities = [each.density for each in ladder]
    if _falls(densities):
        return
    swapped = _swapped_pair(ladder)
    reversed_wholly = _falls(densities[::-1])
    if reversed_wholly and len(ladder) > FEWEST_FLOATS:
        _refuse_origin(ladder)
    if swapped:
        _refuse_swap(swapped, maybe_origin=reversed_wholly)
    _refuse_disorder(ladder)


def _swapped_pair(ladder):
    """The two floats whose heights, when exchanged, restore the order; None if there are none.

    Heights and densities are distinct, so that at most one exchange can do it: the two places
    where the set differs from the set sorted by density.
    """
    by_density = sorted(ladder, key=lambda each: -each.density)
    moved = [each for each, wanted in zip(ladder, by_density, strict=True) if each is not wanted]
    return moved if len(moved) == 2 else None


def _refuse_origin(ladder):
    raise errors.FloatOrderReversed(
        "Every denser float stands above a lighter one: scale origin? The heights would be right "
        "if the scale were read from its other end.",
        cause="scale_origin",
        floats=[each.id for each in ladder],
        source=LINE_SOURCE,
    )


def _refuse_swap(swapped, *, maybe_origin):
    one, other = swapped
    origin = " Or the scale origin?" if maybe_origin else ""
    raise errors.FloatOrderReversed(
        f"{one.id} ({one.reading.density_g_cm3} g/cm³ at {one.reading.height_mm} mm) and "
        f"{other.id} ({other.reading.density_g_cm3} g/cm³ at {other.reading.height_mm} mm) are "
        f"out of order: two lines swapped? Exchanging their heights restores the order.{origin}",
        cause="lines_swapped",
        floats=[one.id, other.id],
        source=LINE_SOURCE,
    )


def _refuse_disorder(ladder):
    wrong = [
        each.id for pair in pairwise(ladder) if pair[0].density < pair[1].density for each in pair
    ]
    names = list(dict.fromkeys(wrong))
    raise errors.FloatOrderReversed(
        f"A denser float stands above a lighter one at {', '.join(names)}; no single exchange of "
        "two lines restores the order. Read these floats again.",
        cause="unknown",
        floats=names,
        source=LINE_SOURCE,
    )
