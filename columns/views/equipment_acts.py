"""Setting the lab up: baths, thermometers, columns, liquid pairs, rules, people's repeatability."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from columns.models import Bath, Column, LabRules, LiquidPair, Thermometer
from labsite.accounts.models import User
from labsite.web.acts import Act, Entry, reason_entry

API = "/api/v1"


def _baths() -> list[tuple[Any, str]]:
    return [(bath.pk, bath.name) for bath in Bath.objects.filter(retired_at__isnull=True)]


def _changed(key: str, what: Any, url: str, record: Any, entries: tuple[Entry, ...]) -> Act:
    why = reason_entry(_("Why it is changed"))
    return Act(key, what, _("Save"), url, (*entries, why), etag=record.etag)


def bath_entries(bath: Bath | None = None) -> tuple[Entry, ...]:
    return (
        Entry("name", _("Name"), value=bath.name if bath else ""),
        Entry(
            "setpoint_c",
            _("Setpoint"),
            "decimal",
            bath.setpoint_c if bath else "23.00",
            unit=_("°C"),
        ),
        Entry(
            "tolerance_c",
            _("Tolerance, ±"),
            "decimal",
            bath.tolerance_c if bath else "0.10",
            unit=_("°C"),
            hint=_("ASTM D1505-18, 5.2: 23.0 ± 0.1 °C."),
        ),
    )


def add_bath() -> Act:
    return Act("bath", _("Add a bath"), _("Add"), f"{API}/baths/", bath_entries())


def change_bath(bath: Bath) -> Act:
    url = f"{API}/baths/{bath.pk}/"
    return _changed(f"bath-{bath.pk}", _("Change"), url, bath, bath_entries(bath))


def thermometer_entries(each: Thermometer | None = None) -> tuple[Entry, ...]:
    return (
        Entry("name", _("Name"), value=each.name if each else ""),
        Entry(
            "bath",
            _("Bath"),
            "choice",
            each.bath_id if each else "",
            required=False,
            options=_baths(),
        ),
        Entry(
            "certificate_number",
            _("Certificate number"),
            required=False,
            value=each.certificate_number if each else "",
        ),
        Entry("issuer", _("Issuer"), required=False, value=each.issuer if each else ""),
        Entry(
            "expanded_uncertainty_c",
            _("Expanded uncertainty U"),
            "decimal",
            required=False,
            value=each.expanded_uncertainty_c if each else "",
            unit=_("°C"),
        ),
        Entry(
            "coverage_factor",
            _("Coverage factor k"),
            "decimal",
            each.coverage_factor if each else "2",
        ),
        Entry(
            "issued_on",
            _("Issued"),
            "date",
            required=False,
            value=(each.issued_on or "") if each else "",
        ),
        Entry(
            "valid_until",
            _("Valid until"),
            "date",
            required=False,
            value=(each.valid_until or "") if each else "",
        ),
    )


def add_thermometer() -> Act:
    url = f"{API}/thermometers/"
    return Act("thermometer", _("Add a thermometer"), _("Add"), url, thermometer_entries())


def change_thermometer(each: Thermometer) -> Act:
    url = f"{API}/thermometers/{each.pk}/"
    return _changed(f"thermometer-{each.pk}", _("Change"), url, each, thermometer_entries(each))


def column_entries(column: Column | None = None) -> tuple[Entry, ...]:
    def value(name: str, default: Any = "") -> Any:
        return getattr(column, name) if column else default

    return (
        Entry(
            "name",
            _("Name"),
            value=value("name"),
            hint=_("A whole word tells columns apart better than a number."),
        ),
        Entry("bath", _("Bath"), "choice", value("bath_id"), options=_baths()),
        Entry("place", _("Place in the bath, from the left"), "whole", value("place", 1)),
        Entry(
            "scale_origin",
            _("Scale"),
            "choice",
            value("scale_origin", "bottom"),
            options=Column.Origin.choices,
        ),
        Entry(
            "scale_length_mm",
            _("Scale length"),
            "decimal",
            value("scale_length_mm", "700.0"),
            unit=_("mm"),
        ),
        Entry(
            "scale_division_mm",
            _("Scale is read to"),
            "decimal",
            value("scale_division_mm", "0.50"),
            unit=_("mm"),
        ),
        Entry(
            "readable_low_mm",
            _("Readable from"),
            "decimal",
            value("readable_low_mm", "10.0"),
            unit=_("mm"),
        ),
        Entry(
            "readable_high_mm",
            _("Readable to"),
            "decimal",
            value("readable_high_mm", "690.0"),
            unit=_("mm"),
        ),
        Entry("bore_mm", _("Bore"), "decimal", value("bore_mm", "60.0"), unit=_("mm")),
    )


def add_column() -> Act:
    return Act("column", _("Add a column"), _("Add"), f"{API}/columns/", column_entries())


def change_column(column: Column) -> Act:
    url = f"{API}/columns/{column.pk}/"
    return _changed(f"column-{column.pk}", _("Change"), url, column, column_entries(column))


def pair_entries(pair: LiquidPair | None = None) -> tuple[Entry, ...]:
    def value(name: str) -> Any:
        return getattr(pair, name) if pair else ""

    return (
        Entry("name", _("Name"), value=value("name")),
        Entry("light_liquid", _("Light liquid"), value=value("light_liquid")),
        Entry("heavy_liquid", _("Heavy liquid"), value=value("heavy_liquid")),
        Entry(
            "density_low_g_cm3",
            _("Usable from"),
            "decimal",
            value("density_low_g_cm3"),
            unit=_("g/cm³"),
        ),
        Entry(
            "density_high_g_cm3",
            _("Usable to"),
            "decimal",
            value("density_high_g_cm3"),
            unit=_("g/cm³"),
        ),
        Entry(
            "cautions",
            _("Cautions"),
            "long",
            value("cautions"),
            required=False,
            hint=_("From the safety data sheets; shown at the pour."),
        ),
        Entry("source", _("Source of the range"), value=value("source"), required=False),
    )


def add_pair() -> Act:
    return Act("pair", _("Add a liquid pair"), _("Add"), f"{API}/pairs/", pair_entries())


def change_pair(pair: LiquidPair) -> Act:
    url = f"{API}/pairs/{pair.pk}/"
    return _changed(f"pair-{pair.pk}", _("Change"), url, pair, pair_entries(pair))


def change_rules(rules: LabRules) -> Act:
    entries = tuple(
        Entry(
            name,
            LabRules._meta.get_field(name).verbose_name.capitalize(),
            kind,
            getattr(rules, name),
        )
        for name, kind in (
            ("calibration_max_age_hours", "whole"),
            ("minimum_floats", "whole"),
            ("pass_hold_off_hours", "whole"),
            ("settling_minimum_hours", "whole"),
            ("settling_agreement_mm", "decimal"),
            ("height_repeatability_mm", "decimal"),
            ("late_entry_minutes", "whole"),
        )
    )
    return _changed("rules", _("Change the rules"), f"{API}/rules/", rules, entries)


def add_repeatability() -> Act:
    people = User.objects.filter(is_active=True, is_system=False)
    return Act(
        "repeatability",
        _("Set a person's repeatability"),
        _("Save"),
        f"{API}/repeatabilities/",
        (
            Entry(
                "person",
                _("Person"),
                "choice",
                options=[(each.pk, each.full_name) for each in people],
            ),
            Entry(
                "standard_deviation_mm",
                _("Standard deviation of a repeated height"),
                "decimal",
                unit=_("mm"),
            ),
            Entry("source", _("Found from"), hint=_("For example: 20 floats read twice, blind.")),
        ),
    )
