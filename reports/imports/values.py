"""What a cell says: a decimal, a day, an instant, a text. Anything doubtful is refused."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from labsite.quantities import parse_decimal
from reports.imports.cells import BROKEN, DATE, FORMULA, NUMBER, TEXT, TIME, TRUTH, Cell

POINT, COMMA = ".", ","
DAY_FIRST, MONTH_FIRST, YEAR_FIRST = "dmy", "mdy", "ymd"

# control characters, halves of characters, line and paragraph separators
_NOT_IN_A_LINE = ("Cc", "Cs", "Zl", "Zp")
_MONTHS = (
    ("jan", "january"),
    ("feb", "february"),
    ("mar", "march"),
    ("apr", "april"),
    ("may", "may"),
    ("jun", "june"),
    ("jul", "july"),
    ("aug", "august"),
    ("sep", "sept", "september"),
    ("oct", "october"),
    ("nov", "november"),
    ("dec", "december"),
)
_YEAR_FIRST = re.compile(r"(?P<y>\d{4})([-./])(?P<m>\d{1,2})\2(?P<d>\d{1,2})", re.ASCII)
_NUMBERS = re.compile(r"(?P<a>\d{1,2})([-./])(?P<b>\d{1,2})\2(?P<y>\d{4})", re.ASCII)
_NAMED = re.compile(r"(?P<d>\d{1,2})[. -]+(?P<name>[A-Za-z]{3,9})[. -]+(?P<y>\d{4})", re.ASCII)
_SHORT_YEAR = re.compile(r"\d{1,2}([-./])\d{1,2}\1\d{2}", re.ASCII)
_CLOCK = re.compile(
    r"(?:,?\s+|T)(?P<hour>\d{1,2})[:.](?P<minute>\d{2})(?:[:.](?P<second>\d{2}))?"
    r"(?:\s*(?P<half>[AaPp])\.?[Mm]\.?)?(?:\s*(?P<offset>Z|[+-]\d{2}:?\d{2}))?",
    re.ASCII,
)


class Unreadable(ValueError):
    """A cell that does not say what its column asks for; the message tells what was expected."""


@dataclass(frozen=True)
class Marks:
    """How numbers, days and clock times of one file are to be read."""

    zone: ZoneInfo
    decimal_mark: str = POINT
    date_order: str = YEAR_FIRST


def read_text(cell: Cell, longest: int) -> str:
    _refuse_unusable(cell)
    if cell.kind in (DATE, TIME):
        raise Unreadable(
            _("text; the spreadsheet turned this cell into a date, so what was typed is lost")
        )
    if any(unicodedata.category(char) in _NOT_IN_A_LINE for char in cell.text):
        raise Unreadable(_("text in one line, without control characters"))
    if len(cell.text) > longest:
        raise Unreadable(_("at most %(count)s characters") % {"count": longest})
    return cell.text


def read_decimal(cell: Cell, marks: Marks) -> Decimal:
    _refuse_unusable(cell)
    if cell.kind in (DATE, TIME):
        raise Unreadable(_("a number; the spreadsheet turned this cell into a date"))
    if cell.kind == TEXT and other_mark(marks.decimal_mark) in cell.text:
        raise Unreadable(
            _("a number with “%(mark)s” as decimal mark, as chosen for this file")
            % {"mark": marks.decimal_mark}
        )
    try:
        return parse_decimal(cell.text)
    except ValueError as error:
        raise Unreadable(
            _("one plain number without a unit or thousands mark, for example %(example)s")
            % {"example": "412.5".replace(POINT, marks.decimal_mark)}
        ) from error


def other_mark(mark: str) -> str:
    return COMMA if mark == POINT else POINT


def read_day(cell: Cell, marks: Marks) -> date:
    day, rest = _day_and_rest(cell, marks)
    if rest and not re.fullmatch(r"[ T]00:00(:00)?", rest):
        raise Unreadable(_("a day without a time, for example 2026-10-06"))
    return day


def read_instant(cell: Cell, marks: Marks) -> datetime:
    """The instant in UTC; without an offset the clock time is local in `marks.zone`."""
    day, rest = _day_and_rest(cell, marks)
    if not rest and cell.kind == DATE:
        rest = " 00:00"  # a sheet shows midnight as a bare day
    clock = _CLOCK.fullmatch(rest)
    if clock is None:
        raise Unreadable(_("a day and a clock time, for example 2026-10-06 10:04"))
    try:
        local = datetime(day.year, day.month, day.day, _hour(clock), int(clock["minute"]))
        local = local.replace(second=int(clock["second"] or 0))
    except ValueError as error:
        raise Unreadable(_("a clock time from 00:00 to 23:59")) from error
    if clock["offset"]:
        return local.replace(tzinfo=_offset(clock["offset"])).astimezone(UTC)
    return in_zone(local, marks.zone)


def in_zone(local: datetime, zone: ZoneInfo) -> datetime:
    """A local clock time as instant; one that happened twice, or never, is refused."""
    first, second = (local.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if first.utcoffset() == second.utcoffset():
        return first.astimezone(UTC)
    if first.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != local:
        raise Unreadable(_("a time that exists; the clocks were put forward over this one"))
    raise Unreadable(
        _("this time with its offset, because it came twice that night: %(first)s or %(second)s")
        % {
            "first": first.isoformat(" ", "minutes"),
            "second": second.isoformat(" ", "minutes"),
        }
    )


def _hour(clock: re.Match[str]) -> int:
    hour = int(clock["hour"])
    if not clock["half"]:
        return hour
    if not 1 <= hour <= 12:
        raise ValueError("no hour of a twelve-hour clock")
    return hour % 12 + (12 if clock["half"] in "Pp" else 0)


def _offset(text: str) -> timezone:
    if text == "Z":
        return UTC
    hours, minutes = int(text[1:3]), int(text[-2:])
    if hours > 14 or minutes > 59:
        raise Unreadable(_("an offset from UTC such as +01:00"))
    away = timedelta(hours=hours, minutes=minutes)
    return timezone(-away if text[0] == "-" else away)


def _day_and_rest(cell: Cell, marks: Marks) -> tuple[date, str]:
    _refuse_unusable(cell)
    if cell.kind in (NUMBER, TIME):
        raise Unreadable(_("a day as text or as date of the spreadsheet, for example 2026-10-06"))
    if match := _YEAR_FIRST.match(cell.text):
        year, month, day = match["y"], match["m"], match["d"]
    elif match := _NUMBERS.match(cell.text):
        year = match["y"]
        first_is_day = marks.date_order != MONTH_FIRST
        day, month = (match["a"], match["b"]) if first_is_day else (match["b"], match["a"])
    elif match := _NAMED.match(cell.text):
        year, month, day = match["y"], _month_number(match["name"]), match["d"]
    elif _SHORT_YEAR.match(cell.text):
        raise Unreadable(_("a day with the four digits of its year, for example 2026-10-06"))
    else:
        raise Unreadable(_("a day such as 2026-10-06, 6.10.2026 or 6 Oct 2026"))
    try:
        return date(int(year), int(month), int(day)), cell.text[match.end() :]
    except ValueError as error:
        raise Unreadable(_("a day that exists")) from error


def _month_number(name: str) -> int:
    for number, names in enumerate(_MONTHS, start=1):
        if name.lower() in names:
            return number
    return 0  # no such day, as the caller will find


def order_hint(cell: Cell) -> str | None:
    """Which order this cell proves: "dmy", "mdy", "dots", "either"; None when it says nothing."""
    match = _NUMBERS.match(cell.text) if cell.kind == TEXT else None
    if match is None:
        return None
    first, second = int(match["a"]), int(match["b"])
    if first > 12:
        return DAY_FIRST
    if second > 12:
        return MONTH_FIRST
    if match[2] == ".":
        return "dots"
    return "either" if first != second else None


def _refuse_unusable(cell: Cell) -> None:
    if cell.kind == FORMULA:
        raise Unreadable(
            _("a value; this cell holds a formula, which is not calculated here (paste as values)")
        )
    if cell.kind == BROKEN:
        raise Unreadable(_("a value; the spreadsheet shows an error here"))
    if cell.kind == TRUTH:
        raise Unreadable(_("a value; the spreadsheet turned this cell into true or false"))
