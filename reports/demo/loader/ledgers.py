"""What the load remembers from one event to the next, and where handlers register."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import singledispatch
from typing import Any

from labsite.clock import FixedClock
from reports.demo import events as ev

CLOCK_SOURCE = "demo loader"
LONG_AGO = datetime.min.replace(tzinfo=UTC)  # before the first event sets the clock


@dataclass
class Ledger:
    """The rows that later events refer to, by kind and by their keys in the events."""

    rows: dict[str, dict[str, Any]] = field(default_factory=lambda: defaultdict(dict))
    clock: FixedClock = field(default_factory=lambda: FixedClock(LONG_AGO, CLOCK_SOURCE))
    # what the app itself would not let people do, told at the end of the load
    drafts: list[str] = field(default_factory=list)
    not_released: list[str] = field(default_factory=list)

    def by(self, event: ev.Event) -> dict[str, Any]:
        """Who does it and when, as every service takes it."""
        return {"actor": self.rows["person"][event.by], "clock": self.clock}


@singledispatch
def play(event: ev.Event, ledger: Ledger) -> None:
    """Do through the services what the event tells; each kind of event has its handler."""
    raise TypeError(f"no handler for {type(event).__name__}")
