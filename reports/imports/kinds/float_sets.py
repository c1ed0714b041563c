"""Float sets typed from a logbook, one row for each float or one row for each set."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from columns.models import Fill, FloatSet, Thermometer
from columns.services.float_sets import record_float_set
from labsite.accounts.roles import Action
from labsite.errors import LabError
from labsite.records import LabRecord
from reports.imports.fields import (
    CELSIUS,
    DECIMAL,
    HEIGHT_OR_REASON,
    INSTANT,
    MILLIMETRES,
    Column,
    Field,
    columns_wrong,
)
from reports.imports.kinds.base import Bad, CellRefused, Entry, Importing, Kind, Line
from reports.imports.kinds.lookups import (
    column_named,
    fill_at,
    float_labelled,
    from_logbook,
    known_floats,
    label_key,
    person_named,
)

WIDE = "float:"  # the code of a field that is one float's height
SHARED = ("person", "bath_temperature", "thermometer", "note")

FIELDS = (
    Field("column", gettext_lazy("Column"), ("column", "column name"), longest=40),
    Field(
        "read_at",
        gettext_lazy("Read at"),
        ("read at", "read", "time", "date and time", "date time", "read on"),
        INSTANT,
    ),
    Field(
        "person",
        gettext_lazy("Read by"),
        ("read by", "person", "reader", "technician", "initials"),
        longest=120,
    ),
    Field(
        "bath_temperature",
        gettext_lazy("Bath temperature"),
        ("bath temperature", "temperature", "bath", "bath temp", "temp"),
        DECIMAL,
        units=CELSIUS,
        places=2,
    ),
    Field(
        "thermometer",
        gettext_lazy("Thermometer"),
        ("thermometer",),
        in_empty_table=False,
        required=False,
        longest=60,
    ),
    Field(
        "note",
        gettext_lazy("Note"),
        ("note", "notes", "remark"),
        in_empty_table=False,
        required=False,
        longest=500,
    ),
    Field(
        "float",
        gettext_lazy("Float"),
        ("float", "float id", "float no", "float number"),
        required=False,
        longest=20,
    ),
    Field(
        "height",
        gettext_lazy("Height or reason"),
        ("height", "position", "reading", "height or reason"),
        HEIGHT_OR_REASON,
        required=False,
        units=MILLIMETRES,
        places=2,
        longest=200,
    ),
    Field(
        "reason",
        gettext_lazy("Reason for no height"),
        ("reason", "missing reason", "missing because", "reason for no height"),
        required=False,
        longest=200,
    ),
)


class FloatSetsKind(Kind):
    """Each set is saved with the calibration that follows from it."""

    code = "float-sets"
    label = gettext_lazy("Float sets")
    explanation = gettext_lazy(
        "One row for each float, or one row for each set with the floats as headers. A height "
        "that is missing needs its reason."
    )
    actions = (Action.IMPORT_RECORDS, Action.RECORD_FLOAT_SET)
    fields = FIELDS
    service_names = {
        "bath_temperature_c": "bath_temperature",
        "calibration_float": "float",
        "height_mm": "height",
        "missing_reason": "reason",
        "heights": "height",
    }

    def further_field(self, header: str) -> Field | None:
        known = known_floats().get(label_key(header))
        if known is None:
            return None
        return Field(
            f"{WIDE}{known.label}",
            known.label,
            (),
            HEIGHT_OR_REASON,
            required=False,
            units=MILLIMETRES,
            places=2,
            longest=200,
        )

    def layout_of(self, columns: list[Column]) -> str:
        wide = any(column.field.code.startswith(WIDE) for column in columns)
        return "wide" if wide else "long"

    def check_columns(self, columns: list[Column]) -> None:
        codes = {column.field.code for column in columns}
        wide = self.layout_of(columns) == "wide"
        own = {"float", "height", "reason"}
        wrong = own & codes if wide else {"float", "height"} - codes
        if not wrong:
            return
        texts = (
            _("Floats stand as headers here, so these columns cannot be there as well: %(names)s."),
            _("Missing: %(names)s. Or take one row for each set, with the floats as headers."),
        )
        names = [str(self.field_named(code).label) for code in sorted(wrong)]
        raise columns_wrong(
            {"unknown" if wide else "missing": names},
            (texts[0] if wide else texts[1]) % {"names": ", ".join(names)},
        )

    def layout_sentence(self, columns: list[Column]) -> str:
        if self.layout_of(columns) == "wide":
            return _("one row for each set, floats as headers")
        return _("one row for each float; rows of one column and time are one set")

    def entries(self, lines: list[Line], columns: list[Column]) -> tuple[list[Entry], list[Bad]]:
        groups: dict[Any, list[Line]] = {}
        for line in lines:
            key = (label_key(line["column"] or ""), line["read_at"])
            groups.setdefault(key if all(key) else line.row, []).append(line)
        if self.layout_of(columns) == "wide":
            repeated = [group[1] for group in groups.values() if len(group) > 1]
            bad = [_bad_repeat(line, columns) for line in repeated]
            return [Entry((group[0],)) for group in groups.values()], bad
        bad = [item for group in groups.values() for item in _contradictions(group, columns)]
        spoilt = {item.row for item in bad}
        whole = [g for g in groups.values() if not spoilt & {line.row for line in g}]
        return [Entry(tuple(group)) for group in whole], bad

    def place_of(self, entry: Entry, error: LabError) -> tuple[Line, str]:
        slots = _slots(entry)
        floats = error.extra.get("floats") or ()
        for slot in slots:
            if slot.label in floats:
                return slot.line, slot.code
        for name in error.fields:
            match = re.fullmatch(r"heights\[(\d+)\]\.?(\w*)", name)
            if match and int(match[1]) < len(slots):
                slot = slots[int(match[1])]
                own = self.service_names.get(match[2])
                return slot.line, own if own in slot.line.cells else slot.code
        return super().place_of(entry, error)

    def save(self, entry: Entry, importing: Importing) -> list[tuple[int, LabRecord]]:
        line = entry.first
        fill = fill_at(
            importing, column_named(importing, line["column"]), line["read_at"], code="read_at"
        )
        _refuse_recorded(fill, line)
        saved = record_float_set(
            actor=importing.actor,
            fill=fill,
            read_at=line["read_at"],
            read_by=person_named(importing, line["person"]),
            bath_temperature_c=line["bath_temperature"],
            thermometer=_thermometer(line["thermometer"]),
            heights=[_height(slot, importing) for slot in _slots(entry)],
            note=from_logbook(line["note"], importing.file_name, line.row),
            clock=importing.clock,
        )
        return [(line.row, saved.float_set)]


@dataclass(frozen=True)
class _Slot:
    """One float of a set: the cell in which its height stands, and what stands there."""

    line: Line
    code: str
    label: str
    value: Any
    reason: str = ""


def _slots(entry: Entry) -> list[_Slot]:
    if len(entry.lines) == 1 and "float" not in entry.first.cells:
        return [
            _Slot(entry.first, code, code.removeprefix(WIDE), value)
            for code, value in entry.first.values.items()
            if code.startswith(WIDE) and value is not None
        ]
    return [
        _Slot(line, "height", line["float"] or "", line["height"], line["reason"] or "")
        for line in entry.lines
    ]


def _height(slot: _Slot, importing: Importing) -> dict[str, Any]:
    known = float_labelled(importing, slot.label)
    if known is None:
        raise CellRefused("float", _("the label of a float of this lab"), slot.line)
    text = slot.value if isinstance(slot.value, str) else ""
    return {
        "calibration_float": known,
        "height_mm": slot.value if isinstance(slot.value, Decimal) else None,
        "missing_reason": "; ".join(part for part in (text, slot.reason) if part),
    }


def _contradictions(group: list[Line], columns: list[Column]) -> list[Bad]:
    """Rows of one set that disagree about its reader, temperature or note."""
    first = group[0]
    return [
        Bad(
            line.row,
            column.header,
            line.cells[column.field.code].text,
            _("the same as in row %(row)s, because both are of one float set") % {"row": first.row},
        )
        for line in group[1:]
        for column in columns
        if column.field.code in SHARED and line[column.field.code] != first[column.field.code]
    ]


def _bad_repeat(line: Line, columns: list[Column]) -> Bad:
    header = next(column.header for column in columns if column.field.code == "read_at")
    return Bad(
        line.row,
        header,
        line.cells["read_at"].text,
        _("another time; this column and time stand in an earlier row"),
    )


def _thermometer(name: str | None) -> Thermometer | None:
    if not name:
        return None
    found = Thermometer.objects.filter(name__iexact=name).first()
    if found is None:
        raise CellRefused("thermometer", _("the name of a thermometer of this lab"))
    return found


def _refuse_recorded(fill: Fill, line: Line) -> None:
    known = FloatSet.objects.filter(fill=fill, read_at=line["read_at"], replaced_at__isnull=True)
    if known.exists():
        raise CellRefused(
            "read_at", _("a float set that is not recorded yet; there is one of this time")
        )
