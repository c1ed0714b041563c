"""How long a column rests after a basket pass or a temperature excursion before it is read."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from uuid import UUID

from django.db.models import Max

from columns.models import BasketPass, Bath, BathTemperature, Column, Fill

# Our rule: rest after an excursion of up to 3 K, by the column's bore.
NARROW_BORE_MM = Decimal(65)
NARROW_HOURS, WIDE_HOURS = 3.0, 4.0
# Conduction through a stratified cylinder, tau = R²/(5.78 alpha), alcohol and water at 60 mm bore;
# the bath counts as reached at 0.02 K, half an hour-constant later for jacket and glass.
TIME_CONSTANT_HOURS = 0.37
TIME_CONSTANT_BORE_MM = 60.0
REACHED_K = 0.02


@dataclass(frozen=True)
class Excursion:
    """The last stay of a bath outside its tolerance; `back_at` is None while it lasts."""

    bath_id: UUID
    last_out_at: datetime
    largest_k: float
    back_at: datetime | None


def excursion_rest(bore_mm: Decimal, largest_k: float) -> timedelta:
    """Rest after the bath is back: the rule by bore, or longer when conduction asks for it."""
    usual = NARROW_HOURS if bore_mm <= NARROW_BORE_MM else WIDE_HOURS
    constant = TIME_CONSTANT_HOURS * (float(bore_mm) / TIME_CONSTANT_BORE_MM) ** 2
    conducted = constant * (math.log(max(largest_k, REACHED_K) / REACHED_K) + 0.5)
    return timedelta(hours=max(usual, conducted))


def excursion_hold_off_until(column: Column, excursion: Excursion | None) -> datetime | None:
    """When the column may be read again; None without an excursion or while it lasts."""
    if excursion is None or excursion.back_at is None:
        return None
    return excursion.back_at + excursion_rest(column.bore_mm, excursion.largest_k)


def last_excursion(bath: Bath, at: datetime) -> Excursion | None:
    """The last excursion of the bath that began before or at `at`.

    What was recorded in between two readings is not known: a bath counts as back at the first
    reading inside the tolerance.
    """
    log = BathTemperature.objects.filter(
        bath=bath, replaced_at__isnull=True, measured_at__lte=at
    ).order_by("-measured_at")
    last_out = log.filter(is_in_tolerance=False).first()
    if last_out is None:
        return None
    after = log.filter(measured_at__gt=last_out.measured_at).order_by("measured_at").first()
    before = log.filter(is_in_tolerance=True, measured_at__lt=last_out.measured_at).first()
    stay = log.filter(is_in_tolerance=False)
    if before:
        stay = stay.filter(measured_at__gt=before.measured_at)
    largest = max(
        abs(value - bath.setpoint_c) for value in stay.values_list("temperature_c", flat=True)
    )
    return Excursion(
        bath.pk, last_out.measured_at, float(largest), after.measured_at if after else None
    )


def last_pass_ends(fills: Iterable[Fill], at: datetime) -> dict[UUID, datetime]:
    """When the last finished basket pass of each fill ended, by the fill's id."""
    rows = (
        BasketPass.objects.filter(fill__in=list(fills), ended_at__lte=at)
        .order_by()
        .values("fill_id")
        .annotate(last=Max("ended_at"))
    )
    return {row["fill_id"]: row["last"] for row in rows}


def running_pass(fill: Fill, at: datetime) -> BasketPass | None:
    """The basket pass that was under way at `at`."""
    return (
        BasketPass.objects.filter(fill=fill, started_at__lte=at)
        .exclude(ended_at__lte=at)
        .order_by("started_at")
        .first()
    )
