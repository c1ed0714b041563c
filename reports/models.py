"""Imports: which file was taken in, by whom, and what came of it."""

from __future__ import annotations

import json
from typing import Any

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from labsite.records import LabRecord


class ImportBatch(LabRecord):
    """One file whose rows were all saved. The file itself is not kept; its SHA-256 is."""

    kind = models.CharField(_("kind"), max_length=20)
    file_name = models.CharField(_("file"), max_length=200)
    sha256 = models.CharField(max_length=64)
    size_bytes = models.PositiveIntegerField()
    row_count = models.PositiveIntegerField(_("rows"))
    imported_at = models.DateTimeField(_("imported"))
    imported_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    # canonical JSON: how the file was read, and which record each row became
    choices = models.TextField()
    records = models.TextField()

    class Meta:
        ordering = ["-imported_at"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "sha256"], name="file_imported_once_a_kind")
        ]

    def __str__(self) -> str:
        return self.file_name

    @property
    def choice_facts(self) -> dict[str, str]:
        return json.loads(self.choices)

    @property
    def record_list(self) -> list[dict[str, Any]]:
        """[{"row", "type", "id"}, …] in the order of saving."""
        return json.loads(self.records)
