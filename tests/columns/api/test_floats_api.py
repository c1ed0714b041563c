"""Floats and certificates through the API, documents included."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from columns.models import Fill
from columns.services import documents
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from tests import factories

pytestmark = pytest.mark.django_db

PDF = b"%PDF-1.7\n1 0 obj\n"
CERTIFICATE = {
    "number": "HF-77",
    "issuer": "Harrow Fell Calibration",
    "density_g_cm3": "0.9051",
    "expanded_uncertainty_g_cm3": "0.0001",
    "issued_on": "2026-01-01",
    "valid_until": "2027-01-01",
}


@pytest.fixture
def spare(shift_lead: User) -> Any:
    return factories.make_float(actor=shift_lead, label="F-901")


def test_a_float_shows_its_certificate_and_where_it_is(as_technician: Any, open_fill: Fill) -> None:
    each = open_fill.placements.first().calibration_float
    found = as_technician.get(f"/api/v1/floats/{each.pk}/").json()
    assert found["certificate"]["number"] == f"HF-{each.label}"
    assert found["fill"] == str(open_fill.pk)
    assert found["is_quarantined"] is False


def test_a_float_in_two_fills_at_once_is_a_conflict(as_technician: Any, open_fill: Fill) -> None:
    each = open_fill.placements.first().calibration_float
    answer = as_technician.post(
        "/api/v1/placements/", {"calibration_float": str(each.pk), "fill": str(open_fill.pk)}
    )
    assert (answer.status_code, answer.json()["code"]) == (409, "float_in_a_fill")


@pytest.mark.parametrize(
    ("fields", "status", "field"),
    [
        ({"density_g_cm3": "950"}, 422, "density_g_cm3"),
        ({"density_g_cm3": "0.095"}, 422, "density_g_cm3"),
        ({"density_g_cm3": "0,9051"}, 201, None),
        ({"density_g_cm3": "abc"}, 422, "density_g_cm3"),
        ({"valid_until": "2025-12-31"}, 422, "valid_until"),
        ({"valid_until": "2026-02-30"}, 422, "valid_until"),
        ({"issued_on": "01.02.2026"}, 422, "issued_on"),
        ({"expanded_uncertainty_g_cm3": "0.1"}, 422, "expanded_uncertainty_g_cm3"),
        ({"number": "HF-F-901"}, 409, "number"),
        ({"number": "   "}, 422, "number"),
        ({"calibration_float": "F-901"}, 422, "calibration_float"),
        ({"calibration_float": str(uuid.uuid4())}, 422, "calibration_float"),
    ],
)
def test_a_certificate_is_checked_by_field(
    as_lead: Any, spare: Any, fields: dict[str, str], status: int, field: str | None
) -> None:
    body = {"calibration_float": str(spare.pk), **CERTIFICATE, **fields}
    before = AuditEntry.objects.count()
    answer = as_lead.post("/api/v1/certificates/", body)
    assert answer.status_code == status, answer.json()
    if field:
        assert list(answer.json()["fields"]) == [field]
        assert AuditEntry.objects.count() == before


def test_a_density_in_kg_per_m3_comes_with_a_suggestion(as_lead: Any, spare: Any) -> None:
    body = {"calibration_float": str(spare.pk), **CERTIFICATE, "density_g_cm3": "950"}
    told = as_lead.post("/api/v1/certificates/", body).json()
    assert (told["code"], told["suggestion"]) == ("density_unit", {"density_g_cm3": "0.950000"})
    assert "kg/m³" in told["message"]


# Documents


@pytest.fixture
def upload() -> Any:
    """POST a file as a page's form would."""

    def post(client: Any, certificate: Any, content: bytes, key: str = "", **extra: Any) -> Any:
        return super(type(client), client).post(
            f"/api/v1/certificates/{certificate.pk}/document/",
            {"document": SimpleUploadedFile("scan.pdf", content)},
            format="multipart",
            HTTP_IDEMPOTENCY_KEY=key or uuid.uuid4().hex,
            **extra,
        )

    return post


@pytest.fixture
def certificate(spare: Any) -> Any:
    return spare.certificates.get()


def test_a_document_is_attached_and_downloaded(
    as_lead: Any, as_technician: Any, certificate: Any, upload: Any
) -> None:
    path = f"/api/v1/certificates/{certificate.pk}/document/"
    assert as_technician.get(path).status_code == 404
    done = upload(as_lead, certificate, PDF)
    assert done.status_code == 201, done.json()
    assert done.json()["has_document"] is True
    found = as_technician.get(path)
    assert b"".join(found.streaming_content) == PDF
    assert found.headers["Content-Type"] == "application/pdf"
    assert found.headers["Content-Disposition"].startswith("attachment")
    assert found.headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize("content", [b"PK\x03\x04 spreadsheet", b"<html></html>"])
def test_another_kind_of_file_is_refused(
    as_lead: Any, certificate: Any, upload: Any, content: bytes
) -> None:
    answer = upload(as_lead, certificate, content)
    assert (answer.status_code, answer.json()["code"]) == (415, "document_type")


def test_a_file_that_is_too_large_is_refused_before_it_is_read(
    as_lead: Any, certificate: Any, upload: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = upload(as_lead, certificate, PDF, CONTENT_LENGTH=str(200 * 1024 * 1024))
    assert (answer.status_code, answer.json()["code"]) == (413, "document_too_large")
    monkeypatch.setattr(documents, "LARGEST_BYTES", 5)
    assert upload(as_lead, certificate, PDF).status_code == 413


def test_a_json_body_is_no_document(as_lead: Any, certificate: Any) -> None:
    answer = as_lead.post(f"/api/v1/certificates/{certificate.pk}/document/", {"document": "x"})
    assert answer.status_code == 415


def test_a_technician_attaches_none(as_technician: Any, certificate: Any, upload: Any) -> None:
    assert upload(as_technician, certificate, PDF).status_code == 403


def test_a_key_used_for_another_file_is_refused(
    as_lead: Any, certificate: Any, upload: Any
) -> None:
    first = upload(as_lead, certificate, PDF, key="k")
    assert upload(as_lead, certificate, PDF, key="k").json() == first.json()
    other = upload(as_lead, certificate, PDF + b"another page", key="k")
    assert (other.status_code, other.json()["code"]) == (422, "idempotency_key_reused")


def test_the_same_document_twice_is_noticed(
    as_lead: Any, certificate: Any, shift_lead: User, upload: Any
) -> None:
    upload(as_lead, certificate, PDF)
    other = factories.make_float(actor=shift_lead, label="F-902", density="0.9251")
    told = upload(as_lead, other.certificates.get(), PDF).json()
    assert [each["code"] for each in told["findings"]] == ["same_document"]
