"""What a background job noticed about a column and a person should look at."""

from __future__ import annotations

import json
from typing import Any

from django.db import models
from django.utils.translation import gettext_lazy as _

from columns.models.columns import Column, Fill
from labsite.records import LabRecord


class ColumnFlag(LabRecord):
    """A notice on a column: raised once, cleared when its cause is gone."""

    class Kind(models.TextChoices):
        LOWER_END = "lower_end_float", _("lowest float nears the readable limit")
        UPPER_END = "upper_end_float", _("highest float nears the readable limit")

    column = models.ForeignKey(Column, on_delete=models.PROTECT, related_name="flags")
    fill = models.ForeignKey(Fill, on_delete=models.PROTECT, related_name="flags")
    kind = models.CharField(max_length=20, choices=Kind.choices)
    # canonical JSON: the float, its distance to the limit, its daily way, days left
    facts = models.TextField()
    raised_at = models.DateTimeField()
    cleared_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-raised_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["fill", "kind"],
                condition=models.Q(cleared_at__isnull=True),
                name="one_open_flag_a_kind",
            )
        ]

    def __str__(self) -> str:
        return f"{self.column}: {self.get_kind_display()}"

    @property
    def fact_values(self) -> dict[str, Any]:
        return json.loads(self.facts)
