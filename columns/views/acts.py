"""What may be done to a column, a fill and a float: as forms, by state and by role."""

from __future__ import annotations

from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from columns.models import (
    BasketPass,
    CalibrationFloat,
    Column,
    Fill,
    FloatPlacement,
    Hold,
    LiquidPair,
)
from labsite.accounts.permissions import can
from labsite.accounts.roles import Action
from labsite.web.acts import Act, Entry, reason_entry

API = "/api/v1"


def pour_cautions() -> tuple[str, ...]:
    """Common practice, no source; the lab's own sheets decide."""
    return (
        _(
            "Alcohols give off flammable vapour at room temperature: no heater, flame or "
            "hot plate, unrated stirrer or switch nearby; ventilate; keep flasks covered."
        ),
        _(
            "A column pushes up in a full jacket: seat it with two hands and secure it; look for "
            "cracks in the glass first; gloves and goggles."
        ),
        _("Salt solutions and alcohols never share a waste can. Label the can, close it."),
        _(
            "Water and mains: drip loop, residual-current device, dry hands; heater off before the "
            "level falls."
        ),
    )


def fill_acts(user: Any, column: Column, fill: Fill | None, planned: Fill | None) -> list[Act]:
    """What leads a fill on to its next state."""
    if not can(user, Action.RECORD_COLUMN_WORK):
        return []
    if fill is None:
        return [pour(planned)] if planned else [plan(column)]
    steps = {
        Fill.State.POURED: [settle(fill)],
        Fill.State.SETTLING: [open_fill(user, fill)],
        Fill.State.OPEN: [],
    }
    return steps[Fill.State(fill.state)]


def plan(column: Column) -> Act:
    return Act(
        key="plan",
        title=_("Plan a fill"),
        button=_("Plan the fill"),
        url=f"{API}/fills/",
        fixed={"column": column.pk},
        is_main=True,
        is_open=True,
        entries=(
            Entry("pair", _("Liquid pair"), "choice", options=_pairs()),
            Entry("density_top_g_cm3", _("Density at the top"), "decimal", unit=_("g/cm³")),
            Entry("density_bottom_g_cm3", _("Density at the bottom"), "decimal", unit=_("g/cm³")),
            Entry("note", _("Note"), "long", required=False),
        ),
    )


def _pairs() -> list[tuple[Any, str]]:
    return [
        (pair.pk, f"{pair.name}, {pair.density_low_g_cm3:.3f} – {pair.density_high_g_cm3:.3f}")
        for pair in LiquidPair.objects.all()
    ]


def pour(fill: Fill) -> Act:
    return Act(
        key="pour",
        title=_("Pour the fill"),
        button=_("It is poured"),
        url=f"{API}/fills/{fill.pk}/pour/",
        is_main=True,
        is_open=True,
        cautions=(fill.pair.cautions, *pour_cautions()) if fill.pair.cautions else pour_cautions(),
        entries=(
            Entry(
                "liquid_top_mm",
                _("The liquid reaches up to"),
                "decimal",
                unit=_("mm"),
                required=False,
                hint=_("As read on the column's scale."),
            ),
            Entry(
                "liquid_bottom_mm",
                _("The liquid begins at"),
                "decimal",
                unit=_("mm"),
                required=False,
            ),
        ),
    )


def settle(fill: Fill) -> Act:
    return Act(
        key="settle",
        title=_("Leave it to settle"),
        button=_("Floats are in, lid is on"),
        url=f"{API}/fills/{fill.pk}/settle/",
        note=_(
            "Place the floats first: wet them in the light liquid, hold them with tweezers or "
            "cloth, lower them slowly with the basket. Then put the lid on."
        ),
        is_main=True,
        is_open=True,
    )


def open_fill(user: Any, fill: Fill) -> Act:
    early = Entry(
        "early_reason",
        _("Open early because"),
        "long",
        required=False,
        hint=_("Only when something above is still missing; the reason stays with the fill."),
    )
    return Act(
        key="open",
        title=_("Open the fill"),
        button=_("Open for specimens"),
        url=f"{API}/fills/{fill.pk}/open/",
        entries=(early,) if can(user, Action.OVERRIDE_CLOSED) else (),
        is_main=True,
        is_open=True,
    )


def drain(fill: Fill) -> Act:
    return Act(
        key="drain",
        title=_("Drain the fill"),
        button=_("It is drained"),
        url=f"{API}/fills/{fill.pk}/drain/",
        note=_("Ends the fill: its floats are free again, its pieces are gone."),
        cautions=(_("Alcohol and salt waste go into separate, labelled, closed cans."),),
        entries=(reason_entry(_("Why it is drained")),),
    )


def temperature(column: Column) -> Act:
    return Act(
        key="temperature",
        title=_("Type the bath temperature"),
        button=_("Save temperature"),
        url=f"{API}/baths/{column.bath_id}/temperatures/",
        entries=(Entry("temperature_c", _("Temperature"), "decimal", unit=_("°C")),),
    )


def hold(fill: Fill) -> Act:
    return Act(
        key="hold",
        title=_("Put on hold"),
        button=_("Hold this fill"),
        url=f"{API}/holds/",
        fixed={"fill": fill.pk},
        note=_("Nobody can drop, and no result is released, until it is lifted."),
        entries=(
            reason_entry(_("Why")),
            Entry(
                "lifts_when",
                _("What lifts it"),
                "long",
                hint=_("For example: two float sets that agree."),
            ),
        ),
    )


def lift(held: Hold) -> Act:
    return Act(
        key=f"lift-{held.pk}",
        title=_("Lift the hold"),
        button=_("Lift it"),
        url=f"{API}/holds/{held.pk}/lift/",
        entries=(reason_entry(_("Why it can be lifted")),),
    )


def start_pass(fill: Fill) -> Act:
    return Act(
        key="pass",
        title=_("Start a basket pass"),
        button=_("The basket moves now"),
        url=f"{API}/basket-passes/",
        fixed={"fill": fill.pk},
        note=_(
            "10 mm a minute from the bottom to the top (ASTM D1505-18, 9.3). It ends the "
            "calibration and collects the pieces in the column."
        ),
        cautions=(
            _(
                "Keep sleeves and cords clear of the moving basket. Floats are thin glass: "
                "use a tray with a rim."
            ),
        ),
        entries=(
            Entry("purpose", _("Purpose"), "choice", options=BasketPass.Purpose.choices),
            Entry(
                "travel_mm",
                _("Way of the basket"),
                "decimal",
                unit=_("mm"),
                required=False,
                hint=_("Empty: the whole scale."),
            ),
        ),
    )


def finish_pass(running: BasketPass, floats_in_fill: int) -> Act:
    return Act(
        key="pass-end",
        title=_("End the basket pass"),
        button=_("The basket is back"),
        url=f"{API}/basket-passes/{running.pk}/finish/",
        is_main=True,
        is_open=True,
        note=_(
            "Count the floats out and in, and look at each for chips. %(count)d floats belong "
            "in this fill."
        )
        % {"count": floats_in_fill},
        entries=(
            Entry("floats_out", _("Floats out"), "whole", required=False),
            Entry("floats_in", _("Floats in"), "whole", required=False),
            Entry("note", _("Note"), "long", required=False),
        ),
    )


def place_float(fill: Fill, free: list[CalibrationFloat]) -> Act:
    return Act(
        key="place",
        title=_("Place a float"),
        button=_("It is in"),
        url=f"{API}/placements/",
        fixed={"fill": fill.pk},
        entries=(
            Entry(
                "calibration_float",
                _("Float"),
                "choice",
                options=[(each.pk, each.label) for each in free],
                hint=_("Floats in a column or in quarantine are not listed."),
            ),
        ),
    )


def remove_float(placement: FloatPlacement) -> Act:
    return Act(
        key=f"remove-{placement.pk}",
        title=_("Take %(float)s out") % {"float": placement.calibration_float},
        button=_("It is out"),
        url=f"{API}/placements/{placement.pk}/remove/",
        note=_("Ends the calibration that rests on it."),
        entries=(reason_entry(_("Why")),),
    )


def quarantine(calibration_float: CalibrationFloat) -> Act:
    return Act(
        key="quarantine",
        title=_("Quarantine"),
        button=_("Do not trust it"),
        url=f"{API}/floats/{calibration_float.pk}/quarantine/",
        note=_("From that time on no density rests on this float."),
        entries=(
            reason_entry(_("Why")),
            Entry(
                "from_at",
                _("Not trusted from"),
                "instant",
                required=False,
                hint=_("Empty: from now on. Time of this device."),
            ),
        ),
    )


def add_certificate(calibration_float: CalibrationFloat) -> Act:
    return Act(
        key="certificate",
        title=_("Add a certificate"),
        button=_("Save certificate"),
        url=f"{API}/certificates/",
        fixed={"calibration_float": calibration_float.pk},
        entries=certificate_entries(),
    )


def certificate_entries() -> tuple[Entry, ...]:
    return (
        Entry("number", _("Certificate number")),
        Entry("issuer", _("Issuer")),
        Entry("density_g_cm3", _("Density at 23 °C"), "decimal", unit=_("g/cm³")),
        Entry(
            "expanded_uncertainty_g_cm3", _("Expanded uncertainty U"), "decimal", unit=_("g/cm³")
        ),
        Entry("coverage_factor", _("Coverage factor k"), "decimal", value="2"),
        Entry(
            "common_standard_uncertainty_g_cm3",
            _("Common standard uncertainty"),
            "decimal",
            unit=_("g/cm³"),
            required=False,
            hint=_("The part that all floats of one run of the issuer share."),
        ),
        Entry("issued_on", _("Issued"), "date"),
        Entry("valid_until", _("Valid until"), "date"),
    )


def attach_document(certificate: Any) -> Act:
    return Act(
        key=f"document-{certificate.pk}",
        title=_("Attach the document"),
        button=_("Attach"),
        url=f"{API}/certificates/{certificate.pk}/document/",
        entries=(Entry("document", _("PDF or picture"), "file"),),
    )


def register_float() -> Act:
    return Act(
        key="float",
        title=_("Register a float"),
        button=_("Register"),
        url=f"{API}/floats/",
        then=reverse("columns:float-list") + "{id}/",
        entries=(
            Entry("label", _("Float"), hint=_("As it is marked, for example F-101.")),
            Entry("note", _("Note"), "long", required=False),
        ),
    )


def lift_quarantine(quarantine: Any) -> Act:
    return Act(
        key="lift-quarantine",
        title=_("Trust it again"),
        button=_("Lift the quarantine"),
        url=f"{API}/quarantines/{quarantine.pk}/lift/",
        entries=(reason_entry(_("Why it can be trusted again")),),
    )


def retire_float(calibration_float: CalibrationFloat) -> Act:
    return Act(
        key="retire",
        title=_("Retire the float"),
        button=_("Retire"),
        url=f"{API}/floats/{calibration_float.pk}/retire/",
        note=_("Broken or lost. Its results stay."),
        entries=(reason_entry(_("Why")),),
    )
