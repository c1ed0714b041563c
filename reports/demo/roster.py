"""Who is at work when: three shifts, five days, three teams that rotate by the week."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from reports.demo.scenario import TIME_ZONE

STARTS = (("early", 6), ("late", 14), ("night", 22))  # lab time, 8 h each
TEAMS = "ABC"
# A newcomer may start the demo at any hour of any day: this much before it is worked anyway.
ALWAYS_WORKED = timedelta(hours=34)
ZONE = ZoneInfo(TIME_ZONE)
UTC = ZoneInfo("UTC")


@dataclass(frozen=True)
class Shift:
    name: str
    start: datetime
    end: datetime
    team: str

    def holds(self, at: datetime) -> bool:
        return self.start <= at < self.end


class Roster:
    """The worked shifts between two instants, in order."""

    def __init__(self, start: datetime, now: datetime) -> None:
        self.now = now
        every = list(_every_shift(start, now))
        current = next(index for index, (*_, begin, end) in enumerate(every) if begin <= now < end)
        turn = _turn(every[current])
        self.shifts = tuple(
            Shift(name, begin, end, TEAMS[(_turn(row) - turn) % len(TEAMS)])
            for row in every
            for name, day, _, begin, end in [row]
            if day.weekday() < 5 or end > now - ALWAYS_WORKED
        )

    def at(self, instant: datetime) -> Shift | None:
        return next((shift for shift in self.shifts if shift.holds(instant)), None)

    def following(self, instant: datetime) -> Shift:
        """The first worked shift that ends after the instant."""
        return next(shift for shift in self.shifts if shift.end > instant)

    def after(self, shift: Shift) -> Shift | None:
        index = self.shifts.index(shift) + 1
        return self.shifts[index] if index < len(self.shifts) else None

    def nearest(self, instant: datetime, suits: Callable[[Shift], bool]) -> Shift:
        """The suitable shift that starts nearest to an instant."""
        fitting = [shift for shift in self.shifts if suits(shift)]
        return min(fitting, key=lambda shift: abs(shift.start - instant))

    def unbroken(self, shift: Shift, count: int) -> bool:
        """Whether the next `count` shifts follow without a free one between."""
        for _ in range(count):
            nxt = self.after(shift)
            if nxt is None or nxt.start != shift.end:
                return False
            shift = nxt
        return True

    def working_time(self, instant: datetime) -> datetime:
        """The instant itself when somebody is at work, else some minutes into the next shift."""
        if self.at(instant):
            return instant
        return self.following(instant).start + timedelta(minutes=25)


def office_hours(instant: datetime) -> bool:
    """When the manager is in."""
    local = instant.astimezone(ZONE)
    return local.weekday() < 5 and 8 <= local.hour < 16


def _every_shift(
    start: datetime, now: datetime
) -> Iterable[tuple[str, date, int, datetime, datetime]]:
    day = start.astimezone(ZONE).date() - timedelta(days=1)
    last = now.astimezone(ZONE).date() + timedelta(days=1)
    while day <= last:
        for number, (name, hour) in enumerate(STARTS):
            begin = _instant(day, hour)
            end_day = day if hour + 8 < 24 else day + timedelta(days=1)
            end = _instant(end_day, (hour + 8) % 24)
            if end > start and begin <= now:
                yield name, day, number, begin, end
        day += timedelta(days=1)


def _instant(day: date, hour: int) -> datetime:
    return datetime.combine(day, time(hour), tzinfo=ZONE).astimezone(UTC)


def _turn(row: tuple[str, date, int, datetime, datetime]) -> int:
    _, day, number, *_ = row
    return number - day.toordinal() // 7  # weeks by any fixed day
