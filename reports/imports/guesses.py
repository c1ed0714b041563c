"""Each guess about a file has a name, a value, a sentence, and what else could be chosen."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from labsite.errors import RuleViolation
from reports.imports.cells import TEXT, Cell
from reports.imports.values import COMMA, DAY_FIRST, MONTH_FIRST, POINT, YEAR_FIRST, order_hint

ENCODING, DELIMITER, SHEET, DECIMAL_MARK, DATE_ORDER, TIME_ZONE = (
    "encoding",
    "delimiter",
    "sheet",
    "decimal_mark",
    "date_order",
    "time_zone",
)
CHOICES = (ENCODING, DELIMITER, SHEET, DECIMAL_MARK, DATE_ORDER, TIME_ZONE)


@dataclass(frozen=True)
class Guess:
    """`value` may be sent back as a choice; a question has no value before it is answered.

    `text` says in words what was guessed (or asks), `why` what speaks for it.
    """

    name: str
    value: str
    text: str
    why: str = ""
    options: tuple[tuple[str, str], ...] = ()
    is_question: bool = False


def require_option(name: str, value: str, allowed: Iterable[str]) -> str:
    allowed = list(allowed)
    if value not in allowed:
        raise RuleViolation(
            "choice_unknown",
            _("“%(value)s” is no choice for %(name)s.") % {"value": value[:60], "name": name},
            fields={name: [_("one of: %(names)s") % {"names": ", ".join(map(repr, allowed))}]},
        )
    return value


def guess_decimal_mark(cells: list[Cell], delimiter: str, chosen: str | None) -> Guess:
    """From the cells of number columns; a comma only where it does not divide the columns."""
    options = {POINT: _("point, 412.5"), COMMA: _("comma, 412,5")}
    if delimiter == COMMA:
        del options[COMMA]
    if chosen is not None:
        require_option(DECIMAL_MARK, chosen, options)
        return _decimal_guess(chosen, _("as chosen"), options)
    texts = [cell.text for cell in cells if cell.kind == TEXT]
    commas, points = (sum(mark in text for text in texts) for mark in (COMMA, POINT))
    if delimiter == COMMA:
        return _decimal_guess(POINT, _("commas divide the columns here"), options)
    if commas and points:
        return Guess(
            DECIMAL_MARK,
            "",
            _("Numbers with a comma (%(commas)s) and with a point (%(points)s) occur. Which is it?")
            % {"commas": commas, "points": points},
            options=tuple(options.items()),
            is_question=True,
        )
    if commas:
        return _decimal_guess(COMMA, _("found in %(count)s cells") % {"count": commas}, options)
    why = _("found in %(count)s cells") % {"count": points} if points else _("no decimals occur")
    return _decimal_guess(POINT, why, options)


def _decimal_guess(mark: str, why: str, options: dict[str, str]) -> Guess:
    return Guess(DECIMAL_MARK, mark, options[mark], why, tuple(options.items()))


def guess_date_order(cells: list[Cell], chosen: str | None) -> Guess:
    """Day or month first; asked for when no cell of the file decides it."""
    options = {DAY_FIRST: _("day first: 6/10 is 6 Oct")}
    options[MONTH_FIRST] = _("month first: 6/10 is 10 Jun")
    hints = [hint for hint in map(order_hint, cells) if hint is not None]
    if not hints:
        only = {YEAR_FIRST: _("no day is written in numbers with the year last")}
        if chosen is not None and chosen not in options:
            require_option(DATE_ORDER, chosen, only)
        return _date_guess(YEAR_FIRST, "", only)
    if chosen is not None:
        require_option(DATE_ORDER, chosen, options)
        return _date_guess(chosen, _("as chosen"), options)
    found = {hint for hint in hints if hint in options}
    if len(found) == 1:
        return _date_guess(found.pop(), _("some days above 12 leave no doubt"), options)
    if not found and set(hints) == {"dots"}:
        return _date_guess(DAY_FIRST, _("as usual with points between the numbers"), options)
    why = _("Some days read both ways") if not found else _("Days of both orders occur")
    text = _("%(why)s. Does the day or the month come first?") % {"why": why}
    return Guess(DATE_ORDER, "", text, options=tuple(options.items()), is_question=True)


def _date_guess(order: str, why: str, options: dict[str, str]) -> Guess:
    shown = tuple(options.items()) if len(options) > 1 else ()
    return Guess(DATE_ORDER, order, options[order], why, shown)


def zone_guess(chosen: str | None, lab_zone: str, offsets: Iterable[str] = ()) -> Guess:
    name = chosen or lab_zone
    try:
        ZoneInfo(name)
    except (ValueError, KeyError, OSError) as error:
        raise RuleViolation(
            "choice_unknown",
            _("There is no time zone “%(name)s”. Write it like Europe/London.")
            % {"name": name[:60]},
            fields={TIME_ZONE: [_("unknown")]},
        ) from error
    told = ", ".join(dict.fromkeys(offsets))
    text = _("times without an offset are those of %(zone)s") % {"zone": name}
    why = _("in this file that is UTC %(offsets)s") % {"offsets": told} if told else ""
    names = dict.fromkeys((name, lab_zone, "UTC"))
    return Guess(TIME_ZONE, name, text, why, tuple((zone, zone) for zone in names))
