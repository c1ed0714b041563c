"""Numbers as people read them: the reader's decimal mark, true minus, no-break unit.

Nothing is rounded here; the server's services did that, in one place.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import template
from django.utils.formats import get_format
from django.utils.translation import gettext as _

register = template.Library()

NO_BREAK = "\u00a0"
MINUS = "\u2212"
NONE_YET = "–"


def plain(value: Any) -> str:
    """Digits of a decimal, an integer or its text, with no exponent and no grouping."""
    number = value if isinstance(value, Decimal) else Decimal(str(value))
    return format(number, "f")


@register.filter
def decimal(value: Any) -> str:
    """466.5 → 466,5 where the language writes a comma; nothing known → –."""
    if value is None or value == "":
        return NONE_YET
    return plain(value).replace("-", MINUS).replace(".", get_format("DECIMAL_SEPARATOR"))


@register.filter
def signed(value: Any) -> str:
    """Misfit or bias: its sign is always written."""
    if value is None or value == "":
        return NONE_YET
    sign = "" if Decimal(str(value)) <= 0 else "+"
    return sign + decimal(value)


@register.filter
def unit(value: Any, name: str) -> str:
    """{{ height|unit:"mm" }}: the number and its unit, not to be parted at a line's end."""
    text = decimal(value)
    return text if text == NONE_YET else f"{text}{NO_BREAK}{name}"


@register.filter
def height(value: Any) -> str:
    return unit(value, _("mm"))


@register.filter
def density(value: Any) -> str:
    return unit(value, _("g/cm³"))


@register.filter
def temperature(value: Any) -> str:
    return unit(value, _("°C"))
