"""Columns, the liquids they are filled with, and what ends or blocks a fill."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from columns.models.baths import Bath
from labsite.records import LabRecord


class Column(LabRecord):
    """The graduated glass tube, by name. Its scale belongs to it: origin, length, division."""

    class Origin(models.TextChoices):
        BOTTOM = "bottom", _("zero at the bottom")
        TOP = "top", _("zero at the top")

    name = models.CharField(_("name"), max_length=40, unique=True)
    bath = models.ForeignKey(Bath, on_delete=models.PROTECT, related_name="columns")
    place = models.PositiveSmallIntegerField(_("place in the bath, from the left"), default=1)
    scale_origin = models.CharField(
        _("scale origin"), max_length=6, choices=Origin.choices, default=Origin.BOTTOM
    )
    scale_length_mm = models.DecimalField(
        _("scale length, mm"), max_digits=6, decimal_places=1, default=700
    )
    scale_division_mm = models.DecimalField(
        _("scale is read to, mm"), max_digits=4, decimal_places=2, default=Decimal("0.50")
    )
    # readable limits as printed on the scale, the smaller number first
    readable_low_mm = models.DecimalField(
        _("readable from, mm"), max_digits=6, decimal_places=1, default=10
    )
    readable_high_mm = models.DecimalField(
        _("readable to, mm"), max_digits=6, decimal_places=1, default=690
    )
    bore_mm = models.DecimalField(_("bore, mm"), max_digits=5, decimal_places=1, default=60)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["bath__name", "place", "name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(readable_low_mm__gte=0)
                & Q(readable_low_mm__lt=F("readable_high_mm"))
                & Q(readable_high_mm__lte=F("scale_length_mm")),
                name="column_readable_limits_in_scale",
            ),
            models.CheckConstraint(
                condition=Q(scale_division_mm__gt=0) & Q(bore_mm__gt=0),
                name="column_sizes_positive",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def above_bottom_mm(self, height_mm: Decimal) -> Decimal:
        """A scale height as millimetres above the scale's lower end."""
        if self.scale_origin == self.Origin.TOP:
            return self.scale_length_mm - height_mm
        return height_mm


class LiquidPair(LabRecord):
    """Two liquids of which columns are made."""

    name = models.CharField(_("name"), max_length=80, unique=True)
    light_liquid = models.CharField(_("light liquid"), max_length=80)
    heavy_liquid = models.CharField(_("heavy liquid"), max_length=80)
    density_low_g_cm3 = models.DecimalField(_("usable from, g/cm³"), max_digits=8, decimal_places=6)
    density_high_g_cm3 = models.DecimalField(_("usable to, g/cm³"), max_digits=8, decimal_places=6)
    cautions = models.TextField(_("cautions"), blank=True)
    source = models.CharField(_("source of the range"), max_length=200, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(density_low_g_cm3__lt=F("density_high_g_cm3")),
                name="pair_range_ordered",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Fill(LabRecord):
    """One charge of a liquid pair in a column, from plan to drain. Holds are rows of their own."""

    class State(models.TextChoices):
        PLANNED = "planned", _("planned")
        POURED = "poured", _("poured")
        SETTLING = "settling", _("settling")
        OPEN = "open", _("open")
        DRAINED = "drained", _("drained")

    LIVE = (State.POURED, State.SETTLING, State.OPEN)

    column = models.ForeignKey(Column, on_delete=models.PROTECT, related_name="fills")
    pair = models.ForeignKey(LiquidPair, on_delete=models.PROTECT, related_name="fills")
    state = models.CharField(max_length=10, choices=State.choices, default=State.PLANNED)
    density_top_g_cm3 = models.DecimalField(
        _("planned at the top, g/cm³"), max_digits=8, decimal_places=6
    )
    density_bottom_g_cm3 = models.DecimalField(
        _("planned at the bottom, g/cm³"), max_digits=8, decimal_places=6
    )
    # where the liquid reaches, as scale heights; not known before the pour
    liquid_bottom_mm = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    liquid_top_mm = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    poured_at = models.DateTimeField(null=True, blank=True)
    settling_at = models.DateTimeField(null=True, blank=True)
    opened_at = models.DateTimeField(null=True, blank=True)
    drained_at = models.DateTimeField(null=True, blank=True)
    note = models.TextField(_("note"), blank=True)

    class Meta:
        ordering = ["-created_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["column"],
                condition=Q(state__in=["poured", "settling", "open"]),
                name="one_live_fill_a_column",
            ),
            models.CheckConstraint(
                condition=Q(density_top_g_cm3__lt=F("density_bottom_g_cm3")),
                name="fill_denser_below",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.column} · {self.pair}"


class Hold(LabRecord):
    """Nothing may be measured in the fill until somebody lifts this."""

    class Kind(models.TextChoices):
        PERSON = "person", _("placed by a person")
        FAST_PASS = "fast_pass", _("basket pass too fast")
        FLOATS_MISSING = "floats_missing", _("floats missing after a basket pass")

    fill = models.ForeignKey(Fill, on_delete=models.PROTECT, related_name="holds")
    kind = models.CharField(max_length=20, choices=Kind.choices, default=Kind.PERSON)
    reason = models.TextField(_("why"))
    lifts_when = models.TextField(_("what lifts it"))
    placed_at = models.DateTimeField()
    placed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    lifted_at = models.DateTimeField(null=True, blank=True)
    lifted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    lift_reason = models.TextField(blank=True)

    class Meta:
        ordering = ["-placed_at"]
        indexes = [models.Index(fields=["fill", "lifted_at"])]

    def __str__(self) -> str:
        return f"{self.fill.column}: {self.reason[:60]}"


class BasketPass(LabRecord):
    """The slow lift of the basket that clears the column (or lowers its floats)."""

    class Purpose(models.TextChoices):
        CLEARING = "clearing", _("clearing")
        LOWERING = "lowering", _("lowering floats")

    fill = models.ForeignKey(Fill, on_delete=models.PROTECT, related_name="basket_passes")
    purpose = models.CharField(max_length=10, choices=Purpose.choices, default=Purpose.CLEARING)
    travel_mm = models.DecimalField(_("way of the basket, mm"), max_digits=6, decimal_places=1)
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    floats_out = models.PositiveSmallIntegerField(null=True, blank=True)
    floats_in = models.PositiveSmallIntegerField(null=True, blank=True)
    note = models.TextField(_("note"), blank=True)

    class Meta:
        ordering = ["-started_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["fill"], condition=Q(ended_at__isnull=True), name="one_open_pass_a_fill"
            )
        ]

    def __str__(self) -> str:
        return f"{self.fill.column}: {self.get_purpose_display()}"
