"""The month: the same each time, as large as asked, and true to the lab's rules at any end."""

from __future__ import annotations

from collections import Counter
from datetime import datetime, timedelta

import pytest

from reports.demo import events as ev
from reports.demo.roster import ZONE, Roster
from reports.demo.scenario import quillmere
from reports.demo.simulator import SEED, Month, Volume, simulate
from tests.reports.demo.replay import ENDS, SEEDED, Replay, month_ending


def count(month: Month, kind: type[ev.Event]) -> int:
    return sum(isinstance(event, kind) for event in month.events)


def test_one_seed_gives_one_month(month: Month) -> None:
    again = simulate(month.now)
    assert again.events == month.events
    assert again.truth.specimen_density == month.truth.specimen_density
    assert simulate(month.now, seed=5).events != month.events


def test_volume_is_what_was_asked(month: Month) -> None:
    assert count(month, ev.LotRegistered) == 120
    assert count(month, ev.FloatSetRead) == 160
    assert 360 <= count(month, ev.SpecimenDropped) <= 390
    small = simulate(month.now, volume=Volume(lots=40, float_sets=80))
    assert (count(small, ev.LotRegistered), count(small, ev.FloatSetRead)) == (40, 80)


@pytest.mark.parametrize(
    ("volume", "says"),
    [
        (Volume(lots=120, float_sets=2000), "sessions"),
        (Volume(lots=400, float_sets=160), "do not fit"),
        (Volume(lots=5, float_sets=160), "more than"),
    ],
)
def test_a_volume_that_does_not_fit_is_refused(volume: Volume, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        simulate(ENDS[0], volume=volume)


def test_an_end_without_time_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="time zone"):
        simulate(datetime(2026, 10, 6))


@pytest.mark.parametrize(("end", "seed"), [*((end, SEED) for end in ENDS), *SEEDED])
def test_every_rule_holds(end: datetime, seed: int) -> None:
    month = month_ending(end, seed)
    replay = Replay(month.events)
    assert replay.breaches == []
    assert len(replay.without_calibration) == 1  # the planted one in Birch, near the end


@pytest.mark.parametrize("end", ENDS)
def test_order_and_span(end: datetime) -> None:
    month = month_ending(end)
    instants = [event.at for event in month.events]
    assert instants == sorted(instants)
    assert instants[-1] < end
    assert end - instants[0] < timedelta(days=50)
    assert {at.utcoffset() for at in instants} == {timedelta(0)}


@pytest.mark.parametrize("end", ENDS)
def test_the_bench_is_alive_at_the_end(end: datetime) -> None:
    month = month_ending(end)
    replay = Replay(month.events)
    unread = [piece for key, piece in replay.pieces.items() if key not in replay.readers]
    ready = [piece for piece in unread if piece.ready_at <= month.now]
    falling = [piece for piece in unread if piece.ready_at > month.now]
    assert Counter(piece.fill for piece in ready) == {"ash-1": 3, "birch-2": 2, "damson-1": 2}
    assert Counter(piece.fill for piece in falling) == {"damson-1": 1, "cedar-1": 1}
    calibrated = {key for key, fill in replay.fills.items() if fill.in_force(month.now)}
    assert calibrated >= {"ash-1", "cedar-1", "damson-1"}
    assert "birch-2" not in calibrated
    assert replay.fills["elm-2"].state == "settling"
    assert replay.fills["elm-2"].sets
    assert replay.fills["fir-1"].holds
    waiting = set(replay.prepared) - set(replay.released)
    assert 3 <= len(waiting) <= 18
    assert any(not replay.prepared[key].complete for key in waiting)


def test_people_act_in_their_own_shift(month: Month) -> None:
    roster = Roster(month.events[0].at - timedelta(days=2), month.now)
    teams = {person.username: person.team for person in quillmere().people}
    strangers = [
        event
        for event in month.events
        if teams[event.by] and teams[event.by] not in _teams_near(roster, event.at)
    ]
    assert strangers == []


def _teams_near(roster: Roster, at: datetime) -> set[str]:
    """Those at work, and for 15 min those who just went: handovers overlap."""
    instants = (at, at - timedelta(minutes=15), at + timedelta(minutes=95))
    return {shift.team for shift in map(roster.at, instants) if shift is not None}


def test_no_work_on_a_free_week_end(month: Month) -> None:
    free = [
        event
        for event in month.events
        if isinstance(event, ev.FloatSetRead | ev.SpecimenDropped)
        and event.at.astimezone(ZONE).weekday() == 6
    ]
    assert free == []  # this month ends on a Tuesday, so no Sunday is worked


def test_one_fill_is_drained_and_refilled_and_a_float_leaves(month: Month) -> None:
    drained = [event.fill for event in month.events if isinstance(event, ev.FillDrained)]
    assert drained == ["birch-1", "elm-1"]
    assert [e.label for e in month.events if isinstance(e, ev.FloatQuarantined)] == ["F-305"]
    later = [e for e in month.events if isinstance(e, ev.FloatSetRead) and e.fill == "cedar-1"]
    assert len(later[-1].heights) == 8


def test_stories_are_planted(month: Month) -> None:
    kinds = Counter(planted.kind for planted in month.truth.planted)
    for kind in ("float chipped", "bath excursion", "set height mistyped", "reading undone"):
        assert kinds[kind] == 1
    assert kinds["fast basket pass"] == 2
    assert kinds["reading mistyped"] >= 2
    assert kinds["lot cannot tell"] >= 1
    assert kinds["lot bubble"] >= 3
    assert kinds["lot out of trend"] == kinds["lot void"] == 1
    assert (
        sum(bool(e.repeat_because) for e in month.events if isinstance(e, ev.DeterminationPrepared))
        >= 2
    )


def test_lots_count_up_to_the_last_number(month: Month) -> None:
    wren = [
        event.lot
        for event in month.events
        if isinstance(event, ev.LotRegistered) and event.grade == "WR"
    ]
    assert wren == sorted(wren)
    assert wren[-1] == "WR-2211"


def test_certificates_lapse_soon_or_have_lapsed(month: Month) -> None:
    today = month.now.astimezone(ZONE).date()
    left = {
        event.label: (event.valid_until_on - today).days
        for event in month.events
        if isinstance(event, ev.CertificateRecorded)
    }
    assert left["F-107"] == 12
    assert left["F-703"] == -9
    assert all(days > 60 for label, days in left.items() if label not in ("F-107", "F-703"))
