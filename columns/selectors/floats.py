"""Floats: which are in a fill, which are trusted, and which certificate counts on a day."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from uuid import UUID

from django.db.models import Q, QuerySet

from columns.models import CalibrationFloat, Certificate, Fill, FloatPlacement, FloatQuarantine


def placements_at(fill: Fill, at: datetime) -> QuerySet[FloatPlacement]:
    """The floats that were in `fill` at `at`."""
    return (
        FloatPlacement.objects.filter(fill=fill, placed_at__lte=at)
        .exclude(removed_at__lte=at)
        .select_related("calibration_float")
        .order_by("calibration_float__label")
    )


def quarantined(float_ids: Iterable[UUID], at: datetime) -> set[UUID]:
    """Which of the floats were not trusted at `at`."""
    found = FloatQuarantine.objects.filter(
        Q(lifted_at__isnull=True) | Q(lifted_at__gt=at),
        calibration_float__in=list(float_ids),
        from_at__lte=at,
    )
    return set(found.order_by().values_list("calibration_float_id", flat=True))


def certificates_on(float_ids: Iterable[UUID], day: date) -> dict[UUID, Certificate]:
    """The certificate of each float that counts on `day`, by the float's id.

    The newest valid one; without one the newest that lapsed; else the first that is to come.
    """
    found: dict[UUID, list[Certificate]] = {}
    for each in Certificate.objects.filter(calibration_float__in=list(float_ids)):
        found.setdefault(each.calibration_float_id, []).append(each)
    return {
        key: max(certificates, key=lambda each: _merit(each, day))
        for key, certificates in found.items()
    }


def _merit(certificate: Certificate, day: date) -> tuple[int, int, datetime]:
    issued = certificate.issued_on.toordinal()
    if is_valid_on(certificate, day):
        return 2, issued, certificate.created_at
    if certificate.valid_until < day:
        return 1, issued, certificate.created_at
    return 0, -issued, certificate.created_at


def is_valid_on(certificate: Certificate, day: date) -> bool:
    return certificate.issued_on <= day <= certificate.valid_until


def float_table(floats: Iterable[CalibrationFloat], day: date) -> dict[UUID, Certificate | None]:
    """Each float's certificate on `day`, None for a float without one."""
    ids = [each.pk for each in floats]
    certificates = certificates_on(ids, day)
    return {key: certificates.get(key) for key in ids}
