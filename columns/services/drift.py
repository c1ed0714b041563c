"""Flags on columns whose end floats near the readable limits: such a fill is soon at its end.

The flag states what is seen: a distance, and the straight line through the distances of the last
two weeks. It forecasts no end of life; that would need the mixing of the fill.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from columns import audit_actions as actions
from columns.models import Column, ColumnFlag, Fill, FloatSet
from columns.physics import fit_line
from columns.services.locks import locked
from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.audit.services import Change, change
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.records import canonical_json

# Our rules. Raised nearer than the first of each pair, cleared only beyond the second, so that a
# float near the line does not raise and clear the flag with every set.
DISTANCE_MM = (15.0, 20.0)
DAYS_LEFT = (7.0, 10.0)
LOOKED_BACK = timedelta(days=14)
SHORTEST_TREND = timedelta(days=1)
FEWEST_SETS_FOR_TREND = 3
SECONDS_A_DAY = 86400


@dataclass(frozen=True)
class End:
    """The end float of one side: its distance to the readable limit, and the days it has left."""

    float_label: str
    distance_mm: float
    days_left: float | None

    def is_near(self, *, flagged: bool) -> bool:
        """Whether it deserves a flag; one that is there stays until the wider limits are met."""
        step = 1 if flagged else 0
        soon = self.days_left is not None and self.days_left < DAYS_LEFT[step]
        return soon or self.distance_mm < DISTANCE_MM[step]


def flag_end_floats(*, actor: User, clock: Clock = SYSTEM_CLOCK) -> dict[str, int]:
    """Raise and clear flags on all live fills; returns how many. Running it again adds nothing."""
    if not actor.is_system:
        require(actor, Action.RECORD_COLUMN_WORK)
    counts = {"raised": 0, "cleared": 0}
    with change(actor=actor, clock=clock) as log:
        counts["cleared"] += _clear_of_drained(log)
        for fill in Fill.objects.filter(state__in=Fill.LIVE).select_related("column"):
            for kind, end in ends_of(fill, log.now).items():
                moved = _raise_or_clear(log, locked(fill), kind, end)
                if moved:
                    counts[moved] += 1
    return counts


def _clear_of_drained(log: Change) -> int:
    left = ColumnFlag.objects.filter(cleared_at__isnull=True, fill__state=Fill.State.DRAINED)
    for flag in left:
        log.update(flag, actions.FLAG_CLEARED, cleared_at=log.now)
    return len(left)


def _raise_or_clear(log: Change, fill: Fill, kind: str, end: End) -> str:
    flag = ColumnFlag.objects.filter(fill=fill, kind=kind, cleared_at__isnull=True).first()
    if flag is None and end.is_near(flagged=False):
        log.add(
            ColumnFlag(
                column=fill.column, fill=fill, kind=kind, facts=_facts(end), raised_at=log.now
            ),
            actions.FLAG_RAISED,
        )
        return "raised"
    if flag is not None and not end.is_near(flagged=True):
        log.update(flag, actions.FLAG_CLEARED, cleared_at=log.now)
        return "cleared"
    return ""


def _facts(end: End) -> str:
    return canonical_json(
        {
            "float": end.float_label,
            "distance_mm": f"{end.distance_mm:.1f}",
            "days_left": "" if end.days_left is None else f"{end.days_left:.0f}",
        }
    )


def ends_of(fill: Fill, at: datetime) -> dict[str, End]:
    """The lower and the upper end of a fill by its last sets; empty without one."""
    sets = list(
        fill.float_sets.filter(replaced_at__isnull=True, read_at__range=(at - LOOKED_BACK, at))
        .order_by("read_at")
        .prefetch_related("heights__calibration_float")
    )
    tracks = {each: _track(fill.column, sets, each) for each in ColumnFlag.Kind.values}
    return {kind: _end(track) for kind, track in tracks.items() if track}


def _track(column: Column, sets: list[FloatSet], kind: str) -> list[tuple[datetime, str, float]]:
    """When, which float, and how far from the limit, for the end float of the last set."""
    low, high = sorted(
        (
            column.above_bottom_mm(column.readable_low_mm),
            column.above_bottom_mm(column.readable_high_mm),
        )
    )
    found = []
    for float_set in sets:
        heights = {
            row.calibration_float.label: column.above_bottom_mm(row.height_mm)
            for row in float_set.heights.all()
            if row.height_mm is not None
        }
        lower = kind == ColumnFlag.Kind.LOWER_END
        label = (min if lower else max)(heights, key=heights.__getitem__)
        distance = heights[label] - low if lower else high - heights[label]
        found.append((float_set.read_at, label, float(distance)))
    return [entry for entry in found if entry[1] == found[-1][1]]


def _end(track: list[tuple[datetime, str, float]]) -> End:
    first_at, last_at = track[0][0], track[-1][0]
    distance = track[-1][2]
    if len(track) < FEWEST_SETS_FOR_TREND or last_at - first_at < SHORTEST_TREND:
        return End(track[-1][1], distance, None)
    days = [(at - first_at).total_seconds() / SECONDS_A_DAY for at, _label, _mm in track]
    nearing = -fit_line(days, [entry[2] for entry in track]).slope
    days_left = max(0.0, distance) / nearing if nearing > 0 else None
    return End(track[-1][1], distance, days_left)
