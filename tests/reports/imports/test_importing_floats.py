"""Floats with their certificates come in from a file: previewed, then all or none."""

from __future__ import annotations

import csv
import io
from decimal import Decimal
from typing import Any

import pytest

from columns.models import CalibrationFloat, Certificate
from labsite.audit.models import AuditEntry
from reports.models import ImportBatch
from tests import factories
from tests.reports.imports.conftest import upload
from tests.reports.imports.files import FLOAT_HEADERS, csv_of, float_row, floats_file
from tests.reports.imports.workbooks import bomb, make_workbook

pytestmark = pytest.mark.django_db
IMPORTS = "/api/v1/imports/"


def nothing_saved() -> bool:
    models = (CalibrationFloat, Certificate, ImportBatch)
    return not any(model.objects.exists() for model in models)


def lab_entries() -> Any:
    return AuditEntry.objects.exclude(object_type="accounts.user")


def test_preview_names_guesses_and_saves_nothing(shift_lead: Any, preview: Any) -> None:
    answer = preview(shift_lead, "floats", floats_file(3), "certificates.csv")
    assert answer.status_code == 200, answer.content
    body = answer.json()
    assert body["ready"]
    assert body["bad"] == []
    assert body["row_count"] == 3
    assert body["would_make"] == {"columns.calibrationfloat": 3, "columns.certificate": 3}
    assert body["would_make_text"] == "3 floats, 3 certificates"
    assert body["choices"] == {
        "encoding": "utf-8",
        "delimiter": ",",
        "decimal_mark": ".",
        "date_order": "ymd",
    }
    assert body["rows"][0] == {
        "row": 2,
        "values": ["F-301", "HF-26-001", "Harrow Fell Calibration", "0.9001", "0.0001", "2",
                   "0.00002", "2026-01-15", "2028-01-14"],
    }  # fmt: skip
    units = next(guess["text"] for guess in body["guesses"] if guess["name"] == "units")
    assert units == "“common u” is taken in g/cm³"
    assert nothing_saved()
    assert not lab_entries().exists()


def test_commit_saves_all_rows_with_their_history(shift_lead: Any, commit: Any) -> None:
    answer = commit(shift_lead, "floats", floats_file(3), "certificates.csv")
    assert answer.status_code == 201, answer.content
    body = answer.json()
    assert body["counts_text"] == "3 floats, 3 certificates"
    certificate = Certificate.objects.get(calibration_float__label="F-302")
    assert certificate.density_g_cm3 == Decimal("0.9002")
    assert certificate.coverage_factor == 2
    assert certificate.common_standard_uncertainty_g_cm3 == Decimal("0.00002")
    batch = ImportBatch.objects.get()
    assert batch.imported_by == shift_lead
    assert batch.record_list[1] == {
        "row": 2,
        "type": "columns.certificate",
        "id": str(Certificate.objects.get(calibration_float__label="F-301").pk),
    }
    actions = list(lab_entries().values_list("action", flat=True).order_by("action").distinct())
    assert actions == [
        "columns.certificate.added",
        "columns.float.registered",
        "reports.import.saved",
    ]
    entry = AuditEntry.objects.get(action="reports.import.saved")
    assert entry.actor == shift_lead
    assert entry.reason == "from the file certificates.csv"


def test_a_known_float_gets_the_certificate(shift_lead: Any, commit: Any) -> None:
    known = factories.make_float(actor=shift_lead, label="F-301")
    answer = commit(shift_lead, "floats", csv_of([FLOAT_HEADERS, float_row(1, float="f-301")]))
    assert answer.status_code == 201, answer.content
    assert answer.json()["counts"] == {"columns.certificate": 1}
    assert known.certificates.count() == 2


def test_semicolons_with_decimal_commas_and_units_are_understood(
    shift_lead: Any, commit: Any
) -> None:
    headers = [*FLOAT_HEADERS[:3], "density [kg/m³]", "U [kg/m³]", "k", "issued", "valid until"]
    row = ["F-1", "7", "Own", "905,1", "0,1", "2", "13.02.2026", "12.02.2028"]
    answer = commit(shift_lead, "floats", csv_of([headers, row], delimiter=";"))
    assert answer.status_code == 201, answer.content
    certificate = Certificate.objects.get()
    assert certificate.density_g_cm3 == Decimal("0.9051")
    assert certificate.expanded_uncertainty_g_cm3 == Decimal("0.0001")
    assert str(certificate.issued_on) == "2026-02-13"
    assert answer.json()["choices"]["decimal_mark"] == ","


def test_workbook_is_imported(shift_lead: Any, commit: Any) -> None:
    row = float_row(1, density=0.9051, U=0.0001, k=2)  # numbers, as a sheet has them
    content = make_workbook([FLOAT_HEADERS, row], title="certs")
    answer = commit(shift_lead, "floats", content, "certificates.xlsx")
    assert answer.status_code == 201, answer.content
    assert answer.json()["choices"]["sheet"] == "certs"
    assert Certificate.objects.get().density_g_cm3 == Decimal("0.9051")


BAD_ROWS = [
    ({"density": "0,9051"}, "density (g/cm³)", "decimal mark"),
    ({"density": "abc"}, "density (g/cm³)", "one plain number"),
    ({"density": "NaN"}, "density (g/cm³)", "one plain number"),
    ({"density": "1e999"}, "density (g/cm³)", "one plain number"),
    ({"density": ""}, "density (g/cm³)", "the cell is empty"),
    ({"density": "950"}, "density (g/cm³)", "kg/m³"),
    ({"density": "0.095"}, "density (g/cm³)", "g/cm³"),
    ({"density": "0.12345678"}, "density (g/cm³)", "at most 6 decimal places in g/cm³"),
    ({"U": "0"}, "U (g/cm³)", "above 0"),
    ({"k": "0"}, "k", "between 1 and 5"),
    ({"k": ""}, "k", "the cell is empty"),
    ({"common": "0.001"}, "common u", "common part"),
    ({"issued": "2026-02-30"}, "issued", "a day that exists"),
    ({"issued": "15/1/26"}, "issued", "four digits"),
    ({"issued": "2029-01-01"}, "valid until", "before the day of issue"),
    ({"float": ""}, "float", "the cell is empty"),
    ({"float": "F" * 21}, "float", "at most 20 characters"),
    ({"float": "F\x07"}, "float", "control characters"),
    ({"certificate": "HF-26-001", "float": "F-301"}, "certificate number", "row 2 has it"),
]


def test_each_bad_cell_is_told_with_row_and_column(
    shift_lead: Any, preview: Any, subtests: Any
) -> None:
    for cells, column, expected in BAD_ROWS:
        with subtests.test(**cells):
            content = floats_file(4, row4=float_row(3, **cells))
            body = preview(shift_lead, "floats", content).json()
            assert not body["ready"]
            assert [(bad["row"], bad["column"]) for bad in body["bad"]] == [(4, column)]
            assert expected in body["bad"][0]["expected"]


@pytest.mark.parametrize("cells", [{"density": "abc"}, {"density": "950"}])
def test_a_file_with_a_bad_row_is_refused_whole(
    cells: dict, shift_lead: Any, preview: Any, commit: Any
) -> None:
    content = floats_file(4, row4=float_row(3, **cells))
    answer = commit(shift_lead, "floats", content)
    assert (answer.status_code, answer.json()["code"]) == (422, "rows_not_valid")
    assert answer.json()["bad"] == preview(shift_lead, "floats", content).json()["bad"]
    assert nothing_saved()
    assert not lab_entries().exists()


def test_one_bad_row_of_500_saves_none_and_can_be_downloaded(shift_lead: Any, preview: Any) -> None:
    """The bad row is one that only the service refuses, after 499 others were tried."""
    content = floats_file(500, row501=float_row(500, certificate="=1+1", density="950"))
    body = preview(shift_lead, "floats", content).json()
    assert [bad["row"] for bad in body["bad"]] == [501]
    rows = list(csv.reader(io.StringIO(body["bad_csv"])))
    assert rows[0] == ["row", "column", "found", "expected"]
    assert rows[1][:3] == ["501", "density (g/cm³)", "950"]
    answer = upload(
        shift_lead,
        IMPORTS,
        name="a.csv",
        content=content,
        kind="floats",
        sha256=body["file"]["sha256"],
        choices=body["choices"],
    )
    assert answer.status_code == 422
    assert nothing_saved()
    assert not lab_entries().exists()


def test_the_list_of_bad_rows_cannot_act_in_a_spreadsheet(shift_lead: Any, preview: Any) -> None:
    content = floats_file(2, row3=float_row(2, density="=1+1"))
    rows = list(csv.reader(io.StringIO(preview(shift_lead, "floats", content).json()["bad_csv"])))
    assert rows[1][:3] == ["3", "density (g/cm³)", "'=1+1"]


def test_all_bad_rows_are_told_at_once(shift_lead: Any, preview: Any) -> None:
    content = floats_file(
        5, row2=float_row(1, density="x", k="y"), row4=float_row(3, density="950"), row5=["F-9"]
    )
    bad = preview(shift_lead, "floats", content).json()["bad"]
    assert [(item["row"], item["column"]) for item in bad][:3] == [
        (2, "density (g/cm³)"),
        (2, "k"),
        (4, "density (g/cm³)"),
    ]
    assert {item["row"] for item in bad} == {2, 4, 5}


def test_formula_like_text_is_kept_as_text(shift_lead: Any, commit: Any) -> None:
    row = float_row(1, certificate='=HYPERLINK("x")', issuer="@x")
    assert commit(shift_lead, "floats", csv_of([FLOAT_HEADERS, row])).status_code == 201
    certificate = Certificate.objects.get()
    assert (certificate.number, certificate.issuer) == ('=HYPERLINK("x")', "@x")


def test_a_formula_of_a_workbook_is_refused(shift_lead: Any, preview: Any) -> None:
    import openpyxl

    from tests.reports.imports.workbooks import fill_sheet, saved

    book = openpyxl.Workbook()
    fill_sheet(book.active, [FLOAT_HEADERS, float_row(1)])
    book.active["D2"] = "=0.9+0.0051"
    bad = preview(shift_lead, "floats", saved(book), "a.xlsx").json()["bad"]
    assert [(item["row"], item["column"], item["value"]) for item in bad] == [
        (2, "density (g/cm³)", "=0.9+0.0051")
    ]
    assert "formula" in bad[0]["expected"]


def test_codes_changed_by_a_sheet_are_remarked(shift_lead: Any, preview: Any) -> None:
    content = csv_of(
        [
            FLOAT_HEADERS,
            float_row(1, certificate="00123"),
            float_row(2, certificate="1E5"),
            float_row(3, certificate="3-4"),
        ]
    )
    body = preview(shift_lead, "floats", content).json()
    assert body["ready"]
    assert [(r["row"], r["value"]) for r in body["remarks"]] == [(3, "1E5"), (4, "3-4")]
    numbers = make_workbook([FLOAT_HEADERS, float_row(1, certificate=123)])
    remarks = preview(shift_lead, "floats", numbers, "a.xlsx").json()["remarks"]
    assert "zeros at its start" in remarks[0]["text"]


@pytest.mark.parametrize(
    ("headers", "fields"),
    [
        (FLOAT_HEADERS[:-1], {"missing": ["Valid until"]}),
        ([*FLOAT_HEADERS, "colour"], {"unknown": ["colour"]}),
        ([*FLOAT_HEADERS, "Float ID"], {"double": ["float", "Float ID"]}),
        ([*FLOAT_HEADERS[:4], "u", *FLOAT_HEADERS[5:]],
         {"missing": ["Expanded uncertainty U"], "unknown": ["u"]}),
    ],
)  # fmt: skip
def test_wrong_headers_are_refused_before_any_row(
    headers: list, fields: dict, shift_lead: Any, preview: Any
) -> None:
    answer = preview(shift_lead, "floats", csv_of([headers, float_row(1)]))
    assert (answer.status_code, answer.json()["code"]) == (422, "columns_wrong")
    assert answer.json()["fields"] == fields


def test_cells_without_a_header_are_told(shift_lead: Any, preview: Any) -> None:
    body = preview(shift_lead, "floats", csv_of([FLOAT_HEADERS, [*float_row(1), "x"]])).json()
    assert [(bad["row"], bad["column"], bad["value"]) for bad in body["bad"]] == [(2, "J", "x")]


@pytest.mark.parametrize(
    ("name", "content", "status", "code"),
    [
        ("a.csv", b"x" * (5 * 1024 * 1024 + 10), 413, "file_too_large"),
        ("a.csv", b"x" * (6 * 1024 * 1024), 413, "file_too_large"),
        ("a.xlsx", bomb(30 * 1024 * 1024), 413, "unzipped_too_large"),
        ("a.csv", make_workbook([["a"], ["b"]]), 415, "workbook_named_csv"),
        ("a.csv", b"\x89PNG\r\n\x1a\n" + b"0" * 99, 415, "file_type"),
        ("a.pdf", b"%PDF-1.7", 415, "file_type"),
        ("a.csv", b"", 400, "file_empty"),
        ("a.csv", b"float\n", 422, "no_rows"),
    ],
)
def test_files_that_are_none_are_refused(
    name: str, content: bytes, status: int, code: str, shift_lead: Any, preview: Any
) -> None:
    answer = preview(shift_lead, "floats", content, name)
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert set(answer.json()) >= {"code", "message", "fields"}


def test_ambiguous_days_are_asked_and_then_taken_as_chosen(
    shift_lead: Any, preview: Any, commit: Any
) -> None:
    row = float_row(1, issued="03/02/2026", valid="03/02/2028")
    content = csv_of([FLOAT_HEADERS, row])
    body = preview(shift_lead, "floats", content).json()
    question = next(guess for guess in body["guesses"] if guess["is_question"])
    assert question["name"] == "date_order"
    assert not body["ready"]
    assert "date_order" not in body["choices"]
    refused = commit(shift_lead, "floats", content)
    assert (refused.status_code, refused.json()["code"]) == (422, "choices_incomplete")
    assert nothing_saved()
    chosen = preview(shift_lead, "floats", content, choices={"date_order": "mdy"}).json()
    assert chosen["ready"]
    answer = commit(shift_lead, "floats", content, choices=chosen["choices"])
    assert answer.status_code == 201, answer.content
    assert str(Certificate.objects.get().issued_on) == "2026-03-02"


def test_the_same_file_is_taken_once(shift_lead: Any, preview: Any, commit: Any) -> None:
    content = floats_file(2)
    first = commit(shift_lead, "floats", content, "monday.csv").json()
    again = preview(shift_lead, "floats", content, "tuesday.csv").json()
    assert not again["ready"]
    assert again["earlier"]["id"] == first["id"]
    assert again["bad"] == []
    answer = commit(shift_lead, "floats", content, "tuesday.csv")
    assert (answer.status_code, answer.json()["code"]) == (409, "already_imported")
    assert "monday.csv" in answer.json()["message"]
    assert answer.json()["earlier"] == first["id"]
    assert ImportBatch.objects.count() == 1


def test_a_repeated_request_gives_the_first_answer(shift_lead: Any, commit: Any) -> None:
    content = floats_file(2)
    first = commit(shift_lead, "floats", content, key="one-key")
    again = commit(shift_lead, "floats", content, key="one-key")
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json() == first.json()
    other = commit(shift_lead, "floats", floats_file(3), key="one-key")
    assert (other.status_code, other.json()["code"]) == (422, "idempotency_key_reused")


def test_a_commit_needs_a_key(shift_lead: Any) -> None:
    answer = upload(shift_lead, IMPORTS, name="a.csv", content=floats_file(1), key=" ")
    assert (answer.status_code, answer.json()["code"]) == (400, "idempotency_key_required")


def test_another_file_than_the_previewed_one_is_refused(shift_lead: Any, commit: Any) -> None:
    answer = commit(shift_lead, "floats", floats_file(2), sha256="0" * 64)
    assert (answer.status_code, answer.json()["code"]) == (409, "file_changed")
    assert nothing_saved()


@pytest.mark.parametrize("choices", [{}, {"decimal_mark": "."}, {"colour": "red"}, {"sheet": "x"}])
def test_choices_must_be_those_of_the_preview(choices: dict, shift_lead: Any, preview: Any) -> None:
    content = floats_file(1)
    sha256 = preview(shift_lead, "floats", content).json()["file"]["sha256"]
    answer = upload(shift_lead, IMPORTS, name="a.csv", content=content, kind="floats",
                    sha256=sha256, choices=choices)  # fmt: skip
    assert answer.status_code == 422
    assert nothing_saved()


def test_clashing_with_the_lab_between_preview_and_commit_saves_nothing(
    shift_lead: Any, preview: Any
) -> None:
    content = floats_file(3)
    seen = preview(shift_lead, "floats", content).json()
    other = factories.make_float(actor=shift_lead, label="F-303", number="HF-26-003")
    answer = upload(shift_lead, IMPORTS, name="a.csv", content=content, kind="floats",
                    sha256=seen["file"]["sha256"], choices=seen["choices"])  # fmt: skip
    assert answer.status_code == 422
    assert answer.json()["bad"][0]["row"] == 4
    assert list(CalibrationFloat.objects.all()) == [other]


@pytest.mark.parametrize("role", ["technician", "auditor", "administrator"])
def test_roles_that_may_not_keep_floats_are_refused(
    role: str, request: Any, preview: Any, commit: Any
) -> None:
    person = request.getfixturevalue(role)
    for send in (preview, commit):
        answer = send(person, "floats", floats_file(1))
        assert answer.status_code == 403, answer.content
    assert nothing_saved()


def test_nobody_signed_in_is_refused(preview: Any) -> None:
    assert preview(None, "floats", floats_file(1)).status_code == 401


def test_unknown_kinds_and_fields_are_refused(shift_lead: Any, preview: Any) -> None:
    assert preview(shift_lead, "spoons", floats_file(1)).json()["code"] == "kind_unknown"
    answer = preview(shift_lead, "floats", floats_file(1), force="yes")
    assert (answer.status_code, answer.json()["code"]) == (422, "unknown_field")
    answer = preview(shift_lead, "floats", floats_file(1), choices="[1]")
    assert (answer.status_code, list(answer.json()["fields"])) == (422, ["choices"])


def test_imports_are_listed_and_shown(shift_lead: Any, auditor: Any, commit: Any,
                                      as_person: Any) -> None:  # fmt: skip
    made = commit(shift_lead, "floats", floats_file(2), "certificates.csv").json()
    listed = as_person(auditor).get(IMPORTS).json()
    assert [row["id"] for row in listed["results"]] == [made["id"]]
    shown = as_person(auditor).get(f"{IMPORTS}{made['id']}/").json()
    assert shown["file_name"] == "certificates.csv"
    assert [(record["row"], record["type"]) for record in shown["records"]] == [
        (2, "columns.calibrationfloat"),
        (2, "columns.certificate"),
        (3, "columns.calibrationfloat"),
        (3, "columns.certificate"),
    ]


def test_the_list_takes_few_queries(
    shift_lead: Any, commit: Any, as_person: Any, django_assert_max_num_queries: Any
) -> None:
    for count in (1, 2, 3):
        content = csv_of([FLOAT_HEADERS, float_row(count)])
        assert commit(shift_lead, "floats", content).status_code == 201
    client = as_person(shift_lead)
    with django_assert_max_num_queries(6):
        assert len(client.get(IMPORTS).json()["results"]) == 3
