"""The demo's load: refused where it must not go, and all or nothing."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from columns.models import Bath
from labsite.accounts.models import User
from labsite.audit.verification import verify
from labsite.errors import Conflict, LabError
from reports.demo import events as ev
from reports.demo.loader.ledgers import Ledger, play
from reports.demo.loader.replays import load_month, replay
from reports.demo.simulator import Month
from reports.management.commands import load_demo
from samples.models import Determination
from tests import factories
from tests.reports.demo.replay import ENDS, SMALL, month_ending


@pytest.fixture(scope="module")
def month() -> Month:
    return month_ending(ENDS[0], volume=SMALL)


@pytest.mark.django_db
def test_a_lab_with_people_is_refused(month: Month) -> None:
    factories.make_person(username="anna", role="manager")
    with pytest.raises(Conflict, match="empty database"):
        load_month(month)


@pytest.mark.django_db
def test_a_refusal_on_the_way_leaves_nothing(month: Month) -> None:
    bath = next(event for event in month.events if isinstance(event, ev.BathInstalled))
    broken = (*month.events[:16], bath, bath)  # the second one's name is taken
    people_before = User.objects.count()
    with pytest.raises(LabError):
        load_month(Month(broken, month.truth, month.now))
    assert not Bath.objects.exists()
    assert User.objects.count() == people_before


@pytest.mark.django_db
def test_an_event_without_handler_is_an_error() -> None:
    class Nothing(ev.Event):
        pass

    with pytest.raises(TypeError, match="Nothing"):
        replay(Ledger(), Nothing(at=ENDS[0], by="yuki"))


def test_every_kind_of_event_has_a_handler() -> None:
    handled = set(play.registry) - {object}
    kinds = {
        kind
        for kind in vars(ev).values()
        if isinstance(kind, type) and issubclass(kind, ev.Event) and kind is not ev.Event
    }
    assert handled == kinds


@pytest.mark.django_db
def test_the_command_refuses_outside_demo_mode(settings: Any) -> None:
    settings.RESTHEIGHT_DEMO = False
    with pytest.raises(CommandError, match="--force-demo"):
        call_command("load_demo")
    assert not Bath.objects.exists()


@pytest.mark.django_db
def test_the_command_says_what_does_not_fit(settings: Any) -> None:
    settings.RESTHEIGHT_DEMO = True
    with pytest.raises(CommandError, match="sessions"):
        call_command("load_demo", float_sets=5000)


@pytest.mark.django_db
def test_the_command_loads_and_tells_its_progress(
    settings: Any, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, month: Month
) -> None:
    """The first day only: the rest is loaded above."""
    settings.RESTHEIGHT_DEMO = True
    day = tuple(e for e in month.events if e.at - month.events[0].at < timedelta(hours=20))
    monkeypatch.setattr(load_demo, "simulate", lambda now, **_: Month(day, month.truth, month.now))
    call_command("load_demo")
    told = capsys.readouterr().out
    assert "100%" in told
    assert f"Loaded {len(day)} events" in told
    assert Bath.objects.count() == 3


@pytest.mark.slow
@pytest.mark.django_db
@pytest.mark.parametrize("end", ENDS[:3])
def test_a_whole_month_loads_at_any_end(end: Any) -> None:
    month = month_ending(end)
    ledger = load_month(month)
    assert ledger.not_released == []
    assert Determination.objects.filter(status="released").count() > 90
    assert verify().holds
