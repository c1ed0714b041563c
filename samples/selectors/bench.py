"""The bench: every column as it stands, drawn from one answer; and one column's overview.

The number of queries does not depend on the number of columns. What is masked for a person is
masked here already: the page draws what it is given.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import lru_cache
from typing import Any
from uuid import UUID

from django.db.models import F, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.utils.formats import date_format
from django.utils.timezone import get_default_timezone, localdate, make_aware
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from columns import findings
from columns.models import Bath, BathTemperature, Calibration, Column, ColumnFlag, Fill
from columns.selectors.calibrations import present_calibrations, rebuilt
from columns.selectors.fills import EMPTY, WORDS, Standing, age_days, standings
from columns.selectors.flags import flag_text, open_flags
from labsite.quantities import TEMPERATURE_PLACES, rounded
from samples.selectors.occupants import Contents, contents_of, on_scale, plain, told_at, tray_order

# Our rule: a temperature older than this says nothing about the bath now.
TEMPERATURE_SAYS_NOTHING_AFTER = timedelta(hours=24)
# Our rule: a lapsing certificate is announced this many days ahead.
LAPSE_NOTICE_DAYS = 30
# Where the end of a hold-off is not known here, the page asks again after this.
LOOK_AGAIN_AFTER = timedelta(minutes=1)
LEVEL_OF_FINDING = {"float_misfit": "look"}


@dataclass(frozen=True)
class _Known:
    """All that one answer needs, by the fill's or the column's id."""

    at: datetime
    fills: dict[UUID, Fill]
    standings: dict[UUID, Standing]
    last_sets: dict[UUID, Calibration]
    contents: dict[UUID, Contents]
    flags: dict[UUID, list[ColumnFlag]]


def bench(person: Any, at: datetime) -> dict[str, Any]:
    """All baths with their columns, what is ready to be read, and until when this holds."""
    columns = list(_columns())
    known = _gather(columns, person, at)
    overviews = {column.pk: _overview(column, known) for column in columns}
    baths = [
        {
            **_bath(bath, at),
            "columns": [overviews[c.pk] for c in columns if c.bath_id == bath.pk],
        }
        for bath in _baths({column.bath_id for column in columns}, at)
    ]
    tray = _whole_tray(overviews.values())
    return {
        "server_time": told_at(at),
        "valid_until_at": told_at(_valid_until(known, overviews.values())),
        "headline": _headline(list(overviews.values())),
        "baths": baths,
        "ready_count": sum(item["state"] == "ready" for item in tray),
        "falling_count": sum(item["state"] == "falling" for item in tray),
        "next": tray[0] if tray else None,
    }


def column_overview(column: Column, person: Any, at: datetime) -> dict[str, Any]:
    """One column as on the bench, with its bath's temperature and until when this holds."""
    known = _gather([column], person, at)
    overview = _overview(column, known)
    bath = next(iter(_baths({column.bath_id}, at)))
    return {
        "server_time": told_at(at),
        "valid_until_at": told_at(_valid_until(known, [overview])),
        **overview,
        "bath": _bath(bath, at),
    }


def _columns() -> QuerySet[Column]:
    return Column.objects.filter(retired_at__isnull=True).select_related("bath")


def _gather(columns: list[Column], person: Any, at: datetime) -> _Known:
    fills = _fills(columns)
    live = [fill for fill in fills.values() if fill.state in Fill.LIVE]
    flags: dict[UUID, list[ColumnFlag]] = {}
    for flag in open_flags().filter(column__in=columns):
        flags.setdefault(flag.column_id, []).append(flag)
    return _Known(
        at=at,
        fills=fills,
        standings=standings(fills.values(), at) if fills else {},
        last_sets=_last_sets(live),
        contents=contents_of(live, person, at),
        flags=flags,
    )


def _fills(columns: list[Column]) -> dict[UUID, Fill]:
    """The live fill of each column, or else the planned one, by the column's id."""
    found = (
        Fill.objects.filter(column__in=columns, state__in=(*Fill.LIVE, Fill.State.PLANNED))
        .select_related("pair", "column__bath")
        .order_by("created_at")
    )
    chosen: dict[UUID, Fill] = {}
    for fill in found:
        present = chosen.get(fill.column_id)
        if present is None or present.state == Fill.State.PLANNED:
            chosen[fill.column_id] = fill
    return chosen


def _last_sets(fills: list[Fill]) -> dict[UUID, Calibration]:
    """The calibration of each fill's last float set, passing or not, by the fill's id."""
    newest = (
        present_calibrations()
        .filter(float_set__fill=OuterRef("pk"))
        .order_by("-float_set__read_at", "-created_at")
        .values("pk")[:1]
    )
    ids = (
        Fill.objects.filter(pk__in=[fill.pk for fill in fills])
        .order_by()
        .values_list(Subquery(newest))
    )
    chosen = present_calibrations().filter(pk__in=ids)
    return {each.float_set.fill_id: each for each in chosen}


def _overview(column: Column, known: _Known) -> dict[str, Any]:
    fill = known.fills.get(column.pk)
    standing = known.standings.get(fill.pk) if fill else None
    last = known.last_sets.get(fill.pk) if fill else None
    contents = known.contents.get(fill.pk) if fill else None
    in_force = standing.calibration if standing else None
    return {
        "id": str(column.pk),
        "name": column.name,
        "bath": {"id": str(column.bath_id), "name": column.bath.name},
        "scale": drawn_scale(column),
        "state": standing.state if standing else EMPTY,
        "state_word": standing.word if standing else str(WORDS[EMPTY]),
        "state_note": standing.note if standing else "",
        "fill": _fill(fill, known.at) if fill else None,
        "calibration": _calibration(in_force, column, standing) if in_force else None,
        "floats": drawn_floats(in_force or last, column),
        "occupants": contents.occupants if contents else [],
        "tray": contents.tray if contents else [],
        "flags": _flags(standing, in_force or last, known.flags.get(column.pk, []), known.at),
    }


def drawn_scale(column: Column) -> dict[str, str]:
    return {
        "origin": column.scale_origin,
        "length_mm": plain(column.scale_length_mm),
        "division_mm": plain(column.scale_division_mm),
        "readable_low_mm": plain(column.readable_low_mm),
        "readable_high_mm": plain(column.readable_high_mm),
        "bore_mm": plain(column.bore_mm),
    }


def _fill(fill: Fill, at: datetime) -> dict[str, Any]:
    return {
        "id": str(fill.pk),
        "state": fill.state,
        "poured_at": told_at(fill.poured_at) if fill.poured_at else None,
        "opened_at": told_at(fill.opened_at) if fill.opened_at else None,
        "age_days": age_days(fill, at),
        "pair": fill.pair.name,
    }


def _calibration(calibration: Calibration, column: Column, standing: Standing) -> dict[str, Any]:
    float_set = calibration.float_set
    return {
        "id": str(calibration.pk),
        "float_set": str(float_set.pk),
        "read_at": told_at(float_set.read_at),
        "read_by": str(float_set.read_by),
        "valid_until_at": told_at(standing.valid_until_at),
        "correlation": str(calibration.correlation),
        "sensitivity_g_cm3_per_mm": str(calibration.sensitivity_g_cm3_per_mm),
        "largest_misfit": _largest_misfit(calibration),
        "profile": drawn_profile(calibration.inputs, column),
    }


def _largest_misfit(calibration: Calibration) -> dict[str, Any] | None:
    with_curve = [f for f in calibration.result_facts["floats"] if f["residual_mm"] is not None]
    if not with_curve:
        return None
    worst = max(with_curve, key=lambda each: abs(float(each["residual_g_cm3"])))
    return {
        "float": worst["label"],
        "mm": round(float(worst["residual_mm"]), 2),
        "g_cm3": round(float(worst["residual_g_cm3"]), 7),
    }


def drawn_profile(inputs: str, column: Column) -> list[dict[str, float]]:
    return [
        {"above_bottom_mm": _above(height, column), "density_g_cm3": density}
        for height, density in _profile_points(inputs)
    ]


@lru_cache(maxsize=64)
def _profile_points(inputs: str) -> tuple[tuple[float, float], ...]:
    """Scale height and density along the calibrated part; the inputs' text is the key."""
    return tuple(
        (point.height_mm, round(point.density_g_cm3, 7)) for point in rebuilt(inputs).profile()
    )


def _above(height_mm: float, column: Column) -> float:
    return float(column.above_bottom_mm(Decimal(repr(round(height_mm, 3)))))


def drawn_floats(calibration: Calibration | None, column: Column) -> list[dict[str, Any]]:
    """The floats of the last set where they were read, with their misfit to the curve."""
    if calibration is None:
        return []
    misfits = {each["label"]: each["residual_mm"] for each in calibration.result_facts["floats"]}
    return [
        {
            "id": item["float"],
            "label": item["label"],
            "density_g_cm3": item["density_g_cm3"],
            "height_mm": on_scale(Decimal(item["height_mm"]), column),
            "above_bottom_mm": float(column.above_bottom_mm(Decimal(item["height_mm"]))),
            "residual_mm": _rounded(misfits.get(item["label"])),
        }
        for item in calibration.input_facts["floats"]
    ]


def _rounded(figure: str | None) -> float | None:
    return None if figure is None else round(float(figure), 2)


def _flags(
    standing: Standing | None,
    calibration: Calibration | None,
    raised: list[ColumnFlag],
    at: datetime,
) -> list[dict[str, str]]:
    """Why it is not open, what lapses soon, what was noticed."""
    found = [
        {"level": "stop", "code": finding.code, "text": finding.message}
        for finding in (standing.findings if standing else ())
        if standing.state in ("closed", "on_hold")
    ]
    if calibration is not None:
        found += _lapsing(calibration, localdate(at))
        found += [
            {
                "level": LEVEL_OF_FINDING.get(each["code"], "know"),
                "code": each["code"],
                "text": findings.sentence(each),
            }
            for each in calibration.result_facts["findings"]
            if not findings.is_blocking(each["code"])
        ]
    found += [{"level": "look", "code": each.kind, "text": flag_text(each)} for each in raised]
    return found


def _lapsing(calibration: Calibration, today: date) -> Iterable[dict[str, str]]:
    last_day = today + timedelta(days=LAPSE_NOTICE_DAYS)
    for item in calibration.input_facts["floats"]:
        until = date.fromisoformat(item["valid_until"])
        if until <= last_day:
            yield {
                "level": "look",
                "code": "certificate_lapsing",
                "text": _("The certificate of %(float)s is valid until %(day)s.")
                % {"float": item["label"], "day": date_format(until, "j M Y")},
            }


def _baths(ids: set[UUID], at: datetime) -> QuerySet[Bath]:
    """Baths with their last temperature and since when it is in or out of tolerance."""
    log = BathTemperature.objects.filter(
        bath=OuterRef("pk"), replaced_at__isnull=True, measured_at__lte=at
    ).order_by("-measured_at")
    other = log.exclude(is_in_tolerance=OuterRef("in_tolerance"))
    since = log.filter(
        is_in_tolerance=OuterRef("in_tolerance"),
        measured_at__gt=Coalesce(OuterRef("other_at"), _EARLIEST),
    ).order_by("measured_at")
    return (
        Bath.objects.filter(pk__in=ids)
        .annotate(
            temperature_c=Subquery(log.values("temperature_c")[:1]),
            measured_at=Subquery(log.values("measured_at")[:1]),
            in_tolerance=Subquery(log.values("is_in_tolerance")[:1]),
        )
        .annotate(other_at=Subquery(other.values("measured_at")[:1]))
        .annotate(since_at=Subquery(since.values("measured_at")[:1]))
        .order_by(F("name"))
    )


_EARLIEST = datetime(1970, 1, 1, tzinfo=get_default_timezone())


def _bath(bath: Any, at: datetime) -> dict[str, Any]:
    return {
        "id": str(bath.pk),
        "name": bath.name,
        "setpoint_c": plain(bath.setpoint_c),
        "tolerance_c": plain(bath.tolerance_c),
        "temperature": _temperature(bath, at),
    }


def _temperature(bath: Any, at: datetime) -> dict[str, Any] | None:
    if bath.measured_at is None:
        return None
    is_old = at - bath.measured_at > TEMPERATURE_SAYS_NOTHING_AFTER
    band = "unknown" if is_old else ("in" if bath.in_tolerance else "out")
    return {
        "temperature_c": str(rounded(bath.temperature_c, TEMPERATURE_PLACES)),
        "at": told_at(bath.measured_at),
        "band": band,
        "since_at": told_at(bath.measured_at if is_old else bath.since_at),
    }


def _whole_tray(overviews: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    items = [
        {**item, "column": {"id": overview["id"], "name": overview["name"]}}
        for overview in overviews
        for item in overview["tray"]
    ]
    return sorted(items, key=tray_order)


def _headline(overviews: list[dict[str, Any]]) -> str:
    usable = sum(overview["state"] == "open" for overview in overviews)
    return ngettext(
        "%(usable)s of %(all)s column can be used",
        "%(usable)s of %(all)s columns can be used",
        len(overviews),
    ) % {"usable": usable, "all": len(overviews)}


def _valid_until(known: _Known, overviews: Iterable[dict[str, Any]]) -> datetime:
    """The earliest instant at which something shown changes by itself."""
    tomorrow = localdate(known.at) + timedelta(days=1)
    ends = [make_aware(datetime.combine(tomorrow, time()), get_default_timezone())]
    for standing in known.standings.values():
        if standing.valid_until_at is not None:
            ends.append(standing.valid_until_at)
        if any(finding.code == "pass_hold_off" for finding in standing.findings):
            ends.append(known.at + LOOK_AGAIN_AFTER)
    for overview in overviews:
        for item in overview["tray"]:
            if item["state"] == "falling":
                ends.append(datetime.fromisoformat(item["ready_at"]))
    return min(end for end in ends if end > known.at)
