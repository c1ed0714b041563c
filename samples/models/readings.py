"""Specimens, their readings, and the density that follows from a reading."""

from __future__ import annotations

import json
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from columns.models import BasketPass, Calibration, CalibrationFloat, Fill
from labsite.records import LabRecord
from samples.models.grades import Form
from samples.models.lots import Lot


class Specimen(LabRecord):
    """One piece of a lot, dropped into a fill, cut to a shape by which it is told apart."""

    class Shape(models.TextChoices):
        SQUARE = "square", _("square")
        TRIANGLE = "triangle", _("triangle")
        BAR = "bar", _("bar")
        DISC = "disc", _("disc")
        NOTCHED = "notched", _("notched")
        TEE = "tee", _("T")

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="specimens")
    fill = models.ForeignKey(Fill, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveSmallIntegerField(_("number in its lot"))
    shape = models.CharField(_("cut shape"), max_length=10, choices=Shape.choices)
    form = models.CharField(_("form"), max_length=10, choices=Form.choices)
    thickness_mm = models.DecimalField(
        _("thickness, mm"), max_digits=6, decimal_places=3, null=True, blank=True
    )
    dropped_at = models.DateTimeField()
    dropped_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    # who reads it; empty: the person who dropped it
    taken_over_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ready_at = models.DateTimeField()
    # thin films are looked at a second time
    second_look_at = models.DateTimeField(null=True, blank=True)
    override_reason = models.TextField(_("dropped although not open, because"), blank=True)
    removed_at = models.DateTimeField(null=True, blank=True)
    removed_in = models.ForeignKey(
        BasketPass, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["dropped_at"]
        indexes = [models.Index(fields=["fill", "removed_at"])]
        constraints = [
            models.UniqueConstraint(fields=["lot", "number"], name="specimen_number_once_a_lot")
        ]

    def __str__(self) -> str:
        return f"{self.lot} {self.number} ({self.get_shape_display()})"

    @property
    def reader_id(self) -> Any:
        """Who is to read it: whoever took it over last, else whoever dropped it."""
        return self.taken_over_by_id or self.dropped_by_id


class Reading(LabRecord):
    """A specimen's height at a time, or an outcome; early readings keep their height.

    Never overwritten: an amendment is a new row naming the old one in `amends`; an undo within
    ten seconds gives `withdrawn_at`. The last reading at rest counts.
    """

    class Outcome(models.TextChoices):
        AT_REST = "at_rest", _("At rest")
        BUBBLE = "bubble", _("Bubble on it")
        NOT_AT_REST = "not_at_rest", _("Not at rest")
        CANNOT_TELL = "cannot_tell", _("Cannot tell which")
        OFF_TOP = "off_top", _("Off the top")
        OFF_BOTTOM = "off_bottom", _("Off the bottom")

    class Source(models.TextChoices):
        EYE = "eye", _("by eye")
        LOGBOOK = "logbook", _("from the logbook")

    specimen = models.ForeignKey(Specimen, on_delete=models.PROTECT, related_name="readings")
    read_at = models.DateTimeField()
    read_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    # who typed it, when that was somebody else: an amendment, a page of the logbook
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    outcome = models.CharField(max_length=12, choices=Outcome.choices)
    height_mm = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    # the gap that was tapped before the height was typed: the floats physically above and below
    gap_upper_float = models.ForeignKey(
        CalibrationFloat, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    gap_lower_float = models.ForeignKey(
        CalibrationFloat, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    source = models.CharField(max_length=10, choices=Source.choices, default=Source.EYE)
    density_seen = models.BooleanField(default=False)
    found_with_help = models.BooleanField(default=False)
    late_reason = models.TextField(blank=True)
    note = models.TextField(blank=True)
    amends = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="amended_by"
    )
    amend_reason = models.TextField(blank=True)
    replaced_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdraw_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["read_at", "created_at"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(outcome="at_rest") | Q(height_mm__isnull=False),
                name="reading_at_rest_has_height",
            )
        ]

    def __str__(self) -> str:
        # The outcome stays out: the history shows this name to people who may not see it yet.
        return str(self.specimen)


class DensityResult(LabRecord):
    """The density of one reading by one calibration: both figures, inputs, method and version."""

    class Outcome(models.TextChoices):
        MEASURED = "measured", _("measured")
        LIGHTER = "lighter", _("lighter than")
        DENSER = "denser", _("denser than")
        NONE = "none", _("no density")

    reading = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="results")
    calibration = models.ForeignKey(
        Calibration, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    method_version = models.CharField(max_length=40)
    outcome = models.CharField(max_length=10, choices=Outcome.choices)
    bound_float = models.ForeignKey(
        CalibrationFloat, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    bracketing_g_cm3 = models.DecimalField(max_digits=8, decimal_places=7, null=True, blank=True)
    bracketing_u_g_cm3 = models.DecimalField(max_digits=8, decimal_places=7, null=True, blank=True)
    curve_g_cm3 = models.DecimalField(max_digits=8, decimal_places=7, null=True, blank=True)
    curve_u_g_cm3 = models.DecimalField(max_digits=8, decimal_places=7, null=True, blank=True)
    # canonical JSON: what went in, and what came out beside the stored figures
    inputs = models.TextField()
    results = models.TextField(default="{}")
    findings = models.TextField(default="[]")
    superseded_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["reading"],
                condition=Q(superseded_at__isnull=True),
                name="one_present_result_a_reading",
            )
        ]

    def __str__(self) -> str:
        return str(self.reading)

    @property
    def finding_list(self) -> list[dict[str, Any]]:
        return json.loads(self.findings)

    @property
    def result_facts(self) -> dict[str, Any]:
        return json.loads(self.results)
