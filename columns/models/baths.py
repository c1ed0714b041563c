"""Baths, their thermometers, and the temperatures read in them."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from labsite.records import LabRecord


class Bath(LabRecord):
    """One water jacket with a setpoint; holds columns."""

    name = models.CharField(_("name"), max_length=60, unique=True)
    setpoint_c = models.DecimalField(_("setpoint, °C"), max_digits=5, decimal_places=2, default=23)
    tolerance_c = models.DecimalField(
        _("tolerance, ± °C"), max_digits=4, decimal_places=2, default=Decimal("0.10")
    )
    note = models.TextField(_("note"), blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(tolerance_c__gt=0), name="bath_tolerance_positive"
            )
        ]

    def __str__(self) -> str:
        return self.name

    def is_in_tolerance(self, temperature_c) -> bool:
        """Compared as decimals: 23.1 is inside 23.0 ± 0.1."""
        return abs(temperature_c - self.setpoint_c) <= self.tolerance_c


class Thermometer(LabRecord):
    name = models.CharField(_("name"), max_length=60, unique=True)
    bath = models.ForeignKey(
        Bath, on_delete=models.PROTECT, null=True, blank=True, related_name="thermometers"
    )
    certificate_number = models.CharField(_("certificate number"), max_length=80, blank=True)
    issuer = models.CharField(_("issuer"), max_length=120, blank=True)
    expanded_uncertainty_c = models.DecimalField(
        _("expanded uncertainty U, °C"), max_digits=6, decimal_places=4, null=True, blank=True
    )
    coverage_factor = models.DecimalField(
        _("coverage factor k"), max_digits=4, decimal_places=2, default=2
    )
    issued_on = models.DateField(_("issued"), null=True, blank=True)
    valid_until = models.DateField(_("valid until"), null=True, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class BathTemperature(LabRecord):
    """One temperature of a bath, as read. An amended one stays: the new row names it in `amends`.

    `is_in_tolerance` was judged with the bath's setpoint and tolerance of that day.
    """

    class Source(models.TextChoices):
        TYPED = "typed", _("typed")
        FLOAT_SET = "float_set", _("with a float set")
        LOGGER = "logger", _("from a logger")

    bath = models.ForeignKey(Bath, on_delete=models.PROTECT, related_name="temperatures")
    measured_at = models.DateTimeField()
    temperature_c = models.DecimalField(max_digits=5, decimal_places=2)
    thermometer = models.ForeignKey(
        Thermometer, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    measured_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    source = models.CharField(max_length=12, choices=Source.choices, default=Source.TYPED)
    is_in_tolerance = models.BooleanField()
    amends = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="amended_by"
    )
    amend_reason = models.TextField(blank=True)
    replaced_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-measured_at"]
        indexes = [
            models.Index(fields=["bath", "-measured_at"]),
            models.Index(
                fields=["bath", "-measured_at"],
                condition=models.Q(is_in_tolerance=False),
                name="bath_excursions",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.bath} {self.temperature_c} °C"
