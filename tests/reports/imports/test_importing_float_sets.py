"""Float sets typed from a logbook: one row a float, or one row a set."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from columns.models import BathTemperature, FloatSet
from columns.selectors.calibrations import calibration_state
from labsite.audit.models import AuditEntry
from reports.models import ImportBatch
from tests import factories
from tests.reports.imports.files import csv_of

pytestmark = pytest.mark.django_db
POURED_AT = datetime(2026, 10, 1, 8, tzinfo=UTC)
READ = "2026-10-05 10:04"  # British summer time: 09:04 UTC
READ_AT = datetime(2026, 10, 5, 9, 4, tzinfo=UTC)
LONG = ["column", "read at", "person", "bath temperature", "float", "height (mm)", "reason"]
SHARED = ["Ash", READ, "imre", "23.02"]


@pytest.fixture
def fill(manager: Any) -> Any:
    return factories.make_settling_fill(actor=manager, at=POURED_AT)


def heights() -> list[tuple[str, str]]:
    return [
        (f"F-1{number:02d}", height)
        for number, (_density, height) in enumerate(factories.NINE_FLOATS, start=1)
    ]


def long_rows(**replaced: list[str]) -> list[list[str]]:
    """Nine rows; `replaced` gives the last three cells of a row by the float ("F_103")."""
    rows = []
    for label, height in heights():
        own = replaced.get(label.replace("-", "_"), [label, height, ""])
        rows.append([*SHARED, *own])
    return [LONG, *rows]


def wide_rows(**replaced: str) -> list[list[str]]:
    cells = [replaced.get(label.replace("-", "_"), height) for label, height in heights()]
    return [["column", "read at", "reader", "temperature °C", *(label for label, _h in heights())],
            [*SHARED, *cells]]  # fmt: skip


@pytest.mark.parametrize("rows", [long_rows(), wide_rows()])
def test_a_set_is_saved_with_its_reader_and_calibration(
    rows: list, fill: Any, technician: Any, other_technician: Any, commit: Any
) -> None:
    answer = commit(other_technician, "float-sets", csv_of(rows))
    assert answer.status_code == 201, answer.content
    assert answer.json()["counts_text"] == "1 float set"
    float_set = FloatSet.objects.get()
    assert (float_set.read_by, float_set.read_at) == (technician, READ_AT)
    assert float_set.bath_temperature_c == Decimal("23.02")
    assert float_set.note == "From the logbook: book.csv, row 2."
    assert float_set.heights.count() == 9
    assert float_set.heights.get(calibration_float__label="F-103").height_mm == Decimal("502.0")
    assert float_set.calibrations.get().passes
    assert BathTemperature.objects.get().measured_by == technician
    state = calibration_state(fill, READ_AT + timedelta(hours=1))
    assert state.calibration == float_set.calibrations.get()
    entry = AuditEntry.objects.get(object_type="columns.floatset")
    assert entry.actor == other_technician


@pytest.mark.parametrize(
    "rows",
    [long_rows(F_103=["F-103", "", "broken off"]), long_rows(F_103=["F-103", "broken off", ""]),
     wide_rows(F_103="broken off")],
)  # fmt: skip
def test_a_missing_height_keeps_its_reason(
    rows: list, fill: Any, technician: Any, commit: Any
) -> None:
    answer = commit(technician, "float-sets", csv_of(rows))
    assert answer.status_code == 201, answer.content
    missing = FloatSet.objects.get().heights.get(calibration_float__label="F-103")
    assert (missing.height_mm, missing.missing_reason) == (None, "broken off")


def test_layout_is_named(fill: Any, technician: Any, preview: Any) -> None:
    texts = [
        next(g["text"] for g in preview(technician, "float-sets", csv_of(rows)).json()["guesses"]
             if g["name"] == "layout")
        for rows in (long_rows(), wide_rows())
    ]  # fmt: skip
    assert texts == [
        "one row for each float; rows of one column and time are one set",
        "one row for each set, floats as headers",
    ]


def test_offsets_of_local_times_are_named(fill: Any, technician: Any, preview: Any) -> None:
    body = preview(technician, "float-sets", csv_of(wide_rows())).json()
    zone = next(guess for guess in body["guesses"] if guess["name"] == "time_zone")
    assert zone["value"] == "Europe/London"
    assert zone["why"] == "in this file that is UTC +01:00"
    assert body["rows"][0]["values"][1] == "2026-10-05 10:04+01:00"
    in_utc = preview(technician, "float-sets", csv_of(wide_rows()), choices={"time_zone": "UTC"})
    assert in_utc.json()["rows"][0]["values"][1] == "2026-10-05 10:04+00:00"


def swapped() -> list[list[str]]:
    return long_rows(F_103=["F-103", "429.0", ""], F_104=["F-104", "502.0", ""])


BAD = [
    (swapped(), 4, "height (mm)", "two lines swapped?"),
    (wide_rows(F_103="429.0", F_104="502.0"), 2, "F-103", "two lines swapped?"),
    (long_rows(F_103=["F-103", "4125", ""]), 4, "height (mm)", "0 to 700"),
    (wide_rows(F_103="4125"), 2, "F-103", "0 to 700"),
    (long_rows(F_103=["F-103", "502,0", ""]), 4, "height (mm)", "decimal mark"),
    (long_rows(F_103=["F-103", "-3", ""]), 4, "height (mm)", "0 to 700"),
    (long_rows(F_103=["F-103", "568.5", ""]), 3, "height (mm)", "same height"),
    (long_rows(F_103=["F-103", "", ""]), 4, "height (mm)", "say why"),
    (long_rows(F_103=["F-103", "", "."]), 4, "reason", "Say why"),
    (long_rows(F_103=["F-103", "502.0", "broken"]), 4, "reason", "Keep one"),
    (long_rows(F_103=["F-999", "502.0", ""]), 4, "float", "label of a float"),
    (long_rows(F_103=["F-104", "502.0", ""]), 5, "float", "twice"),
    (wide_rows(F_103=""), 2, "", "No line for F-103"),
    (wide_rows(F_103="-"), 2, "F-103", "Say why"),
    ([*long_rows(), [*SHARED[:3], "23.1", "F-101", "1", ""]], 11, "bath temperature",
     "the same as in row 2"),
    ([*wide_rows(), wide_rows()[1]], 3, "read at", "earlier row"),
]  # fmt: skip


def test_each_bad_row_is_told(fill: Any, technician: Any, preview: Any, subtests: Any) -> None:
    for number, (rows, row, column, expected) in enumerate(BAD):
        with subtests.test(number=number, expected=expected):
            body = preview(technician, "float-sets", csv_of(rows)).json()
            assert not body["ready"]
            assert [(bad["row"], bad["column"]) for bad in body["bad"]] == [(row, column)]
            assert expected in body["bad"][0]["expected"]


@pytest.mark.parametrize("rows", [swapped(), wide_rows(F_103="4125")])
def test_a_bad_set_is_not_saved(rows: list, fill: Any, technician: Any, commit: Any) -> None:
    assert commit(technician, "float-sets", csv_of(rows)).status_code == 422
    assert not FloatSet.objects.exists()
    assert not BathTemperature.objects.exists()
    assert not ImportBatch.objects.exists()


BAD_SHARED = [
    (["Oak", READ, "imre", "23.0"], "column", "name of a column"),
    (["Ash", "2026-09-01 10:00", "imre", "23.0"], "read at", "was filled"),
    (["Ash", "2099-01-01 10:00", "imre", "23.0"], "read at", "in the future"),
    (["Ash", "2026-10-25 01:30", "imre", "23.0"], "read at", "came twice"),
    (["Ash", "2026-03-29 01:30", "imre", "23.0"], "read at", "put forward"),
    (["Ash", READ, "nobody", "23.0"], "reader", "person with an account"),
    (["Ash", READ, "restheight", "23.0"], "reader", "person with an account"),
    (["Ash", READ, "imre", "73.4"], "temperature °C", "73.4"),
    (["Ash", READ, "imre", "296.15"], "temperature °C", "296.15"),
    (["Ash", READ, "imre", ""], "temperature °C", "empty"),
]


def test_what_a_set_has_in_common_is_checked(
    fill: Any, technician: Any, preview: Any, subtests: Any
) -> None:
    for shared, column, expected in BAD_SHARED:
        with subtests.test(shared=shared):
            rows = wide_rows()
            rows[1][:4] = shared
            bad = preview(technician, "float-sets", csv_of(rows)).json()["bad"]
            assert [(item["row"], item["column"]) for item in bad] == [(2, column)]
            assert expected in bad[0]["expected"]


def test_kelvin_and_centimetres_are_converted_and_named(
    fill: Any, technician: Any, commit: Any, preview: Any
) -> None:
    rows = long_rows()
    rows[0] = [*LONG[:3], "bath temperature (K)", "float", "height [cm]", "reason"]
    for row in rows[1:]:
        row[3] = "296.17"
        row[5] = str(Decimal(row[5]) / 10)
    guesses = preview(technician, "float-sets", csv_of(rows)).json()["guesses"]
    units = next(guess["text"] for guess in guesses if guess["name"] == "units")
    assert "“height [cm]” is converted from cm to mm" in units
    assert commit(technician, "float-sets", csv_of(rows)).status_code == 201
    float_set = FloatSet.objects.get()
    assert float_set.bath_temperature_c == Decimal("23.02")
    assert float_set.heights.get(calibration_float__label="F-102").height_mm == Decimal("568.50")


@pytest.mark.parametrize(
    "headers",
    [
        [*LONG[:4]],
        [*LONG[:5]],
        [*LONG[:4], "F-101", "float", "height"],
        [*LONG, "F-999"],
    ],
)
def test_layouts_that_do_not_go_together_are_refused(
    headers: list, fill: Any, technician: Any, preview: Any
) -> None:
    answer = preview(technician, "float-sets", csv_of([headers, ["x"] * len(headers)]))
    assert (answer.status_code, answer.json()["code"]) == (422, "columns_wrong")


def test_a_set_that_is_recorded_already_is_refused(
    fill: Any, technician: Any, commit: Any, preview: Any
) -> None:
    assert commit(technician, "float-sets", csv_of(long_rows())).status_code == 201
    bad = preview(technician, "float-sets", csv_of(wide_rows())).json()["bad"]
    assert [(item["row"], item["column"]) for item in bad] == [(2, "read at")]
    assert "not recorded yet" in bad[0]["expected"]


def test_a_bad_set_among_good_ones_saves_none(
    fill: Any, technician: Any, commit: Any, preview: Any
) -> None:
    rows = wide_rows()
    for day in range(6, 10):
        rows.append(["Ash", f"2026-10-{day:02d} 10:04", *rows[1][2:]])
    assert preview(technician, "float-sets", csv_of(rows)).json()["would_make"] == {
        "columns.floatset": 5
    }
    rows[3][4], rows[3][5] = rows[3][5], rows[3][4]
    body = preview(technician, "float-sets", csv_of(rows)).json()
    assert {item["row"] for item in body["bad"]} == {4}
    assert commit(technician, "float-sets", csv_of(rows)).status_code == 422
    assert not FloatSet.objects.exists()


def test_people_are_found_by_full_name_and_doubles_are_asked(
    fill: Any, technician: Any, preview: Any
) -> None:
    rows = wide_rows()
    rows[1][2] = " IMRE "
    assert preview(technician, "float-sets", csv_of(rows)).json()["ready"]
    factories.make_person(username="imre2", full_name="Twin")
    factories.make_person(username="imre3", full_name="twin")
    rows[1][2] = "Twin"
    bad = preview(technician, "float-sets", csv_of(rows)).json()["bad"]
    assert "sign-in name" in bad[0]["expected"]


@pytest.mark.parametrize("role", ["auditor", "administrator"])
def test_roles_that_do_not_measure_are_refused(
    role: str, request: Any, fill: Any, preview: Any, commit: Any
) -> None:
    person = request.getfixturevalue(role)
    assert preview(person, "float-sets", csv_of(long_rows())).status_code == 403
    assert commit(person, "float-sets", csv_of(long_rows())).status_code == 403
