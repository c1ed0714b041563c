"""Float sets and the calibrations computed from them."""

from __future__ import annotations

import json
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from columns.models.baths import BathTemperature, Thermometer
from columns.models.columns import Fill
from columns.models.floats import CalibrationFloat
from labsite.records import LabRecord


class FloatSet(LabRecord):
    """All floats of a fill read at one time by one person, with the bath temperature.

    An amended set stays: the new one names it in `amends`, and it gets `replaced_at`.
    """

    fill = models.ForeignKey(Fill, on_delete=models.PROTECT, related_name="float_sets")
    read_at = models.DateTimeField()
    read_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    bath_temperature_c = models.DecimalField(
        _("bath temperature, °C"), max_digits=5, decimal_places=2
    )
    thermometer = models.ForeignKey(
        Thermometer, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    # the same temperature as a row of the bath's own log
    logged_temperature = models.ForeignKey(
        BathTemperature, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    note = models.TextField(_("note"), blank=True)
    amends = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="amended_by"
    )
    amend_reason = models.TextField(blank=True)
    replaced_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-read_at", "-created_at"]
        indexes = [models.Index(fields=["fill", "-read_at"])]

    def __str__(self) -> str:
        return f"{self.fill.column} {self.read_at:%Y-%m-%d %H:%M}"


class FloatHeight(LabRecord):
    """Where one float rested, on the column's scale; or why it has no height."""

    float_set = models.ForeignKey(FloatSet, on_delete=models.PROTECT, related_name="heights")
    calibration_float = models.ForeignKey(
        CalibrationFloat, on_delete=models.PROTECT, related_name="heights"
    )
    height_mm = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    missing_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["float_set", "calibration_float"], name="float_once_a_set"
            ),
            models.CheckConstraint(
                condition=Q(height_mm__isnull=False) | ~Q(missing_reason=""),
                name="height_or_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.calibration_float} {self.height_mm}"


class Calibration(LabRecord):
    """What was computed from a float set: inputs, figures and findings, by a named version.

    `inputs` and `results` are canonical JSON text. A recomputation is a new row and gives the
    old one `superseded_at`.
    """

    float_set = models.ForeignKey(FloatSet, on_delete=models.PROTECT, related_name="calibrations")
    method_version = models.CharField(max_length=40)
    passes = models.BooleanField()
    correlation = models.DecimalField(max_digits=11, decimal_places=9, null=True)
    sensitivity_g_cm3_per_mm = models.DecimalField(max_digits=12, decimal_places=10)
    inputs = models.TextField()
    results = models.TextField()
    superseded_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["float_set"],
                condition=Q(superseded_at__isnull=True),
                name="one_present_calibration_a_set",
            )
        ]

    def __str__(self) -> str:
        return str(self.float_set)

    @property
    def input_facts(self) -> dict[str, Any]:
        return json.loads(self.inputs)

    @property
    def result_facts(self) -> dict[str, Any]:
        return json.loads(self.results)
