"""Floats with their certificates, one row for each."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from columns.models import CalibrationFloat
from columns.services.certificates import add_certificate
from columns.services.floats import register_float
from labsite.accounts.roles import Action
from labsite.records import LabRecord
from reports.imports.doubts import code_doubts
from reports.imports.fields import DAY, DECIMAL, DENSITY, Column, Field
from reports.imports.kinds.base import Bad, Entry, Importing, Kind, Line
from reports.imports.kinds.lookups import float_labelled, floats_by_label, label_key

FIELDS = (
    Field(
        "float",
        gettext_lazy("Float"),
        ("float", "float id", "float no", "float number", "label", "id"),
        longest=20,
    ),
    Field(
        "certificate",
        gettext_lazy("Certificate number"),
        ("certificate", "certificate number", "certificate no", "number", "cert no"),
        longest=80,
    ),
    Field(
        "issuer",
        gettext_lazy("Issuer"),
        ("issuer", "issued by", "laboratory", "calibration laboratory"),
        longest=120,
    ),
    Field(
        "density",
        gettext_lazy("Density at 23 °C"),
        ("density", "density at 23 °c", "density at 23 c", "certified density"),
        DECIMAL,
        units=DENSITY,
        places=6,
    ),
    Field(
        "expanded_uncertainty",
        gettext_lazy("Expanded uncertainty U"),
        ("U", "expanded uncertainty", "expanded uncertainty u", "u expanded"),
        DECIMAL,
        units=DENSITY,
        places=7,
    ),
    Field(
        "coverage_factor",
        gettext_lazy("Coverage factor k"),
        ("k", "coverage factor", "coverage factor k", "k factor"),
        DECIMAL,
        places=2,
    ),
    Field(
        "common_standard_uncertainty",
        gettext_lazy("Common standard uncertainty"),
        ("common u", "common standard uncertainty", "shared u", "shared standard uncertainty"),
        DECIMAL,
        required=False,
        units=DENSITY,
        places=7,
    ),
    Field("issued", gettext_lazy("Issued"), ("issued", "issued on", "date of issue"), DAY),
    Field(
        "valid_until",
        gettext_lazy("Valid until"),
        ("valid until", "valid to", "expires", "expires on", "due", "recalibration due"),
        DAY,
    ),
    Field(
        "note",
        gettext_lazy("Note"),
        ("note", "notes", "remark"),
        in_empty_table=False,
        required=False,
        longest=500,
    ),
)


class FloatsKind(Kind):
    """A float that is not there yet is registered; a known one gets the certificate."""

    code = "floats"
    label = gettext_lazy("Floats with certificates")
    explanation = gettext_lazy(
        "One row for each float and certificate. New floats are registered, known ones get the "
        "certificate."
    )
    actions = (Action.IMPORT_RECORDS, Action.MANAGE_EQUIPMENT)
    fields = FIELDS
    service_names = {
        "label": "float",
        "calibration_float": "float",
        "number": "certificate",
        "density_g_cm3": "density",
        "expanded_uncertainty_g_cm3": "expanded_uncertainty",
        "common_standard_uncertainty_g_cm3": "common_standard_uncertainty",
        "issued_on": "issued",
    }

    def entries(self, lines: list[Line], columns: list[Column]) -> tuple[list[Entry], list[Bad]]:
        first: dict[tuple[str, str], Line] = {}
        entries, bad = [], []
        for line in lines:
            if line.is_spoilt:
                continue
            key = (label_key(line["float"]), line["certificate"].casefold())
            if key in first:
                bad.append(_repeated(line, first[key], columns))
            else:
                first[key] = line
                entries.append(Entry((line,)))
        return entries, bad

    def remarks(self, line: Line) -> Iterable[tuple[str, str]]:
        for code in ("float", "certificate"):
            for sentence in code_doubts(line.cells[code]):
                yield code, sentence

    def rests_on(self, entry: Entry) -> Any:
        return label_key(entry.first["float"] or "")

    def save(self, entry: Entry, importing: Importing) -> list[tuple[int, LabRecord]]:
        line = entry.first
        known = float_labelled(importing, line["float"])
        each = known or _registered(line, importing)
        certificate = add_certificate(
            actor=importing.actor, calibration_float=each, clock=importing.clock, **_facts(line)
        )
        # only now: a refused certificate takes the new float back with it
        floats_by_label(importing)[label_key(each.label)] = each
        return [(line.row, made) for made in (each, certificate) if made is not known]


def _registered(line: Line, importing: Importing) -> CalibrationFloat:
    return register_float(
        actor=importing.actor,
        label=line["float"],
        note=line["note"] or "",
        clock=importing.clock,
    )


def _repeated(line: Line, first: Line, columns: list[Column]) -> Bad:
    header = next(column.header for column in columns if column.field.code == "certificate")
    return Bad(
        line.row,
        header,
        line["certificate"],
        _("each certificate of a float once; row %(row)s has it already") % {"row": first.row},
    )


def _facts(line: Line) -> dict[str, Any]:
    return {
        "number": line["certificate"],
        "issuer": line["issuer"],
        "density_g_cm3": line["density"],
        "expanded_uncertainty_g_cm3": line["expanded_uncertainty"],
        "coverage_factor": line["coverage_factor"],
        "common_standard_uncertainty_g_cm3": line["common_standard_uncertainty"] or 0,
        "issued_on": line["issued"],
        "valid_until": line["valid_until"],
    }
