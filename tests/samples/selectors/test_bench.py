"""The bench's data: what is drawn, in how many queries, and what is masked for whom."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from columns.models import Fill
from columns.services.baths import record_bath_temperature
from columns.services.holds import place_hold
from labsite.accounts.models import User
from labsite.clock import SYSTEM_CLOCK
from samples.models import Lot
from samples.selectors.bench import bench, column_overview
from samples.selectors.specimens import read_queue
from samples.services.readings import withdraw_reading
from samples.services.specimens import take_over_specimens
from tests import factories

pytestmark = pytest.mark.django_db


def only_column(person: User) -> dict[str, Any]:
    return bench(person, SYSTEM_CLOCK.now())["baths"][0]["columns"][0]


def test_an_open_column_is_drawn_with_its_floats_and_profile(auditor: User, fill: Fill) -> None:
    seen = bench(auditor, SYSTEM_CLOCK.now())
    column = seen["baths"][0]["columns"][0]
    assert seen["headline"] == "1 of 1 column can be used"
    assert (column["name"], column["state"], column["state_word"]) == ("Ash", "open", "Open")
    assert column["scale"]["length_mm"] == "700"
    assert len(column["floats"]) == 9
    first = next(each for each in column["floats"] if each["label"] == "F-101")
    assert (first["density_g_cm3"], first["height_mm"]) == ("0.9051", "640.0")
    assert first["above_bottom_mm"] == 640.0
    profile = column["calibration"]["profile"]
    assert len(profile) >= 17
    heights = [point["above_bottom_mm"] for point in profile]
    densities = [point["density_g_cm3"] for point in profile]
    assert (min(heights), max(heights)) == (80.0, 640.0)
    assert densities == sorted(densities, reverse=True)
    assert column["calibration"]["largest_misfit"]["float"].startswith("F-1")
    json.dumps(seen)


def test_heights_of_a_scale_from_the_top_are_measured_upward(
    manager: User, auditor: User, fill: Fill
) -> None:
    cedar = factories.make_column(
        actor=manager, name="Cedar", bath=fill.column.bath, scale_origin="top"
    )
    now = SYSTEM_CLOCK.now()
    factories.make_open_fill(actor=manager, at=now - timedelta(hours=1), column=cedar, prefix="F-3")
    drawn = column_overview(cedar, auditor, now)
    first = next(each for each in drawn["floats"] if each["label"] == "F-301")
    assert (first["height_mm"], first["above_bottom_mm"]) == ("60.0", 640.0)
    assert drawn["calibration"]["profile"][0]["above_bottom_mm"] == 80.0


def test_read_pieces_lie_in_the_column_and_others_in_the_tray(
    technician: User, auditor: User, pieces: list[Any]
) -> None:
    factories.make_reading(actor=technician, specimen=pieces[0], height_mm="455.0")
    column = only_column(auditor)
    occupant = column["occupants"][0]
    assert occupant["lot"] == "WR-2211"
    assert occupant["lot_tail"] == "2211"
    assert (occupant["height_mm"], occupant["above_bottom_mm"]) == ("455.0", 455.0)
    assert occupant["density_g_cm3"] == "0.91825"
    assert occupant["masked"] is False
    assert [item["state"] for item in column["tray"]] == ["ready", "ready"]


def test_an_undone_reading_puts_the_piece_back_into_the_tray(
    technician: User, auditor: User, pieces: list[Any]
) -> None:
    reading = factories.make_reading(actor=technician, specimen=pieces[0])
    withdraw_reading(actor=technician, reading=reading)
    column = only_column(auditor)
    assert column["occupants"] == []
    assert len(column["tray"]) == 3


def test_who_has_unread_pieces_of_the_lot_sees_no_height_or_density_of_it(
    technician: User, other_technician: User, pieces: list[Any]
) -> None:
    factories.make_reading(actor=other_technician, specimen=pieces[0], height_mm="455.0")
    for person in (technician, other_technician):  # one dropped them, the other began to read
        occupant = only_column(person)["occupants"][0]
        assert occupant["masked"] is True
        assert occupant["height_mm"] is None
        assert occupant["above_bottom_mm"] is None
        assert occupant["density_g_cm3"] is None
        assert "455.0" not in json.dumps(only_column(person)["occupants"])


def test_the_mask_falls_with_the_last_reading(technician: User, pieces: list[Any]) -> None:
    for piece in pieces:
        factories.make_reading(actor=technician, specimen=piece)
    assert {each["masked"] for each in only_column(technician)["occupants"]} == {False}


def test_who_took_the_pieces_over_is_blind_instead(
    technician: User, shift_lead: User, pieces: list[Any]
) -> None:
    factories.make_reading(actor=technician, specimen=pieces[0])
    assert only_column(shift_lead)["occupants"][0]["masked"] is False
    take_over_specimens(actor=shift_lead, specimens=pieces[1:])
    assert only_column(shift_lead)["occupants"][0]["masked"] is True


def test_a_hold_closes_the_drawing_and_says_why(technician: User, fill: Fill) -> None:
    place_hold(actor=technician, fill=fill, reason="glass cracked", lifts_when="a look at it")
    seen = bench(technician, SYSTEM_CLOCK.now())
    column = seen["baths"][0]["columns"][0]
    assert (column["state"], column["calibration"]) == ("on_hold", None)
    assert len(column["floats"]) == 9
    assert column["flags"][0]["level"] == "stop"
    assert "glass cracked" in column["flags"][0]["text"]
    assert seen["headline"] == "0 of 1 column can be used"


def test_an_answer_says_until_when_it_holds(technician: User, lot: Lot, fill: Fill) -> None:
    now = SYSTEM_CLOCK.now()
    piece = factories.make_specimens(actor=technician, lot=lot, fill=fill, count=1, at=now)[0]
    seen = bench(technician, now + timedelta(seconds=1))
    assert seen["falling_count"] == 1
    assert seen["next"]["column"]["name"] == "Ash"
    assert abs(_instant(seen["valid_until_at"]) - piece.ready_at) < timedelta(milliseconds=1)


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text)


def test_the_bath_is_shown_with_its_band(technician: User, auditor: User, fill: Fill) -> None:
    now = SYSTEM_CLOCK.now()
    bath = fill.column.bath
    for minutes, celsius in ((30, "23.02"), (20, "23.3"), (10, "23.2")):
        record_bath_temperature(
            actor=technician,
            bath=bath,
            temperature_c=Decimal(celsius),
            clock=factories.clock_at(now - timedelta(minutes=minutes)),
        )
    shown = bench(auditor, now)["baths"][0]["temperature"]
    assert (shown["temperature_c"], shown["band"]) == ("23.20", "out")
    since = _instant(shown["since_at"])
    assert abs(since - (now - timedelta(minutes=20))) < timedelta(seconds=1)
    old = bench(auditor, now + timedelta(hours=30))["baths"][0]["temperature"]
    assert old["band"] == "unknown"


def test_queries_do_not_grow_with_columns(
    manager: User, auditor: User, technician: User, pieces: list[Any], fill: Fill,
    django_assert_max_num_queries: Any,
) -> None:  # fmt: skip
    now = SYSTEM_CLOCK.now()
    with django_assert_max_num_queries(15):
        bench(auditor, now)
    birch = factories.make_column(actor=manager, name="Birch", bath=fill.column.bath)
    factories.make_open_fill(
        actor=manager, at=now - timedelta(minutes=40), column=birch, prefix="F-2"
    )
    elm = factories.make_column(actor=manager, name="Elm", bath=fill.column.bath)
    factories.make_settling_fill(
        actor=manager, at=now - timedelta(hours=2), column=elm, prefix="F-5"
    )
    factories.make_reading(actor=technician, specimen=pieces[0])
    with django_assert_max_num_queries(15):
        seen = bench(auditor, SYSTEM_CLOCK.now())
    assert len(seen["baths"][0]["columns"]) == 3
    with django_assert_max_num_queries(15):
        column_overview(birch, auditor, SYSTEM_CLOCK.now())


def test_the_queue_has_the_longest_waiting_first_and_ones_own_before(
    technician: User, other_technician: User, pieces: list[Any], lot: Lot, fill: Fill
) -> None:
    now = SYSTEM_CLOCK.now()
    falling = factories.make_specimens(actor=technician, lot=lot, fill=fill, count=1, at=now)[0]
    others = factories.make_specimens(
        actor=other_technician, lot=lot, fill=fill, count=1, at=now - timedelta(minutes=40)
    )[0]
    queue = read_queue(technician, SYSTEM_CLOCK.now())
    assert [item.specimen for item in queue] == [*pieces, others, falling]
    assert [item.is_ready for item in queue] == [True] * 4 + [False]
