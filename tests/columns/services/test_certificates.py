"""Certificates: dates, units, numbers and documents."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from columns import audit_actions as actions
from columns.models import CalibrationFloat, Certificate
from columns.selectors.certificates import findings_of
from columns.selectors.floats import certificates_on
from columns.services import documents
from columns.services.certificates import add_certificate, attach_document, change_certificate
from columns.services.floats import register_float
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from labsite.errors import Conflict, LabError, NotPermitted, TooLarge, UnsupportedType
from tests import factories

pytestmark = pytest.mark.django_db

PDF = b"%PDF-1.7\n1 0 obj\n"
PNG = b"\x89PNG\r\n\x1a\n" + b"0" * 20
JPEG = b"\xff\xd8\xff\xe0" + b"0" * 20


@pytest.fixture
def each(shift_lead: User) -> CalibrationFloat:
    return register_float(actor=shift_lead, label="F-101")


@pytest.fixture
def certificate(each: CalibrationFloat, shift_lead: User) -> Certificate:
    return factories.make_certificate(actor=shift_lead, calibration_float=each)


def refused(code: str, call: Any) -> LabError:
    before = (Certificate.objects.count(), AuditEntry.objects.count())
    with pytest.raises(LabError) as caught:
        call()
    assert caught.value.code == code
    assert (Certificate.objects.count(), AuditEntry.objects.count()) == before
    return caught.value


def test_a_certificate_is_added_by_a_lead(certificate: Certificate, entries_of: Any) -> None:
    assert entries_of(certificate) == [actions.CERTIFICATE_ADDED]


def test_a_technician_adds_none(each: CalibrationFloat, technician: User) -> None:
    with pytest.raises(NotPermitted):
        factories.make_certificate(actor=technician, calibration_float=each)


@pytest.mark.parametrize(
    ("fields", "code", "field"),
    [
        (
            {"issued_on": date(2026, 5, 2), "valid_until": date(2026, 5, 1)},
            "dates_reversed",
            "valid_until",
        ),
        ({"issued_on": date(202, 5, 2)}, "date_implausible", "issued_on"),
        ({"valid_until": date(9999, 12, 31)}, "date_implausible", "valid_until"),
        ({"density_g_cm3": Decimal(950)}, "density_unit", "density_g_cm3"),
        ({"density_g_cm3": Decimal("0.095")}, "density_unit", "density_g_cm3"),
        ({"density_g_cm3": Decimal("9.5")}, "density_implausible", "density_g_cm3"),
        (
            {"expanded_uncertainty_g_cm3": Decimal("0.1")},
            "uncertainty_implausible",
            "expanded_uncertainty_g_cm3",
        ),
        (
            {"expanded_uncertainty_g_cm3": Decimal(0)},
            "uncertainty_implausible",
            "expanded_uncertainty_g_cm3",
        ),
        ({"coverage_factor": Decimal(0)}, "coverage_factor_implausible", "coverage_factor"),
        (
            {"common_standard_uncertainty_g_cm3": Decimal("0.00006")},
            "common_uncertainty_above_whole",
            "common_standard_uncertainty_g_cm3",
        ),
        ({"number": "  "}, "name_required", "number"),
        ({"issuer": ""}, "name_required", "issuer"),
    ],
)
def test_a_certificate_that_cannot_be_right_is_refused_by_field(
    each: CalibrationFloat, shift_lead: User, fields: dict[str, Any], code: str, field: str
) -> None:
    error = refused(
        code,
        lambda: factories.make_certificate(actor=shift_lead, calibration_float=each, **fields),
    )
    assert list(error.fields) == [field]


@pytest.mark.parametrize(("typed", "meant"), [("950", "0.950000"), ("0.095", "0.950000")])
def test_a_density_in_another_unit_is_asked_about(
    each: CalibrationFloat, shift_lead: User, typed: str, meant: str
) -> None:
    error = refused(
        "density_unit",
        lambda: factories.make_certificate(
            actor=shift_lead, calibration_float=each, density_g_cm3=Decimal(typed)
        ),
    )
    assert error.extra["suggestion"] == {"density_g_cm3": meant}


def test_the_common_part_may_be_the_whole(each: CalibrationFloat, shift_lead: User) -> None:
    found = factories.make_certificate(
        actor=shift_lead,
        calibration_float=each,
        common_standard_uncertainty_g_cm3=Decimal("0.00005"),  # U / k = 0.0001 / 2
    )
    assert found.common_standard_uncertainty_g_cm3 == Decimal("0.00005")


def test_a_number_counts_once_for_a_float_and_again_for_another(
    certificate: Certificate, shift_lead: User
) -> None:
    same = {"actor": shift_lead, "number": certificate.number.lower()}
    error = refused(
        "certificate_number_taken",
        lambda: factories.make_certificate(calibration_float=certificate.calibration_float, **same),
    )
    assert isinstance(error, Conflict)
    other = register_float(actor=shift_lead, label="F-102")
    assert factories.make_certificate(calibration_float=other, **same)


def test_which_certificate_counts_on_a_day(each: CalibrationFloat, shift_lead: User) -> None:
    spans = {
        "first": (date(2025, 1, 1), date(2025, 12, 31)),
        "second": (date(2025, 10, 1), date(2026, 9, 30)),
        "third": (date(2027, 1, 1), date(2027, 12, 31)),
    }
    for number, (issued_on, valid_until) in spans.items():
        factories.make_certificate(
            actor=shift_lead,
            calibration_float=each,
            number=number,
            issued_on=issued_on,
            valid_until=valid_until,
        )

    def number_on(day: date) -> str:
        return certificates_on([each.pk], day)[each.pk].number

    assert number_on(date(2025, 6, 1)) == "first"
    assert number_on(date(2025, 11, 1)) == "second"  # the newer one of two that are valid
    assert number_on(date(2026, 12, 1)) == "second"  # lapsed, the latest there was
    assert number_on(date(2024, 6, 1)) == "first"  # not yet, the next one to come
    assert number_on(date(2027, 6, 1)) == "third"


def test_a_typing_error_is_corrected_with_a_reason(
    certificate: Certificate, shift_lead: User, entries_of: Any
) -> None:
    refused(
        "reason_required",
        lambda: change_certificate(
            actor=shift_lead, certificate=certificate, issuer="Harrow Fell", reason="."
        ),
    )
    refused(
        "dates_reversed",
        lambda: change_certificate(
            actor=shift_lead,
            certificate=certificate,
            valid_until=date(2019, 1, 1),
            reason="year mistyped",
        ),
    )
    change_certificate(
        actor=shift_lead, certificate=certificate, issuer="Harrow Fell", reason="shorter name"
    )
    assert entries_of(certificate) == [actions.CERTIFICATE_ADDED, actions.CERTIFICATE_CHANGED]
    facts = AuditEntry.objects.filter(object_id=certificate.pk).order_by("sequence").last().facts
    assert facts["old"]["issuer"] == "Harrow Fell Calibration"
    assert facts["new"]["issuer"] == "Harrow Fell"


# Documents


def upload(content: bytes, name: str = "certificate.pdf") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content)


@pytest.mark.parametrize(("content", "kind"), [(PDF, "pdf"), (PNG, "png"), (JPEG, "jpg")])
def test_a_document_is_told_by_its_content(
    certificate: Certificate, shift_lead: User, content: bytes, kind: str, entries_of: Any
) -> None:
    found = attach_document(
        actor=shift_lead, certificate=certificate, upload=upload(content, "../../etc/passwd")
    )
    assert found.document.name.startswith("certificates/")
    assert found.document.name.endswith(f".{kind}")
    assert ".." not in found.document.name
    assert found.document.read() == content
    assert entries_of(certificate)[-1] == actions.DOCUMENT_ATTACHED


@pytest.mark.parametrize("content", [b"PK\x03\x04 a zip", b"GIF89a", b"just words"])
def test_another_kind_of_file_is_refused_whatever_its_name(
    certificate: Certificate, shift_lead: User, content: bytes
) -> None:
    error = refused(
        "document_type",
        lambda: attach_document(actor=shift_lead, certificate=certificate, upload=upload(content)),
    )
    assert isinstance(error, UnsupportedType)


def test_an_empty_or_too_large_document_is_refused(
    certificate: Certificate, shift_lead: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    def attach(content: bytes) -> Any:
        return attach_document(actor=shift_lead, certificate=certificate, upload=upload(content))

    refused("document_empty", lambda: attach(b""))
    monkeypatch.setattr(documents, "LARGEST_BYTES", len(PDF) - 1)
    assert isinstance(refused("document_too_large", lambda: attach(PDF)), TooLarge)


def test_a_document_is_attached_once(certificate: Certificate, shift_lead: User) -> None:
    attach_document(actor=shift_lead, certificate=certificate, upload=upload(PDF))
    refused(
        "document_present",
        lambda: attach_document(actor=shift_lead, certificate=certificate, upload=upload(PNG)),
    )


def test_the_same_document_under_two_certificates_is_noticed(
    certificate: Certificate, shift_lead: User
) -> None:
    attach_document(actor=shift_lead, certificate=certificate, upload=upload(PDF))
    assert findings_of(certificate) == []
    other = add_certificate(
        actor=shift_lead,
        calibration_float=register_float(actor=shift_lead, label="F-102"),
        number="HF-9",
        issuer="Harrow Fell Calibration",
        density_g_cm3=Decimal("0.9250"),
        expanded_uncertainty_g_cm3=Decimal("0.0001"),
        issued_on=date(2026, 1, 1),
        valid_until=date(2027, 1, 1),
    )
    other = attach_document(actor=shift_lead, certificate=other, upload=upload(PDF))
    assert findings_of(other) == [
        {"code": "same_document", "float": "F-101", "value": certificate.number}
    ]
