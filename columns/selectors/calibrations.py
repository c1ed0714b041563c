"""The calibration in force: which one counts for a reading, until when, or why there is none.

docs/calibration-in-force.md tells the rule. A calibration starts with a float set that passes and
ends at the first of the events below. What was decided when the set was saved (rules,
certificates, tolerance) is stored with it, so that a question about the past has one answer.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from decimal import Decimal
from functools import lru_cache
from typing import Any
from uuid import UUID

from django.db.models import CharField, DateTimeField, F, OuterRef, Q, QuerySet, Subquery, Value
from django.utils.timezone import get_default_timezone, make_aware
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from columns import findings, physics
from columns.instants import told
from columns.models import (
    BasketPass,
    BathTemperature,
    Calibration,
    Fill,
    FloatPlacement,
    FloatQuarantine,
    FloatSet,
    Hold,
)
from labsite.records import canonical_json

PASS, HOLD, EXCURSION, NEXT_SET = "basket_pass", "hold_placed", "excursion", "next_set"
ON_HOLD = "on_hold"
REMOVAL, QUARANTINE, DRAIN = "float_removed", "float_quarantined", "drained"
LAPSE, AGE = "certificate_lapsed", "too_old"
NO_FILL = "no_fill"
NO_SET, NOT_PASSING = "no_float_set", "float_set_not_passing"

SENTENCES = {
    PASS: gettext_lazy("The basket pass of %(at)s ended the calibration. Read the floats again."),
    HOLD: gettext_lazy("The fill was put on hold at %(at)s. Read the floats after it is lifted."),
    EXCURSION: gettext_lazy(
        "The bath left its tolerance at %(at)s, which ended the calibration. Read the floats again."
    ),
    NEXT_SET: gettext_lazy("A newer float set of %(at)s replaced this calibration."),
    REMOVAL: gettext_lazy("A float of the set was taken out at %(at)s. Read the floats again."),
    QUARANTINE: gettext_lazy(
        "A float of the set is in quarantine from %(at)s on. Read the floats again."
    ),
    DRAIN: gettext_lazy("The fill was drained at %(at)s."),
    LAPSE: gettext_lazy("A certificate of the set lapsed at %(at)s."),
    AGE: gettext_lazy("The last float set grew too old at %(at)s. Read the floats again."),
}


@dataclass(frozen=True)
class Refusal:
    """Why something is not possible: a stable code and a sentence."""

    code: str
    message: str


@dataclass(frozen=True)
class CalibrationState:
    """The calibration in force of a fill at an instant, or why there is none.

    `latest` is the last set that passed, in force or not; `valid_until_at` is when it ends.
    """

    calibration: Calibration | None
    refusal: Refusal | None
    latest: Calibration | None = None
    valid_until_at: datetime | None = None


@dataclass(frozen=True)
class _Event:
    """Something that may end a calibration; `until_at` is when a hold or quarantine was lifted."""

    key: UUID
    at: datetime
    until_at: datetime | None
    code: str


def calibration_in_force(fill: Fill, at: datetime) -> Calibration | None:
    """The calibration that counts for a reading made in `fill` at `at`."""
    return calibration_state(fill, at).calibration


def why_no_calibration(fill: Fill, at: datetime) -> Refusal | None:
    """Why a reading made in `fill` at `at` gives no density; None when it does."""
    return calibration_state(fill, at).refusal


def calibration_state(fill: Fill, at: datetime) -> CalibrationState:
    return calibration_states([fill], at)[fill.pk]


def state_without_fill() -> CalibrationState:
    """The state of a column that holds no liquid."""
    return CalibrationState(None, Refusal(NO_FILL, _("There was no liquid in the column then.")))


def calibration_states(fills: Iterable[Fill], at: datetime) -> dict[UUID, CalibrationState]:
    """The state of each fill by its id, in a fixed number of queries."""
    fills = list(fills)
    latest = _latest_passing(fills, at)
    events = _events(list(latest.values()), at)
    states = {fill.pk: _state(latest[fill.pk], events, at) for fill in fills if fill.pk in latest}
    missing = [fill for fill in fills if fill.pk not in latest]
    return states | _without_passing_set(missing, at)


def valid_until(calibration: Calibration) -> datetime:
    """When the calibration ends or ended by what is known now."""
    last = calibration.float_set.read_at + _longest([calibration])
    return _end(calibration, _events([calibration], last)).at


def present_calibrations() -> QuerySet[Calibration]:
    """Calibrations that count: not superseded, of a set that was not replaced."""
    return Calibration.objects.filter(
        superseded_at__isnull=True, float_set__replaced_at__isnull=True
    ).select_related("float_set__fill__column", "float_set__read_by")


def _latest_passing(fills: list[Fill], at: datetime) -> dict[UUID, Calibration]:
    if len(fills) == 1:  # asked with every saved reading: no query within a query
        passing = present_calibrations().filter(
            float_set__fill=fills[0], float_set__read_at__lte=at, passes=True
        )
        last = passing.order_by("-float_set__read_at", "-created_at").first()
        return {fills[0].pk: last} if last else {}
    newest = (
        Calibration.objects.filter(
            float_set__fill=OuterRef("pk"),
            float_set__read_at__lte=at,
            float_set__replaced_at__isnull=True,
            superseded_at__isnull=True,
            passes=True,
        )
        .order_by("-float_set__read_at", "-created_at")
        .values("pk")[:1]
    )
    ids = Fill.objects.filter(pk__in=[f.pk for f in fills]).annotate(newest=Subquery(newest))
    chosen = present_calibrations().filter(pk__in=ids.order_by().values("newest"))
    return {each.float_set.fill_id: each for each in chosen}


def _without_passing_set(fills: list[Fill], at: datetime) -> dict[UUID, CalibrationState]:
    if not fills:
        return {}
    found = present_calibrations().filter(float_set__fill__in=fills, float_set__read_at__lte=at)
    last: dict[UUID, Calibration] = {}
    for each in found.order_by("float_set__read_at", "created_at"):
        last[each.float_set.fill_id] = each
    return {fill.pk: CalibrationState(None, _set_refusal(last.get(fill.pk))) for fill in fills}


def _set_refusal(calibration: Calibration | None) -> Refusal:
    if calibration is None:
        return Refusal(NO_SET, _("No float set was read yet. Read the floats first."))
    why = [f for f in calibration.result_facts["findings"] if findings.is_blocking(f["code"])]
    return Refusal(
        NOT_PASSING,
        _("The float set of %(at)s does not pass. %(why)s")
        % {
            "at": told(calibration.float_set.read_at),
            "why": " ".join(findings.sentence(finding) for finding in why),
        },
    )


def _state(calibration: Calibration, events: list[_Event], at: datetime) -> CalibrationState:
    end = _end(calibration, events)
    hold = _open_hold(calibration, events, at)
    refusal = None
    if hold:
        refusal = Refusal(ON_HOLD, _("The fill is on hold since %(at)s.") % {"at": told(hold.at)})
    elif end.at <= at:
        refusal = Refusal(end.code, SENTENCES[end.code] % {"at": told(end.at)})
    return CalibrationState(None if refusal else calibration, refusal, calibration, end.at)


def _open_hold(calibration: Calibration, events: list[_Event], at: datetime) -> _Event | None:
    holds = (
        event
        for event in events
        if event.code == HOLD
        and event.key == calibration.float_set.fill_id
        and event.at <= at
        and (event.until_at is None or event.until_at > at)
    )
    return min(holds, key=lambda event: event.at, default=None)


def _end(calibration: Calibration, events: list[_Event]) -> _Event:
    """The first end of the calibration; there is always one, its age."""
    read_at = calibration.float_set.read_at
    ends = [*_own_ends(calibration)]
    for event in events:
        if event.key in _keys(calibration, event.code) and _ends(event, read_at):
            ends.append(_Event(event.key, max(event.at, read_at), None, event.code))
    return min(ends, key=lambda event: event.at)


def _keys(calibration: Calibration, code: str) -> set[UUID]:
    fill = calibration.float_set.fill
    if code == EXCURSION:
        return {fill.column.bath_id}
    if code in (REMOVAL, QUARANTINE):
        return _float_ids(calibration)
    return {fill.pk}


def _ends(event: _Event, read_at: datetime) -> bool:
    """Whether the event ends a set read at `read_at`, as far as time is concerned."""
    if event.code == QUARANTINE:
        return event.until_at is None or event.until_at > read_at
    if event.code in (NEXT_SET, EXCURSION):
        return event.at > read_at
    return event.at >= read_at


def _own_ends(calibration: Calibration) -> Iterable[_Event]:
    facts, fill_id = calibration.input_facts, calibration.float_set.fill_id
    oldest = timedelta(hours=facts["calibration_max_age_hours"])
    yield _Event(fill_id, calibration.float_set.read_at + oldest, None, AGE)
    last_day = min(item["valid_until"] for item in facts["floats"])
    yield _Event(fill_id, end_of_day(last_day), None, LAPSE)


def end_of_day(day: str) -> datetime:
    """The end of an ISO date in the lab's own time zone."""
    midnight = datetime.combine(datetime.fromisoformat(day).date() + timedelta(days=1), time())
    return make_aware(midnight, get_default_timezone())


def _float_ids(calibration: Calibration) -> set[UUID]:
    return {UUID(item["float"]) for item in calibration.input_facts["floats"]}


def _longest(calibrations: list[Calibration]) -> timedelta:
    hours = (each.input_facts["calibration_max_age_hours"] for each in calibrations)
    return timedelta(hours=max(hours))


_events_known: ContextVar[dict[Any, list[_Event]] | None] = ContextVar("events", default=None)


@contextmanager
def events_asked_once() -> Iterator[None]:
    """Ask only once what ends each calibration, for a transaction that adds many readings.

    Nothing inside may place holds, end passes, move floats or save float sets.
    """
    token = _events_known.set({})
    try:
        yield
    finally:
        _events_known.reset(token)


def _events(calibrations: list[Calibration], at: datetime) -> list[_Event]:
    """All that may end one of the calibrations, in one query."""
    if not calibrations:
        return []
    start = min(each.float_set.read_at for each in calibrations)
    last = max(each.float_set.read_at for each in calibrations)
    stop = max(at, last + _longest(calibrations))
    known = _events_known.get()
    key = (stop, *(each.pk for each in calibrations))
    if known is not None and key in known:
        return known[key]
    first, *others = _event_queries(calibrations, start, stop)
    found = [_Event(*row) for row in first.union(*others, all=True)]
    if known is not None:
        known[key] = found
    return found


def _event_queries(
    calibrations: list[Calibration], start: datetime, stop: datetime
) -> Iterable[QuerySet[Any]]:
    fills = {each.float_set.fill_id for each in calibrations}
    baths = {each.float_set.fill.column.bath_id for each in calibrations}
    floats = set().union(*(_float_ids(each) for each in calibrations))
    lasting = Q(lifted_at__isnull=True) | Q(lifted_at__gt=start)
    yield _rows(
        BasketPass.objects.filter(fill__in=fills, started_at__range=(start, stop)),
        ("fill_id", "started_at", F("ended_at")),
        PASS,
    )
    yield _rows(
        Hold.objects.filter(Q(placed_at__gte=start) | lasting, fill__in=fills, placed_at__lte=stop),
        ("fill_id", "placed_at", F("lifted_at")),
        HOLD,
    )
    yield _rows(
        BathTemperature.objects.filter(
            bath__in=baths,
            is_in_tolerance=False,
            replaced_at__isnull=True,
            measured_at__range=(start, stop),
        ),
        ("bath_id", "measured_at", _NEVER),
        EXCURSION,
    )
    yield _rows(
        FloatSet.objects.filter(
            fill__in=fills,
            read_at__range=(start, stop),
            replaced_at__isnull=True,
            calibrations__superseded_at__isnull=True,
            calibrations__passes=True,
        ),
        ("fill_id", "read_at", _NEVER),
        NEXT_SET,
    )
    yield _rows(
        FloatPlacement.objects.filter(
            fill__in=fills, calibration_float__in=floats, removed_at__range=(start, stop)
        ),
        ("calibration_float_id", "removed_at", _NEVER),
        REMOVAL,
    )
    yield _rows(
        FloatQuarantine.objects.filter(lasting, calibration_float__in=floats, from_at__lte=stop),
        ("calibration_float_id", "from_at", F("lifted_at")),
        QUARANTINE,
    )
    yield _rows(
        Fill.objects.filter(pk__in=fills, drained_at__range=(start, stop)),
        ("pk", "drained_at", _NEVER),
        DRAIN,
    )


_NEVER = Value(None, output_field=DateTimeField())


def _rows(queryset: QuerySet[Any], columns: tuple[Any, ...], code: str) -> QuerySet[Any]:
    told_as = Value(code, output_field=CharField())
    return queryset.order_by().values_list(*columns, told_as)


def physics_of(calibration: Calibration) -> physics.Calibration:
    """The calibration rebuilt from its stored inputs: the same figures as when it was saved."""
    return rebuilt(calibration.inputs)


@lru_cache(maxsize=256)
def rebuilt(inputs: str) -> physics.Calibration:
    """Calibrate from canonical inputs; the text itself is the key, so nothing can go stale."""
    facts = json.loads(inputs)
    return physics.calibrate(
        [_float_reading(item) for item in facts["floats"]],
        origin=facts["origin"],
        height_standard_uncertainty_mm=float(facts["height_standard_uncertainty_mm"]),
        liquid=_liquid(facts["liquid"]),
        minimum_floats=facts["minimum_floats"],
    )


def _float_reading(item: dict[str, Any]) -> physics.FloatReading:
    return physics.FloatReading(
        id=item["label"],
        density_g_cm3=Decimal(item["density_g_cm3"]),
        standard_uncertainty_g_cm3=float(item["standard_uncertainty_g_cm3"]),
        height_mm=Decimal(item["height_mm"]),
        common_standard_uncertainty_g_cm3=float(item["common_standard_uncertainty_g_cm3"]),
        common_group=item["common_group"],
    )


def _liquid(facts: dict[str, str] | None) -> physics.LiquidSpan | None:
    if facts is None:
        return None
    return physics.LiquidSpan(
        bottom_mm=Decimal(facts["bottom_mm"]), top_mm=Decimal(facts["top_mm"])
    )


def calibrations_using(certificate: Any) -> QuerySet[Calibration]:
    """Present calibrations in which this certificate counts."""
    text = canonical_json({"certificate": str(certificate.pk)})[1:-1]
    return present_calibrations().filter(inputs__contains=text)
