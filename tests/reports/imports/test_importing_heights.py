"""Specimen heights typed from a logbook: lots, drops and readings come in together."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from columns.services.basket_passes import finish_basket_pass, start_basket_pass
from columns.services.holds import place_hold
from labsite.audit.models import AuditEntry
from reports.imports import services
from reports.models import ImportBatch
from samples.models import DensityResult, Lot, Reading, Specimen
from tests import factories
from tests.reports.imports.files import csv_of

pytestmark = pytest.mark.django_db
OPENED_AT = datetime(2026, 10, 7, 7, tzinfo=UTC)  # 08:00 by the lab's clocks
HEADERS = ["lot", "grade", "column", "shape", "dropped at", "read at", "person", "height, mm",
           "outcome"]  # fmt: skip
DROPPED, READ = "2026-10-07 09:00", "2026-10-07 09:20"


@pytest.fixture
def fill(manager: Any) -> Any:
    return factories.make_open_fill(actor=manager, at=OPENED_AT)


@pytest.fixture
def grade(manager: Any) -> Any:
    return factories.make_grade(actor=manager)


def row(shape: str = "square", height: str = "455.0", outcome: str = "", **other: str) -> list:
    facts = {"lot": "WR-2211", "grade": "Wren film", "column": "Ash", "shape": shape,
             "dropped": DROPPED, "read": READ, "person": "imre", "height": height,
             "outcome": outcome}  # fmt: skip
    return list({**facts, **other}.values())


def book(*rows: list, headers: list | None = None) -> bytes:
    return csv_of([headers or HEADERS, *rows])


THREE = (row("square", "455.0"), row("triangle", "456.0"), row("bar", "454.5"))


def test_lots_specimens_and_readings_are_saved(
    fill: Any, grade: Any, technician: Any, other_technician: Any, commit: Any
) -> None:
    answer = commit(other_technician, "specimen-heights", book(*THREE), "book-3.csv")
    assert answer.status_code == 201, answer.content
    assert answer.json()["counts_text"] == "1 new lot, 3 specimens, 3 readings"
    lot = Lot.objects.get()
    assert (lot.code, lot.grade, lot.registered_by) == ("WR-2211", grade, other_technician)
    assert lot.received_at == datetime(2026, 10, 7, 8, tzinfo=UTC)
    specimen = Specimen.objects.get(shape="triangle")
    assert (specimen.dropped_by, specimen.fill) == (technician, fill)
    reading = specimen.readings.get()
    assert (reading.read_by, reading.entered_by) == (technician, other_technician)
    assert reading.read_at == datetime(2026, 10, 7, 8, 20, tzinfo=UTC)
    assert (reading.source, reading.outcome) == ("logbook", "at_rest")
    assert reading.late_reason == "From the logbook: book-3.csv, row 3."
    entry = AuditEntry.objects.filter(object_type="samples.reading").first()
    assert entry.actor == other_technician


def test_densities_follow_and_are_not_marked_as_seen(
    fill: Any, grade: Any, technician: Any, commit: Any
) -> None:
    commit(technician, "specimen-heights", book(*THREE))
    results = DensityResult.objects.order_by("reading__specimen__number")
    assert [result.outcome for result in results] == ["measured"] * 3
    # 0.9149 + (502.0 − 455.0) / (502.0 − 429.0) × (0.9201 − 0.9149), by hand
    assert results[0].bracketing_g_cm3 == Decimal("0.9182479")
    assert not Reading.objects.filter(density_seen=True).exists()
    assert all(result.finding_list == [] for result in results)


def test_a_reading_without_a_calibration_is_kept_without_a_density(
    fill: Any, grade: Any, technician: Any, preview: Any, commit: Any
) -> None:
    late = row(read="2026-10-07 19:00")  # the set of 07:55 counts for 8 h
    assert commit(technician, "specimen-heights", book(late)).status_code == 201
    assert DensityResult.objects.get().outcome == "none"


def test_outcomes_and_early_readings_are_kept(
    fill: Any, grade: Any, technician: Any, commit: Any
) -> None:
    rows = (row("square", "", "Bubble on it"), row("bar", "", "off the top"),
            row("disc", "455.0", read="2026-10-07 09:04"))  # fmt: skip
    assert commit(technician, "specimen-heights", book(*rows)).status_code == 201
    outcomes = Reading.objects.order_by("specimen__number").values_list("outcome", flat=True)
    assert list(outcomes) == ["bubble", "off_top", "not_at_rest"]
    assert Reading.objects.get(outcome="not_at_rest").height_mm == Decimal("455.0")


def test_rows_of_one_specimen_are_its_readings_in_time(
    fill: Any, grade: Any, technician: Any, commit: Any
) -> None:
    rows = (row(height="456.5", read="2026-10-07 10:20"), row(height="455.0"))
    answer = commit(technician, "specimen-heights", book(*rows))
    assert answer.json()["counts_text"] == "1 new lot, 1 specimen, 2 readings"
    heights = Reading.objects.order_by("created_at").values_list("height_mm", flat=True)
    assert list(heights) == [Decimal("455.0"), Decimal("456.5")]


def test_all_bad_readings_of_one_drop_are_told(
    fill: Any, grade: Any, technician: Any, preview: Any
) -> None:
    rows = (row("square", "4125"), row("bar"), row("disc", ""), row("tee", person="nobody"))
    bad = preview(technician, "specimen-heights", book(*rows)).json()["bad"]
    assert [(item["row"], item["column"]) for item in bad] == [
        (2, "height, mm"),
        (4, "height, mm"),
        (5, "person"),
    ]


def test_a_known_lot_needs_no_grade(
    fill: Any, grade: Any, technician: Any, commit: Any, preview: Any
) -> None:
    factories.make_lot(actor=technician, grade=grade)
    answer = commit(technician, "specimen-heights", book(row(lot=" wr-2211 ", grade="")))
    assert answer.status_code == 201, answer.content
    assert "samples.lot" not in answer.json()["counts"]


def test_lot_codes_stay_text_and_doubts_are_remarked(
    fill: Any, grade: Any, technician: Any, preview: Any, commit: Any
) -> None:
    rows = book(row(lot="00123"), row("bar", lot="1E5"), row("disc", lot="3-4"))
    body = preview(technician, "specimen-heights", rows).json()
    assert body["ready"]
    assert [(r["row"], r["column"], r["value"]) for r in body["remarks"]] == [
        (3, "lot", "1E5"),
        (4, "lot", "3-4"),
    ]
    assert commit(technician, "specimen-heights", rows).status_code == 201
    assert set(Lot.objects.values_list("code", flat=True)) == {"00123", "1E5", "3-4"}


def test_a_specimen_dropped_before_a_later_clearing_pass_is_not_in_the_column(
    fill: Any, grade: Any, technician: Any, commit: Any
) -> None:
    started_at = datetime(2026, 10, 8, 7, tzinfo=UTC)
    begun = start_basket_pass(actor=technician, fill=fill, clock=factories.clock_at(started_at))
    cleared = finish_basket_pass(
        actor=technician,
        basket_pass=begun,
        floats_out=9,
        floats_in=9,
        clock=factories.clock_at(started_at + timedelta(minutes=70)),
    )
    assert commit(technician, "specimen-heights", book(row())).status_code == 201
    specimen = Specimen.objects.get()
    assert (specimen.removed_in, specimen.removed_at) == (cleared, cleared.ended_at)


def test_a_lot_is_registered_by_its_first_row_however_far_the_others_are(
    fill: Any, grade: Any, technician: Any, commit: Any, preview: Any, monkeypatch: Any
) -> None:
    """A preview tries rows out in slices; those of one lot stay together."""
    monkeypatch.setattr(services, "SLICE_ROWS", 1)
    others = [row("disc", lot=f"L-{number}") for number in range(3)]
    content = book(row(), *others, row("bar", grade=""))
    body = preview(technician, "specimen-heights", content).json()
    assert body["bad"] == []
    made = commit(technician, "specimen-heights", content).json()
    assert body["would_make"] == made["counts"]
    assert made["counts_text"] == "4 new lots, 5 specimens, 5 readings"


def test_events_that_end_a_calibration_are_seen_in_an_import(
    fill: Any, grade: Any, manager: Any, technician: Any, commit: Any
) -> None:
    """They are looked up once for the file, for every time that is in it."""
    place_hold(
        actor=manager,
        fill=fill,
        reason="cloudy at the bottom",
        lifts_when="clear again",
        clock=factories.clock_at(OPENED_AT + timedelta(hours=2)),
    )
    rows = [
        row("square", read="2026-10-07 09:50"),
        row("bar", read="2026-10-07 10:10"),
        row("disc", read="2026-10-07 09:55"),
    ]
    assert commit(technician, "specimen-heights", book(*rows)).status_code == 201
    found = DensityResult.objects.order_by("reading__specimen__number")
    assert [result.outcome for result in found] == ["measured", "none", "measured"]


BAD = [
    (row(height="4125"), "height, mm", "0 to 700"),
    (row(height="-3"), "height, mm", "0 to 700"),
    (row(height="455,0"), "height, mm", "decimal mark"),
    (row(height="abc"), "height, mm", "one plain number"),
    (row(height="1e999"), "height, mm", "one plain number"),
    (row(height="455.123"), "height, mm", "at most 2 decimal places in mm"),
    (row(height=""), "height, mm", "a height or an outcome"),
    (row(height="", outcome="at rest"), "height, mm", "has a height"),
    (row(height="455", outcome="off the top"), "height, mm", "no height"),
    (row(outcome="floating"), "outcome", "one of: at rest"),
    (row("star"), "shape", "one of: square"),
    (row(lot=""), "lot", "empty"),
    (row(lot="WR\u0410-1"), "lot", "different scripts"),
    (row(lot="x" * 41), "lot", "at most 40 characters"),
    (row(lot="WR-2", grade=""), "grade", "a grade, because this lot is not registered"),
    (row(grade="Dunlin"), "grade", "name of a grade"),
    (row(column="Oak"), "column", "name of a column"),
    (row(person="nobody"), "person", "person with an account"),
    (row(dropped="2026-10-07 09:30"), "read at", "before the drop"),
    (row(dropped="2026-10-01 09:00"), "dropped at", "was filled"),
    (row(dropped="2026-10-06 09:00"), "", "settling"),
    (row(read="2099-01-01 10:00"), "read at", "in the future"),
    (row(read="2026-10-25 01:30"), "read at", "came twice"),
    (row(read="10:04"), "read at", "a day such as"),
]


def test_each_bad_row_is_told(
    fill: Any, grade: Any, technician: Any, preview: Any, subtests: Any
) -> None:
    for bad_row, column, expected in BAD:
        with subtests.test(row=bad_row):
            bad = preview(technician, "specimen-heights", book(bad_row)).json()["bad"]
            assert [(item["row"], item["column"]) for item in bad] == [(2, column)]
            assert expected in bad[0]["expected"]


@pytest.mark.parametrize("bad_row", [row(height="4125"), row(person="nobody")])
def test_a_file_with_a_bad_row_is_refused_whole(
    bad_row: list, fill: Any, grade: Any, technician: Any, commit: Any
) -> None:
    content = book(row("bar"), bad_row, row("disc"))
    answer = commit(technician, "specimen-heights", content)
    assert (answer.status_code, answer.json()["code"]) == (422, "rows_not_valid")
    assert [item["row"] for item in answer.json()["bad"]] == [3]
    for model in (Lot, Specimen, Reading, ImportBatch):
        assert not model.objects.exists()


@pytest.mark.parametrize(
    ("rows", "bad_row", "column"),
    [
        ((row(), row(height="456")), 3, "read at"),
        ((row(), row(grade="Dunlin", read="2026-10-07 10:20")), 3, "grade"),
    ],
)
def test_rows_of_one_specimen_that_contradict_each_other_are_told(
    rows: tuple, bad_row: int, column: str, fill: Any, grade: Any, technician: Any, preview: Any
) -> None:
    bad = preview(technician, "specimen-heights", book(*rows)).json()["bad"]
    assert [(item["row"], item["column"]) for item in bad] == [(bad_row, column)]


def test_another_grade_than_that_of_the_lot_is_refused(
    fill: Any, grade: Any, manager: Any, technician: Any, preview: Any
) -> None:
    factories.make_lot(actor=technician, grade=grade)
    factories.make_grade(actor=manager, name="Dunlin polypropylene")
    content = book(row(grade="Dunlin polypropylene"))
    bad = preview(technician, "specimen-heights", content).json()["bad"]
    assert [(item["column"], item["expected"]) for item in bad] == [
        ("grade", "Wren film, as this lot is registered, or an empty cell")
    ]


def test_a_specimen_that_is_recorded_already_is_refused(
    fill: Any, grade: Any, technician: Any, preview: Any, commit: Any
) -> None:
    assert commit(technician, "specimen-heights", book(*THREE)).status_code == 201
    bad = preview(technician, "specimen-heights", book(row(height="455.5"))).json()["bad"]
    assert [(item["column"], item["row"]) for item in bad] == [("dropped at", 2)]


def test_a_closed_column_needs_a_reason_and_the_right_to_override(
    fill: Any, grade: Any, technician: Any, shift_lead: Any, preview: Any, commit: Any
) -> None:
    headers = [*HEADERS, "override reason"]
    closed = {"dropped": "2026-10-07 20:00", "read": "2026-10-07 20:30"}
    asked = book([*row(**closed), ""], headers=headers)
    assert not preview(shift_lead, "specimen-heights", asked).json()["ready"]
    told = book([*row(**closed), "needed before the shift ended"], headers=headers)
    bad = preview(technician, "specimen-heights", told).json()["bad"]
    assert [item["row"] for item in bad] == [2]
    assert "As technician you may not do this" in bad[0]["expected"]
    assert commit(technician, "specimen-heights", told).status_code == 422
    assert commit(shift_lead, "specimen-heights", told).status_code == 201
    assert Specimen.objects.get().override_reason == "needed before the shift ended"


def test_who_typed_it_may_not_release_it(
    fill: Any, grade: Any, technician: Any, shift_lead: Any, manager: Any, commit: Any
) -> None:
    from labsite.errors import LabError
    from samples.services.determinations import release_determination

    assert commit(shift_lead, "specimen-heights", book(*THREE)).status_code == 201
    found = factories.make_determination(actor=technician, lot=Lot.objects.get())
    with pytest.raises(LabError):
        release_determination(actor=shift_lead, determination=found)
    assert release_determination(actor=manager, determination=found).released_by == manager


@pytest.mark.parametrize("role", ["auditor", "administrator"])
def test_roles_that_do_not_measure_are_refused(
    role: str, request: Any, fill: Any, grade: Any, preview: Any, commit: Any
) -> None:
    person = request.getfixturevalue(role)
    assert preview(person, "specimen-heights", book(row())).status_code == 403
    assert commit(person, "specimen-heights", book(row())).status_code == 403
