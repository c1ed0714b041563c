"""Flags on columns whose end floats near the readable limits."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from columns import audit_actions as actions
from columns.models import ColumnFlag, Fill
from columns.selectors.flags import flag_text, open_flags
from columns.services.drift import End, ends_of, flag_end_floats
from columns.services.fills import drain_fill
from labsite.accounts.models import User
from labsite.accounts.services import system_user
from labsite.audit.models import AuditEntry
from labsite.errors import NotPermitted
from labsite.jobs.kinds import kind_of
from tests import factories
from tests.factories import clock_at, heights_of

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


def read(fill: Fill, actor: User, at: datetime, *, top: str) -> None:
    """A set whose highest float stands at `top` mm."""
    heights = heights_of(fill)
    heights[0]["height_mm"] = Decimal(top)
    factories.make_float_set(actor=actor, fill=fill, at=at, heights=heights)


def flag(at: datetime) -> dict[str, int]:
    return flag_end_floats(actor=system_user(), clock=clock_at(at))


@pytest.mark.parametrize(
    ("distance", "days", "flagged", "near"),
    [
        (14.9, None, False, True),
        (15.0, None, False, False),
        (19.9, None, True, True),
        (20.0, None, True, False),
        (50.0, 6.9, False, True),
        (50.0, 7.0, False, False),
        (50.0, 9.9, True, True),
        (50.0, 10.0, True, False),
    ],
)
def test_a_flag_stays_until_the_wider_limit_is_met(
    distance: float, days: float | None, flagged: bool, near: bool
) -> None:
    assert End("F-101", distance, days).is_near(flagged=flagged) is near


def test_a_fill_with_room_at_both_ends_has_no_flag(
    settling_fill: Fill, technician: User, now: datetime
) -> None:
    factories.make_float_set(actor=technician, fill=settling_fill, at=now)
    ends = ends_of(settling_fill, now)
    assert ends["lower_end_float"] == End("F-109", 70.0, None)  # 80 mm, readable from 10
    assert ends["upper_end_float"] == End("F-101", 50.0, None)  # 640 mm, readable to 690
    assert flag(now) == {"raised": 0, "cleared": 0}


def test_a_float_near_the_limit_raises_one_flag(
    settling_fill: Fill, technician: User, now: datetime, entries_of: object
) -> None:
    read(settling_fill, technician, now, top="680")
    assert flag(now) == {"raised": 1, "cleared": 0}
    assert flag(now) == {"raised": 0, "cleared": 0}
    found = ColumnFlag.objects.get()
    assert found.kind == ColumnFlag.Kind.UPPER_END
    assert "F-101" in flag_text(found)
    assert "10.0 mm" in flag_text(found)
    assert list(open_flags()) == [found]
    assert AuditEntry.objects.get(object_id=found.pk).actor.is_system


def test_it_clears_beyond_the_wider_limit_only(
    settling_fill: Fill, technician: User, now: datetime, entries_of: object
) -> None:
    read(settling_fill, technician, now - timedelta(minutes=9), top="680")
    flag(now)
    read(settling_fill, technician, now - timedelta(minutes=6), top="671")  # 19 mm left
    assert flag(now)["cleared"] == 0
    read(settling_fill, technician, now - timedelta(minutes=3), top="669")  # 21 mm left
    assert flag(now)["cleared"] == 1
    found = ColumnFlag.objects.get()
    assert entries_of(found) == [actions.FLAG_RAISED, actions.FLAG_CLEARED]


def test_a_float_that_gets_there_within_a_week_raises_a_flag(
    shift_lead: User, technician: User, now: datetime
) -> None:
    fill = factories.make_settling_fill(actor=shift_lead, at=now - 5 * DAY)
    for days, top in ((4, "640"), (2, "650"), (0, "660")):  # 5 mm a day, 30 mm left
        read(fill, technician, now - days * DAY, top=top)
    end = ends_of(fill, now)["upper_end_float"]
    assert end.distance_mm == 30
    assert end.days_left == pytest.approx(6)
    assert flag(now)["raised"] == 1
    assert "6 days" in flag_text(ColumnFlag.objects.get())


def test_a_column_with_its_zero_at_the_top_is_judged_the_same(
    shift_lead: User, technician: User, now: datetime
) -> None:
    column = factories.make_column(actor=shift_lead, name="Cedar", scale_origin="top")
    fill = factories.make_settling_fill(actor=shift_lead, at=now - 2 * DAY, column=column)
    factories.make_float_set(actor=technician, fill=fill, at=now)
    ends = ends_of(fill, now)
    assert ends["lower_end_float"] == End("F-109", 70.0, None)
    assert ends["upper_end_float"] == End("F-101", 50.0, None)


def test_a_drained_fill_loses_its_flags(
    settling_fill: Fill, technician: User, now: datetime
) -> None:
    read(settling_fill, technician, now, top="680")
    flag(now)
    drain_fill(actor=technician, fill=settling_fill, reason="floats at the end")
    assert flag(now + timedelta(minutes=5)) == {"raised": 0, "cleared": 1}


def test_the_worker_knows_the_job_and_a_stranger_may_not_run_it(auditor: User) -> None:
    assert kind_of("columns.flag_drift").work(run=None) == {"raised": 0, "cleared": 0}
    with pytest.raises(NotPermitted):
        flag_end_floats(actor=auditor)
