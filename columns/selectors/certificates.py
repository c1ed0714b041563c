"""What is noticed about certificates."""

from __future__ import annotations

from columns.models import Certificate


def findings_of(certificate: Certificate) -> list[dict[str, str]]:
    """Facts of findings: the same document under another certificate."""
    if not certificate.document_sha256:
        return []
    twins = Certificate.objects.filter(document_sha256=certificate.document_sha256).exclude(
        pk=certificate.pk
    )
    return [
        {"code": "same_document", "float": twin.calibration_float.label, "value": twin.number}
        for twin in twins.select_related("calibration_float")
    ]
