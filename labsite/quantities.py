"""The one place that rounds and formats quantities.

Three grades of figure exist. An *exact* figure is a rational that follows from typed decimals.
The *stored* figure is the exact one rounded half-even to 1e-7 g/cm³, so that a recomputation gives
the same digits anywhere. The *reported* figure has four places and is always rounded from the
stored one, never from the exact one: what is printed can be checked from what is stored.

Nothing here imports Django, so that the rules can be tested and reused without it.
"""

import math
import re
from decimal import Decimal
from fractions import Fraction

STORED_PLACES = 7
WORKING_PLACES = 5  # one piece on working pages
REPORTED_PLACES = 4
TEMPERATURE_PLACES = 2

MINUS = "\N{MINUS SIGN}"
NO_BREAK_SPACE = "\N{NO-BREAK SPACE}"
DENSITY_UNIT = "g/cm³"

# At most this many digits before and after the mark: more is a slip of the keyboard.
_DECIMAL = re.compile(r"([+-]?)(\d{1,12})(?:[.,](\d{1,12}))?", re.ASCII)
_TRIMMED = " \t\r\n\N{NO-BREAK SPACE}"


class NotADecimal(ValueError):
    """A typed text that is not one plain decimal number."""

    code = "not_a_decimal"

    def __init__(self, text):
        self.text = text
        super().__init__(
            "Write one plain number with a point or a comma before the decimals and nothing "
            "between the thousands, for example 412.5 or 412,5."
        )


def parse_decimal(text):
    """Read a typed number; a comma is the decimal mark, never a thousands separator.

    >>> parse_decimal("412,5"), parse_decimal(" 412.50 ")
    (Decimal('412.5'), Decimal('412.50'))

    Raises NotADecimal (a ValueError) for anything else: "1.234,5", "1 234.5", "1e999", "NaN",
    full-width or Arabic digits.
    """
    match = _DECIMAL.fullmatch(text.strip(_TRIMMED)) if isinstance(text, str) else None
    if match is None:
        raise NotADecimal(text)
    sign, whole, decimals = match.groups()
    value = Decimal(f"{sign}{whole}.{decimals}" if decimals else f"{sign}{whole}")
    return value if value else abs(value)


def exact(value):
    """Return a number as a rational, refusing what is not finite.

    >>> exact(Decimal("0.9184"))
    Fraction(574, 625)
    """
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError(f"{value} is not a number that can be stored.")
    if isinstance(value, Decimal) and not value.is_finite():
        raise ValueError(f"{value} is not a number that can be stored.")
    return Fraction(value)


def rounded(value, places):
    """Round half-even to a number of decimal places, exactly and never to minus zero.

    >>> rounded(Fraction(5, 2), 0), rounded(Decimal("-0.00004"), 4)
    (Decimal('2'), Decimal('0.0000'))
    """
    return _decimal(round(exact(value) * 10**places), places)


def stored(value):
    """Round a density, or a float64 figure in g/cm³, to what the database keeps: 1e-7 half-even.

    >>> stored(Fraction(1, 3))
    Decimal('0.3333333')
    """
    return rounded(value, STORED_PLACES)


def reported(value):
    """Round a density to the four places of a report, from its stored figure.

    >>> reported(Decimal("0.91845"))
    Decimal('0.9184')
    """
    return rounded(stored(value), REPORTED_PLACES)


def reported_uncertainty(value):
    """Round an uncertainty up to the places of the reported density.

    JCGM 100:2008, 7.2.6 allows rounding up; down would claim more than was computed.

    >>> reported_uncertainty(0.00011), reported_uncertainty(0.0002)
    (Decimal('0.0002'), Decimal('0.0002'))
    """
    return _decimal(math.ceil(exact(stored(value)) * 10**REPORTED_PLACES), REPORTED_PLACES)


def written(value):
    """Write a decimal in full, never with an exponent as str() does below 1e-6.

    >>> written(stored(0.0)), written(Decimal("1E-7"))
    ('0.0000000', '0.0000001')
    """
    return f"{value:f}"


def format_density(value, *, places=REPORTED_PLACES, unit=False, decimal_mark="."):
    """Write a density with a fixed number of places, rounded from the stored figure.

    >>> format_density(Decimal("0.9183796"), places=WORKING_PLACES)
    '0.91838'
    """
    text = _text(rounded(stored(value), places), decimal_mark)
    return _with_unit(text, DENSITY_UNIT if unit else "")


def format_result(value, expanded_uncertainty, *, unit=True, decimal_mark="."):
    """Write a reported density with its expanded uncertainty in the same places.

    >>> format_result(Decimal("0.9183796"), 0.00016, unit=False).replace(NO_BREAK_SPACE, " ")
    '0.9184 ± 0.0002'
    """
    density = _text(reported(value), decimal_mark)
    uncertainty = _text(reported_uncertainty(expanded_uncertainty), decimal_mark)
    text = f"{density}{NO_BREAK_SPACE}±{NO_BREAK_SPACE}{uncertainty}"
    return _with_unit(text, DENSITY_UNIT if unit else "")


def format_misfit(value, *, places=WORKING_PLACES, unit="", decimal_mark="."):
    """Write a misfit or bias with its sign always; nothing at these places has no sign.

    >>> format_misfit(0.000041), format_misfit(-2e-5), format_misfit(-1e-9)
    ('+0.00004', '−0.00002', '0.00000')
    """
    figure = rounded(value, places)
    sign = "+" if figure > 0 else ""
    return _with_unit(sign + _text(figure, decimal_mark), unit)


def format_height(value, division_mm, *, unit=False, decimal_mark="."):
    """Write a height with the places of its scale; digits that were typed are never dropped.

    >>> format_height(Decimal("466.5"), Decimal("0.5")), format_height(Decimal("466"), Decimal("1"))
    ('466.5', '466')
    """
    places = max(_places(division_mm), _places(value))
    return _with_unit(_text(rounded(value, places), decimal_mark), "mm" if unit else "")


def format_temperature(value, *, unit=False, decimal_mark="."):
    """Write a temperature in two places.

    >>> format_temperature(Decimal("23.015"))
    '23.02'
    """
    text = _text(rounded(value, TEMPERATURE_PLACES), decimal_mark)
    return _with_unit(text, "°C" if unit else "")


def format_sensitivity(value, *, unit=False, decimal_mark="."):
    """Write a column's sensitivity in six places.

    >>> format_sensitivity(6.3878e-05)
    '0.000064'
    """
    return _with_unit(_text(rounded(value, 6), decimal_mark), "g/cm³ per mm" if unit else "")


def _decimal(units, places):
    digits = tuple(int(digit) for digit in str(abs(units)))
    return Decimal((1 if units < 0 else 0, digits, -places))


def _places(value):
    """Decimal places that a typed decimal needs: 466.50 needs one, 500 none."""
    exponent = value.normalize().as_tuple().exponent
    return max(0, -exponent)


def _text(figure, decimal_mark):
    return written(figure).replace("-", MINUS).replace(".", decimal_mark)


def _with_unit(text, unit):
    return f"{text}{NO_BREAK_SPACE}{unit}" if unit else text
