"""Calibration floats, their certificates, and where they are."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from columns.models.columns import Fill
from labsite.records import LabRecord


class CalibrationFloat(LabRecord):
    """A glass float of certified density."""

    label = models.CharField(_("float"), max_length=20, unique=True)
    note = models.TextField(_("note"), blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["label"]

    def __str__(self) -> str:
        return self.label


class Certificate(LabRecord):
    """What a calibration certificate says of a float, at 23 °C."""

    calibration_float = models.ForeignKey(
        CalibrationFloat, on_delete=models.PROTECT, related_name="certificates"
    )
    number = models.CharField(_("certificate number"), max_length=80)
    issuer = models.CharField(_("issuer"), max_length=120)
    density_g_cm3 = models.DecimalField(
        _("density at 23 °C, g/cm³"), max_digits=8, decimal_places=6
    )
    expanded_uncertainty_g_cm3 = models.DecimalField(
        _("expanded uncertainty U, g/cm³"), max_digits=9, decimal_places=7
    )
    coverage_factor = models.DecimalField(
        _("coverage factor k"), max_digits=4, decimal_places=2, default=2
    )
    # the part shared by all floats of one issuer's run: correlation 1 between them
    common_standard_uncertainty_g_cm3 = models.DecimalField(
        _("common standard uncertainty, g/cm³"), max_digits=9, decimal_places=7, default=0
    )
    issued_on = models.DateField(_("issued"))
    valid_until = models.DateField(_("valid until"))
    document = models.FileField(_("document"), upload_to="certificates/", blank=True)
    document_sha256 = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ["-issued_on", "-created_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["calibration_float", "number"], name="certificate_once_a_float"
            ),
            models.CheckConstraint(
                condition=Q(issued_on__lte=F("valid_until")), name="certificate_dates_ordered"
            ),
            models.CheckConstraint(
                condition=Q(expanded_uncertainty_g_cm3__gt=0) & Q(coverage_factor__gt=0),
                name="certificate_uncertainty_positive",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.calibration_float}: {self.number}"


class FloatPlacement(LabRecord):
    """A float's stay in a fill."""

    calibration_float = models.ForeignKey(
        CalibrationFloat, on_delete=models.PROTECT, related_name="placements"
    )
    fill = models.ForeignKey(Fill, on_delete=models.PROTECT, related_name="placements")
    placed_at = models.DateTimeField()
    placed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    removed_at = models.DateTimeField(null=True, blank=True)
    removed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    removal_reason = models.TextField(blank=True)

    class Meta:
        ordering = ["placed_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["calibration_float"],
                condition=Q(removed_at__isnull=True),
                name="float_in_one_fill_at_a_time",
            )
        ]

    def __str__(self) -> str:
        return f"{self.calibration_float} in {self.fill.column}"


class FloatQuarantine(LabRecord):
    """A float that is not trusted from a stated time on."""

    calibration_float = models.ForeignKey(
        CalibrationFloat, on_delete=models.PROTECT, related_name="quarantines"
    )
    from_at = models.DateTimeField(_("not trusted from"))
    reason = models.TextField(_("why"))
    placed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    lifted_at = models.DateTimeField(null=True, blank=True)
    lifted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    lift_reason = models.TextField(blank=True)

    class Meta:
        ordering = ["-from_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["calibration_float"],
                condition=Q(lifted_at__isnull=True),
                name="one_open_quarantine_a_float",
            )
        ]

    def __str__(self) -> str:
        return f"{self.calibration_float}: {self.reason[:60]}"
