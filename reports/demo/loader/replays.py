"""Replays the demo's month through the services that people use, with the clock set back.

Each entry of the history says so: its clock is "demo loader". The load is all or nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from itertools import groupby

from django.db import transaction
from django.utils.translation import gettext as _

from columns.models import Bath, CalibrationFloat, Column, Fill, LiquidPair
from labsite.accounts.models import User
from labsite.clock import FixedClock
from labsite.errors import Conflict
from reports.demo import events as ev
from reports.demo.loader import column_work, first_day, sample_work
from reports.demo.loader.ledgers import CLOCK_SOURCE, Ledger, play
from reports.demo.simulator import Month
from samples.models import Grade, Lot, PreparationRecipe

# What makes a database more than an empty one.
LAB_TABLES = (Bath, Column, LiquidPair, CalibrationFloat, Fill, PreparationRecipe, Grade, Lot)
HANDLERS = (first_day, column_work, sample_work)  # imported, so that theirs are registered

Progress = Callable[[int, int, datetime], None]


def load_month(month: Month, *, progress: Progress | None = None) -> Ledger:
    """Write the month's events into an empty database.

    Raises Conflict when the database holds people or lab data already; whatever a service
    refuses undoes the whole load.
    """
    refuse_used_database()
    with transaction.atomic():
        ledger = Ledger()
        done = 0
        for _key, together in groupby(month.events, key=_act_of):
            batch = list(together)
            replay(ledger, *batch)
            done += len(batch)
            if progress is not None:
                progress(done, len(month.events), batch[-1].at)
    return ledger


def replay(ledger: Ledger, event: ev.Event, *more: ev.Event) -> None:
    """One act of one person: an event, or pieces of a lot that were dropped together."""
    ledger.clock = FixedClock(event.at, CLOCK_SOURCE)
    if more:
        sample_work.drop_together(ledger, [event, *more])
    else:
        play(event, ledger)


def _act_of(event: ev.Event) -> object:
    """Events of one key are one act; only pieces that were dropped at once share theirs."""
    if isinstance(event, ev.SpecimenDropped):
        return event.at, event.by, event.lot, event.fill
    return object()


def refuse_used_database() -> None:
    used = [model._meta.label for model in LAB_TABLES if model._base_manager.exists()]
    if User.objects.filter(is_system=False).exists():
        used.append(User._meta.label)
    if used:
        raise Conflict(
            "database_in_use",
            _(
                "The demo lab loads into an empty database only; this one has rows in %(tables)s. "
                "Give RESTHEIGHT_DATA_DIR or DATABASE_URL another place for the demo."
            )
            % {"tables": ", ".join(used)},
        )
