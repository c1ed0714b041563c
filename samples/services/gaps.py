"""The tapped gap: an independent check of the height that is typed after it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from columns.models import CalibrationFloat, Fill
from columns.selectors.calibrations import CalibrationState
from labsite.errors import RuleViolation

MM_PER_CM = 10


@dataclass(frozen=True)
class _Float:
    label: str
    height_mm: Decimal
    above_mm: Decimal


def check_gap(
    fill: Fill,
    state: CalibrationState,
    height_mm: Decimal | None,
    upper: CalibrationFloat | None,
    lower: CalibrationFloat | None,
) -> None:
    """Raise RuleViolation when the height does not lie in the tapped gap, ends included.

    No upper float is the stretch above the uppermost, no lower one that below the lowest. Without
    a passing float set the floats' heights are not known and nothing is checked.
    """
    if height_mm is None or (upper is None and lower is None) or state.latest is None:
        return
    column = fill.column
    floats = {
        item["float"]: _Float(
            item["label"],
            Decimal(item["height_mm"]),
            column.above_bottom_mm(Decimal(item["height_mm"])),
        )
        for item in state.latest.input_facts["floats"]
    }
    low, high = _known(floats, lower), _known(floats, upper)
    if low and high and low.above_mm >= high.above_mm:
        raise RuleViolation(
            "gap_reversed",
            _("%(upper)s does not lie above %(lower)s. Tap the gap again.")
            % {"upper": high.label, "lower": low.label},
            fields={"gap_upper_float": [_("below the lower float")]},
        )
    if not _inside(column.above_bottom_mm(height_mm), low, high):
        _refuse(column, height_mm, low, high, list(floats.values()))


def _known(floats: dict[str, _Float], tapped: CalibrationFloat | None) -> _Float | None:
    if tapped is None:
        return None
    if str(tapped.pk) not in floats:
        raise RuleViolation(
            "gap_not_known",
            _("%(label)s was not in the last float set of this column. Tap the gap again.")
            % {"label": tapped.label},
            fields={"gap_upper_float": [_("not in this column")]},
        )
    return floats[str(tapped.pk)]


def _inside(above: Decimal, low: _Float | None, high: _Float | None) -> bool:
    return (low is None or above >= low.above_mm) and (high is None or above <= high.above_mm)


def _refuse(
    column: Any, height: Decimal, low: _Float | None, high: _Float | None, floats: list[_Float]
) -> None:
    """Show both: the gap that was tapped and the one of the typed number."""
    meant = height * MM_PER_CM
    in_cm = meant <= column.scale_length_mm and _inside(column.above_bottom_mm(meant), low, high)
    above = column.above_bottom_mm(height)
    below_it = [each for each in floats if each.above_mm <= above]
    above_it = [each for each in floats if each.above_mm > above]
    typed_low = max(below_it, key=lambda each: each.above_mm, default=None)
    typed_high = min(above_it, key=lambda each: each.above_mm, default=None)
    words = _("%(height)s mm lies %(typed)s, but you tapped %(tapped)s. Which is right?")
    question = _("Did you mean %(meant)s mm?") if in_cm else ""
    facts = {
        "height": _plain(height),
        "typed": _between(typed_low, typed_high),
        "tapped": _between(low, high),
        "meant": _plain(meant),
    }
    raise RuleViolation(
        "outside_tapped_gap",
        " ".join(part % facts for part in (words, question) if part),
        fields={"height_mm": [_("not in the tapped gap")]},
        typed=_shown(typed_low, typed_high) | {"height_mm": str(height)},
        tapped=_shown(low, high),
        suggestion=_plain(meant) if in_cm else None,
    )


def _between(low: _Float | None, high: _Float | None) -> str:
    if low and high:
        return _("between %(upper)s (%(upper_mm)s mm) and %(lower)s (%(lower_mm)s mm)") % {
            "upper": high.label,
            "upper_mm": _plain(high.height_mm),
            "lower": low.label,
            "lower_mm": _plain(low.height_mm),
        }
    if low:
        return _("above %(label)s (%(mm)s mm)") % {
            "label": low.label,
            "mm": _plain(low.height_mm),
        }
    if high:
        return _("below %(label)s (%(mm)s mm)") % {
            "label": high.label,
            "mm": _plain(high.height_mm),
        }
    return _("anywhere")


def _shown(low: _Float | None, high: _Float | None) -> dict[str, Any]:
    return {
        "upper_float": high.label if high else None,
        "upper_mm": _plain(high.height_mm) if high else None,
        "lower_float": low.label if low else None,
        "lower_mm": _plain(low.height_mm) if low else None,
    }


def _plain(value: Decimal) -> str:
    return f"{value.normalize():f}"
