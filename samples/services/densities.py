"""Typed densities, limits and ranges: refused with a question when the unit looks wrong."""

from __future__ import annotations

from decimal import Decimal

from django.utils.translation import gettext as _

from labsite.errors import RuleViolation
from samples.constants import (
    DENSEST_PRODUCT_G_CM3,
    LIGHTEST_PRODUCT_G_CM3,
    WIDEST_SPREAD_G_CM3,
)

GRAMS_IN_KILOGRAMS_PER_M3 = 1000


def check_density(value: Decimal | None, field: str) -> None:
    """Raise RuleViolation for a density that no piece in a gradient column can have."""
    if value is None or LIGHTEST_PRODUCT_G_CM3 <= value <= DENSEST_PRODUCT_G_CM3:
        return
    in_grams = value / GRAMS_IN_KILOGRAMS_PER_M3
    if LIGHTEST_PRODUCT_G_CM3 <= in_grams <= DENSEST_PRODUCT_G_CM3:
        raise RuleViolation(
            "density_unit",
            _("Is %(value)s in kg/m³? Densities are in g/cm³ here: did you mean %(meant)s?")
            % {"value": value, "meant": _plain(in_grams)},
            fields={field: [_("in g/cm³, for example 0.9184")]},
            suggestion=_plain(in_grams),
        )
    raise RuleViolation(
        "density_implausible",
        _("%(value)s g/cm³ cannot be. Expected %(low)s to %(high)s g/cm³. Is a digit missing?")
        % {"value": value, "low": LIGHTEST_PRODUCT_G_CM3, "high": DENSEST_PRODUCT_G_CM3},
        fields={field: [_("outside the range of gradient columns")]},
    )


def check_spread_limit(value: Decimal) -> None:
    if not 0 < value <= WIDEST_SPREAD_G_CM3:
        raise RuleViolation(
            "spread_limit_implausible",
            _("The largest range of the specimens is above 0 and at most %(most)s g/cm³.")
            % {"most": WIDEST_SPREAD_G_CM3},
            fields={"spread_limit_g_cm3": [_("in g/cm³, for example 0.0006")]},
        )


def check_limits(lower: Decimal | None, upper: Decimal | None, *, one_sided: bool) -> None:
    """Raise RuleViolation unless both limits are missing, in order, or one-sided on purpose."""
    check_density(lower, "lower_limit_g_cm3")
    check_density(upper, "upper_limit_g_cm3")
    if lower is not None and upper is not None:
        _check_order(lower, upper)
    elif (lower is None) != (upper is None) and not one_sided:
        missing = "lower_limit_g_cm3" if lower is None else "upper_limit_g_cm3"
        raise RuleViolation(
            "limit_missing",
            _("Only one limit is given. Give the other, or say that the grade has one limit only."),
            fields={missing: [_("missing")]},
        )


def _check_order(lower: Decimal, upper: Decimal) -> None:
    both = {"lower": lower, "upper": upper}
    if lower > upper:
        raise RuleViolation(
            "limits_reversed",
            _("The lower limit %(lower)s is above the upper limit %(upper)s. Exchanged?") % both,
            fields={"lower_limit_g_cm3": [_("above the upper limit")]},
        )
    if lower == upper:
        raise RuleViolation(
            "limits_equal",
            _("Both limits are %(lower)s g/cm³: nothing could lie between them.") % both,
            fields={"upper_limit_g_cm3": [_("equal to the lower limit")]},
        )


def check_inside(value: Decimal, lower: Decimal | None, upper: Decimal | None) -> None:
    """Raise RuleViolation when the expected density lies outside the grade's own limits."""
    if (lower is not None and value < lower) or (upper is not None and value > upper):
        raise RuleViolation(
            "expected_outside_limits",
            _("The expected density %(value)s g/cm³ lies outside the limits.") % {"value": value},
            fields={"expected_density_g_cm3": [_("outside the limits")]},
        )


def _plain(value: Decimal) -> str:
    return f"{value.normalize():f}"
