"""Determinations: the density of a lot from its specimens."""

from __future__ import annotations

import json
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from labsite.records import LabRecord
from samples.models.lots import Lot
from samples.models.readings import DensityResult


class Determination(LabRecord):
    """One version of a lot's density. A released one never changes: an amendment is a new row."""

    class Status(models.TextChoices):
        DRAFT = "draft", _("Draft")
        READY = "ready", _("Ready")
        RELEASED = "released", _("Released")
        AMENDED = "amended", _("Amended")

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="determinations")
    number = models.PositiveSmallIntegerField(_("determination of its lot"))
    issue = models.PositiveSmallIntegerField(_("issue of this determination"), default=1)
    status = models.CharField(max_length=10, choices=Status.choices, default=Status.DRAFT)
    figure = models.CharField(max_length=12)
    method_version = models.CharField(max_length=40)
    specimens_counted = models.PositiveSmallIntegerField()
    density_g_cm3 = models.DecimalField(max_digits=8, decimal_places=7, null=True, blank=True)
    expanded_uncertainty_g_cm3 = models.DecimalField(
        max_digits=8, decimal_places=7, null=True, blank=True
    )
    coverage_factor = models.DecimalField(max_digits=7, decimal_places=4, null=True, blank=True)
    spread_g_cm3 = models.DecimalField(max_digits=8, decimal_places=7, null=True, blank=True)
    inputs = models.TextField()
    results = models.TextField()
    findings = models.TextField(default="[]")
    repeat_because = models.TextField(blank=True)
    prepared_at = models.DateTimeField()
    prepared_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    released_at = models.DateTimeField(null=True, blank=True)
    released_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    release_note = models.TextField(blank=True)
    amends = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="amended_by"
    )
    amend_reason = models.TextField(blank=True)
    # something it rests on was amended after its release: a lead has to look
    to_be_amended_because = models.TextField(blank=True)

    class Meta:
        ordering = ["-prepared_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["lot", "number", "issue"], name="determination_issue_once"
            ),
            models.CheckConstraint(
                condition=~Q(status="released")
                | (Q(released_by__isnull=False) & Q(density_g_cm3__isnull=False)),
                name="released_has_number_and_person",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot} · {self.number}.{self.issue}"

    @property
    def finding_list(self) -> list[dict[str, Any]]:
        return json.loads(self.findings)

    @property
    def input_facts(self) -> dict[str, Any]:
        return json.loads(self.inputs)

    @property
    def result_facts(self) -> dict[str, Any]:
        return json.loads(self.results)


class DeterminationPart(LabRecord):
    """One specimen's density in a determination, counted or set aside with a reason."""

    determination = models.ForeignKey(Determination, on_delete=models.PROTECT, related_name="parts")
    result = models.ForeignKey(DensityResult, on_delete=models.PROTECT, related_name="parts")
    is_counted = models.BooleanField(default=True)
    set_aside_reason = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["determination", "result"], name="result_once_a_determination"
            ),
            models.CheckConstraint(
                condition=Q(is_counted=True) | ~Q(set_aside_reason=""),
                name="set_aside_needs_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.determination}: {self.result.reading.specimen}"
