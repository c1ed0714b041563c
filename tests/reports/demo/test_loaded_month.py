"""A small month in the database: what the load left there."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from django.db import transaction

from columns.models import Calibration, Fill, FloatPlacement, FloatSet, Hold
from columns.selectors.fills import standings
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from labsite.audit.verification import verify
from labsite.errors import Conflict
from reports.demo import events as ev
from reports.demo.loader.ledgers import CLOCK_SOURCE, Ledger
from reports.demo.loader.replays import load_month
from reports.demo.simulator import Month
from samples.models import Determination, Lot, Reading, Specimen
from tests.reports.demo.replay import ENDS, SMALL, month_ending


@pytest.fixture(scope="module")
def month() -> Month:
    return month_ending(ENDS[0], volume=SMALL)


@pytest.fixture(scope="module")
def loaded(month: Month, django_db_setup: Any, django_db_blocker: Any) -> Iterator[Ledger]:
    """One load for the whole module, rolled back at its end."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield load_month(month)
        transaction.set_rollback(True)


def count(month: Month, kind: type[ev.Event]) -> int:
    return sum(isinstance(event, kind) for event in month.events)


def test_every_event_became_rows(month: Month, loaded: Ledger) -> None:
    amended = count(month, ev.FloatSetAmended)
    assert FloatSet.objects.count() == count(month, ev.FloatSetRead) + amended
    assert FloatPlacement.objects.count() == count(month, ev.FloatPlaced)
    assert Lot.objects.count() == count(month, ev.LotRegistered)
    assert Specimen.objects.count() == count(month, ev.SpecimenDropped)
    typed = Reading.objects.filter(amends=None).count()
    assert typed == count(month, ev.ReadingMade)
    assert Reading.objects.exclude(amends=None).count() == count(month, ev.ReadingAmended)
    assert Hold.objects.count() == count(month, ev.HoldPlaced)


def test_people_are_those_of_the_demo_without_passwords(month: Month, loaded: Ledger) -> None:
    people = User.objects.filter(is_system=False)
    expected = {
        (event.person.username, event.person.name, event.person.role)
        for event in month.events
        if isinstance(event, ev.PersonJoined)
    }
    assert set(people.values_list("username", "full_name", "role")) == expected
    assert not any(person.has_usable_password() for person in people)


def test_the_history_is_marked_and_holds(month: Month, loaded: Ledger) -> None:
    bodies = [json.loads(body) for body in AuditEntry.objects.values_list("body", flat=True)]
    assert {body["clock"] for body in bodies} == {CLOCK_SOURCE}
    instants = {event.at for event in month.events}
    assert set(AuditEntry.objects.values_list("at", flat=True)) <= instants
    assert verify().holds


def test_entries_name_the_people_who_acted(month: Month, loaded: Ledger) -> None:
    released = {
        (event.at, event.by)
        for event in month.events
        if isinstance(event, ev.DeterminationReleased)
    }
    rows = Determination.objects.filter(status="released")
    assert {(row.released_at, row.released_by.username) for row in rows} <= released


def test_all_float_sets_pass_and_find_the_chip(loaded: Ledger) -> None:
    assert not Calibration.objects.filter(passes=False).exists()
    found = Counter(
        finding.get("float")
        for calibration in Calibration.objects.all()
        for finding in calibration.result_facts["findings"]
        if finding["code"] == "float_misfit"
    )
    assert found["F-305"] >= 1


def test_columns_stand_as_the_closing_scene_tells(month: Month, loaded: Ledger) -> None:
    live = list(Fill.objects.filter(state__in=Fill.LIVE).select_related("column"))
    now = standings(live, month.now)
    assert {fill.column.name: now[fill.pk].state for fill in live} == {
        "Ash": "open",
        "Birch": "closed",
        "Cedar": "open",
        "Damson": "open",
        "Elm": "settling",
        "Fir": "on_hold",
    }


def test_determinations_stand_in_every_status(loaded: Ledger) -> None:
    status = Counter(Determination.objects.values_list("status", flat=True))
    assert status["draft"] >= 1
    assert status["ready"] >= 2
    assert status["released"] >= 5
    assert loaded.not_released == []


def test_what_was_determined_lies_near_the_truth(month: Month, loaded: Ledger) -> None:
    mistyped = {planted.key for planted in month.truth.planted if "mistyped" in planted.kind}
    touched = {row.lot_id for row in Determination.objects.exclude(to_be_amended_because="")}
    ratios = [
        float(row.density_g_cm3 - Decimal(repr(month.truth.lot_density[row.lot.code])))
        / float(row.expanded_uncertainty_g_cm3)
        for row in Determination.objects.filter(status="released").select_related("lot")
        if row.lot_id not in touched
    ]
    assert mistyped, "the month plants slips"
    assert np.sqrt(np.mean(np.square(ratios))) < 1.0  # U has k of at least 2
    assert max(map(abs, ratios)) < 2.5


def test_a_second_load_is_refused(month: Month, loaded: Ledger) -> None:
    before = AuditEntry.objects.count()
    with pytest.raises(Conflict) as refused:
        load_month(month)
    assert refused.value.code == "database_in_use"
    assert AuditEntry.objects.count() == before
