"""Where the time of an entry comes from.

Services take a clock so that the demo's loader can replay a month through them; its entries say
so by the clock's `source`. Everybody else uses `SYSTEM_CLOCK`, the server's own time.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    source: str

    def now(self) -> datetime: ...


@dataclass(frozen=True)
class SystemClock:
    source: str = "server"

    def now(self) -> datetime:
        return datetime.now(UTC)


@dataclass(frozen=True)
class FixedClock:
    """A clock that stands still at `at` (aware, any zone)."""

    at: datetime
    source: str

    def now(self) -> datetime:
        return self.at.astimezone(UTC)


SYSTEM_CLOCK: Clock = SystemClock()
