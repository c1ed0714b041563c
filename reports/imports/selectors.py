"""The imports so far."""

from __future__ import annotations

from django.db.models import QuerySet

from reports.models import ImportBatch


def imports() -> QuerySet[ImportBatch]:
    return ImportBatch.objects.select_related("imported_by")
