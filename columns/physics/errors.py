"""Errors of the physics: each is also a ValueError and says value, limit and source."""


class PhysicsError(Exception):
    """Base of all refusals in this package; `code` is stable, the message is for people."""

    code = "physics"

    def __init__(self, message, *, floats=(), value=None, limit=None, source=None):
        super().__init__(message)
        self.message = message
        self.floats = tuple(floats)
        self.value = value
        self.limit = limit
        self.source = source


class NotANumber(PhysicsError, ValueError):
    """A quantity that is no finite number."""

    code = "not_a_number"


class UncertaintyNotValid(PhysicsError, ValueError):
    """A negative or senselessly large uncertainty, or a common part above the whole."""

    code = "uncertainty_not_valid"


class DensityImplausible(PhysicsError, ValueError):
    """A certified density that no gradient column can hold."""

    code = "density_implausible"


class TooFewFloats(PhysicsError, ValueError):
    """Fewer floats than a straight line needs."""

    code = "too_few_floats"


class TooManyFloats(PhysicsError, ValueError):
    """More floats than any column holds."""

    code = "too_many_floats"


class HeightImplausible(PhysicsError, ValueError):
    """A height beyond any scale."""

    code = "height_implausible"


class DuplicateFloat(PhysicsError, ValueError):
    """The same float twice in one set."""

    code = "duplicate_float"


class FloatHeightsEqual(PhysicsError, ValueError):
    """Two floats at the same height: no slope between them."""

    code = "float_heights_equal"


class FloatDensitiesEqual(PhysicsError, ValueError):
    """Two floats of the same certified density: no slope between them."""

    code = "float_densities_equal"


class FloatOrderReversed(PhysicsError, ValueError):
    """A denser float above a lighter one; `cause` is lines_swapped, scale_origin or unknown."""

    code = "float_order_reversed"

    def __init__(self, message, *, cause, **details):
        super().__init__(message, **details)
        self.cause = cause


class HeightOutsideLiquid(PhysicsError, ValueError):
    """A float's height outside the liquid of the column."""

    code = "height_outside_liquid"


class LiquidSpanNotValid(PhysicsError, ValueError):
    """A liquid span without length."""

    code = "liquid_span_not_valid"


class TemperatureOutOfRange(PhysicsError, ValueError):
    """A temperature outside the range of a formula."""

    code = "temperature_out_of_range"


class NotEnoughPoints(PhysicsError, ValueError):
    """Fewer observations than a fit needs, or all at one place."""

    code = "not_enough_points"


class ThicknessNotValid(PhysicsError, ValueError):
    """A thickness that is not positive."""

    code = "thickness_not_valid"


class OriginUnknown(PhysicsError, ValueError):
    """A scale origin other than bottom or top."""

    code = "origin_unknown"


class MinimumFloatsNotValid(PhysicsError, ValueError):
    """A minimum number of floats below the two that a straight line needs."""

    code = "minimum_floats_not_valid"
