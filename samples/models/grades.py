"""Grades with their limits, and how specimens are made."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from labsite.records import LabRecord


class Form(models.TextChoices):
    PELLET = "pellet", _("pellet")
    STRAND = "strand", _("strand")
    MOULDED = "moulded", _("moulded piece")
    FILM = "film", _("film")
    OTHER = "other", _("other")


class PreparationRecipe(LabRecord):
    """How specimens of a grade are made; results of different recipes are never joined."""

    name = models.CharField(_("name"), max_length=80, unique=True)
    form = models.CharField(_("form"), max_length=10, choices=Form.choices)
    thickness_mm = models.DecimalField(
        _("thickness, mm"), max_digits=6, decimal_places=3, null=True, blank=True
    )
    # None: the wait follows from form and thickness
    wait_minutes = models.PositiveSmallIntegerField(
        _("own wait before reading, min"), null=True, blank=True
    )
    instructions = models.TextField(_("instructions"), blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Grade(LabRecord):
    """A product, what is expected of it and the limits it is held to."""

    class Figure(models.TextChoices):
        BRACKETING = "bracketing", _("between the two neighbouring floats")
        CURVE = "curve", _("curve through all floats")

    name = models.CharField(_("name"), max_length=80, unique=True)
    recipe = models.ForeignKey(PreparationRecipe, on_delete=models.PROTECT, related_name="grades")
    lower_limit_g_cm3 = models.DecimalField(
        _("lower limit, g/cm³"), max_digits=8, decimal_places=6, null=True, blank=True
    )
    upper_limit_g_cm3 = models.DecimalField(
        _("upper limit, g/cm³"), max_digits=8, decimal_places=6, null=True, blank=True
    )
    expected_density_g_cm3 = models.DecimalField(
        _("expected density, g/cm³"), max_digits=8, decimal_places=6
    )
    spread_limit_g_cm3 = models.DecimalField(
        _("largest range of the specimens, g/cm³"), max_digits=8, decimal_places=6
    )
    specimens_required = models.PositiveSmallIntegerField(_("specimens"), default=3)
    reported_figure = models.CharField(
        _("reported figure"), max_length=12, choices=Figure.choices, default=Figure.BRACKETING
    )
    # the grade's pooled repeatability, when the lab has found one
    repeatability_g_cm3 = models.DecimalField(
        _("pooled repeatability, g/cm³"), max_digits=9, decimal_places=7, null=True, blank=True
    )
    repeatability_degrees_of_freedom = models.PositiveSmallIntegerField(
        _("its degrees of freedom"), null=True, blank=True
    )
    expansion_per_k = models.DecimalField(
        _("volume expansion, 1/K"), max_digits=9, decimal_places=7, null=True, blank=True
    )
    is_control_material = models.BooleanField(_("house plaque"), default=False)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(lower_limit_g_cm3__isnull=True)
                | Q(upper_limit_g_cm3__isnull=True)
                | Q(lower_limit_g_cm3__lt=F("upper_limit_g_cm3")),
                name="grade_limits_ordered",
            ),
            models.CheckConstraint(
                condition=Q(spread_limit_g_cm3__gt=0), name="grade_spread_positive"
            ),
            models.CheckConstraint(
                condition=Q(specimens_required__gte=1), name="grade_needs_specimens"
            ),
        ]

    def __str__(self) -> str:
        return self.name
