"""Lists: pages, filters, and a fixed number of queries."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from columns.models import Fill
from columns.services.basket_passes import finish_basket_pass, start_basket_pass
from columns.services.floats import quarantine_float
from columns.services.holds import lift_hold, place_hold
from labsite.accounts.models import User
from tests import factories
from tests.factories import clock_at

pytestmark = pytest.mark.django_db

LISTS = (
    "baths/",
    "thermometers/",
    "columns/",
    "pairs/",
    "flags/",
    "fills/",
    "holds/",
    "basket-passes/",
    "floats/",
    "quarantines/",
    "certificates/",
    "placements/",
    "float-sets/",
    "calibrations/",
    "repeatabilities/",
)


@pytest.fixture
def busy_lab(open_fill: Fill, shift_lead: User, technician: User, now: datetime) -> Fill:
    """Two columns, passes, holds and quarantines: several rows in every list."""
    factories.make_open_fill(
        actor=shift_lead,
        at=now,
        column=factories.make_column(actor=shift_lead, name="Birch"),
        prefix="F-2",
    )
    for hours in (40, 30):
        at = now - timedelta(hours=hours)
        running = start_basket_pass(actor=technician, fill=open_fill, clock=clock_at(at))
        later = clock_at(at + timedelta(minutes=80))
        finish_basket_pass(actor=technician, basket_pass=running, clock=later)
        hold = place_hold(
            actor=technician, fill=open_fill, reason="cloudy", lifts_when="clear", clock=later
        )
        lift_hold(actor=shift_lead, hold=hold, reason="clear", clock=later)
    for placement in list(open_fill.placements.all())[:2]:
        quarantine_float(
            actor=technician, calibration_float=placement.calibration_float, reason="chipped"
        )
    return open_fill


def test_a_list_costs_a_fixed_number_of_queries(
    busy_lab: Fill, as_technician: Any, django_assert_max_num_queries: Any
) -> None:
    for path in [*LISTS, f"baths/{busy_lab.column.bath_id}/temperatures/"]:
        with django_assert_max_num_queries(6):  # two of them find the session and its person
            answer = as_technician.get(f"/api/v1/{path}")
        assert answer.status_code == 200
        assert set(answer.json()) == {"next", "previous", "results"}


@pytest.mark.parametrize("path", LISTS)
def test_lists_are_for_people_who_are_signed_in(
    as_nobody: Any, as_person: Any, auditor: User, path: str
) -> None:
    assert as_nobody.get(f"/api/v1/{path}").status_code == 401
    assert as_person(auditor).get(f"/api/v1/{path}").status_code == 200


def test_pages_follow_each_other_and_their_size_is_capped(
    busy_lab: Fill, as_technician: Any
) -> None:
    seen = []
    url = "/api/v1/floats/?page_size=7"
    while url:
        page = as_technician.get(url).json()
        seen += [row["label"] for row in page["results"]]
        url = page["next"]
    assert len(seen) == len(set(seen)) == 18
    assert len(as_technician.get("/api/v1/floats/?page_size=1000000000").json()["results"]) == 18


NARROWED = (
    ("floats/?label__istartswith=f-1", 9),
    ("placements/?present=true&fill={fill}", 9),
    ("placements/?present=false", 0),
    ("fills/?state=open", 2),
    ("fills/?state=drained", 0),
    ("float-sets/?fill={fill}", 2),
    ("float-sets/?column={column}&present=true", 2),
    ("calibrations/?fill={fill}&present=true", 2),
    ("calibrations/?passes=true", 4),
    ("calibrations/?passes=false", 0),
    ("holds/?open=true", 0),
    ("holds/?fill={fill}&open=false", 2),
    ("quarantines/?open=true", 2),
    ("certificates/?valid_on=2030-01-01", 18),
    ("certificates/?valid_on=2019-01-01", 0),
    ("basket-passes/?open=false", 2),
    ("columns/?in_use=true", 2),
    ("float-sets/?since=2200-01-01T00:00:00Z", 0),
)


def test_lists_can_be_narrowed_down(busy_lab: Fill, as_technician: Any) -> None:
    found = {}
    for query, _count in NARROWED:
        url = query.format(fill=busy_lab.pk, column=busy_lab.column_id)
        found[query] = len(as_technician.get(f"/api/v1/{url}").json()["results"])
    assert found == dict(NARROWED)


@pytest.mark.parametrize(
    "query",
    [
        "fills/?state=boiling",
        "float-sets/?fill=not-an-id",
        "holds/?open=maybe",
        "calibrations/?passes=1",
        "float-sets/?since=yesterday",
        "float-sets/?since=2026-10-06T10:00:00",
        "float-sets/?since=0001-01-01T00:00:00%2B14:00",
        "float-sets/?until=9999-12-31T23:59:59-12:00",
        "certificates/?valid_on=2026-02-30",
    ],
)
def test_a_filter_that_makes_no_sense_is_refused(as_technician: Any, query: str) -> None:
    answer = as_technician.get(f"/api/v1/{query}")
    assert answer.status_code == 422
    assert len(answer.json()["fields"]) == 1


def test_a_bath_that_is_not_there_has_no_temperatures(as_technician: Any, technician: User) -> None:
    answer = as_technician.get(f"/api/v1/baths/{technician.pk}/temperatures/")
    assert (answer.status_code, answer.json()["code"]) == (404, "not_found")
