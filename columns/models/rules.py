"""The lab's own metrological rules, and how well each person repeats a height."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from labsite.records import LabRecord


class LabRules(LabRecord):
    """One row: the rules in force now. The history holds what they were."""

    calibration_max_age_hours = models.PositiveSmallIntegerField(
        _("a float set counts for at most, h"), default=8
    )
    minimum_floats = models.PositiveSmallIntegerField(_("fewest floats in a set"), default=5)
    pass_hold_off_hours = models.PositiveSmallIntegerField(
        _("no reading after a basket pass for, h"), default=12
    )
    settling_minimum_hours = models.PositiveSmallIntegerField(
        _("a new fill settles for at least, h"), default=24
    )
    settling_agreement_mm = models.DecimalField(
        _("two float sets agree within, mm"), max_digits=4, decimal_places=1, default=Decimal("2.0")
    )
    height_repeatability_mm = models.DecimalField(
        _("repeatability of a height when the person's own is not known, mm"),
        max_digits=4,
        decimal_places=2,
        default=Decimal("0.30"),
    )
    late_entry_minutes = models.PositiveSmallIntegerField(
        _("an entry is late after, min"), default=60
    )

    class Meta:
        verbose_name = _("lab rules")

    def __str__(self) -> str:
        return "lab rules"


class ReaderRepeatability(LabRecord):
    """A person's own standard deviation of a repeated height."""

    person = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    standard_deviation_mm = models.DecimalField(max_digits=4, decimal_places=2)
    source = models.CharField(_("found from"), max_length=200)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(standard_deviation_mm__gt=0), name="repeatability_positive"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} {self.standard_deviation_mm} mm"
