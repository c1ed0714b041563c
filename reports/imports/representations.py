"""Previews and imports as the API and the page show them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from reports.imports.fields import DAY, DECIMAL, HEIGHT_OR_REASON, INSTANT, Column
from reports.imports.guesses import DATE_ORDER, DECIMAL_MARK, Guess
from reports.imports.kinds.base import Bad, Line
from reports.imports.kinds.registry import KINDS
from reports.imports.readings import FileReading
from reports.imports.services import Preview
from reports.imports.sheets_out import csv_text
from reports.models import ImportBatch

SHOWN_ROWS = 20


def preview_facts(preview: Preview) -> dict[str, Any]:
    reading = preview.reading
    return {
        "kind": reading.kind.code,
        "file": {
            "name": reading.file_name,
            "format": reading.table.format,
            "size_bytes": reading.size_bytes,
            "sha256": reading.sha256,
        },
        "guesses": [_guess_facts(guess) for guess in reading.guesses],
        "choices": reading.choices,
        "columns": [_column_facts(column) for column in reading.columns],
        "row_count": len(reading.table.rows),
        "rows": _shown_rows(reading),
        "would_make": preview.would_make,
        "would_make_text": told_counts(preview.would_make),
        "remarks": [vars(remark) for remark in reading.remarks],
        "bad": [vars(item) for item in preview.bad],
        "bad_csv": bad_csv(preview.bad) if preview.bad else "",
        "earlier": batch_facts(preview.earlier) if preview.earlier else None,
        "ready": preview.is_ready,
    }


def _guess_facts(guess: Guess) -> dict[str, Any]:
    return {
        "name": guess.name,
        "value": guess.value,
        "text": guess.text,
        "why": guess.why,
        "is_question": guess.is_question,
        "options": [{"value": value, "label": str(label)} for value, label in guess.options],
    }


def _column_facts(column: Column) -> dict[str, Any]:
    unit = column.field.units[0].sign if column.field.units else ""
    return {
        "header": column.header,
        "field": column.field.code,
        "label": str(column.field.label),
        "unit": unit,
    }


def _shown_rows(reading: FileReading) -> list[dict[str, Any]]:
    return [
        {
            "row": line.row,
            "values": [_shown(line, column, reading) for column in reading.columns],
        }
        for line in reading.lines[:SHOWN_ROWS]
    ]


def _shown(line: Line, column: Column, reading: FileReading) -> str | None:
    """The value as understood; None where the cell could not be read."""
    code = column.field.code
    if _is_asked_about(column, reading):
        return line.cells[code].text
    if code not in line.values:
        return None
    value = line.values[code]
    if isinstance(value, datetime):
        return value.astimezone(reading.marks.zone).isoformat(" ", _precision(value))
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return format(value, "f")
    choices = column.field.choices.get(value) if value else None
    return choices[0] if choices else value or ""


def _is_asked_about(column: Column, reading: FileReading) -> bool:
    """Before a question is answered, what depends on it is shown as it stands in the file."""
    depends = {DATE_ORDER: (DAY, INSTANT), DECIMAL_MARK: (DECIMAL, HEIGHT_OR_REASON)}
    return any(column.field.what in depends[guess.name] for guess in reading.questions)


def _precision(value: datetime) -> str:
    return "seconds" if value.second else "minutes"


def bad_csv(bad: Iterable[Bad]) -> str:
    headers = (_("row"), _("column"), _("found"), _("expected"))
    return csv_text(headers, ((b.row, b.column, b.value, b.expected) for b in bad))


def batch_facts(batch: ImportBatch) -> dict[str, Any]:
    labels = {kind.code: str(kind.label) for kind in KINDS}
    counts = counts_of(batch)
    return {
        "id": str(batch.pk),
        "kind": batch.kind,
        "kind_label": labels.get(batch.kind, batch.kind),
        "file_name": batch.file_name,
        "sha256": batch.sha256,
        "size_bytes": batch.size_bytes,
        "row_count": batch.row_count,
        "imported_at": batch.imported_at.isoformat(),
        "imported_by": {"id": str(batch.imported_by_id), "name": str(batch.imported_by)},
        "choices": batch.choice_facts,
        "counts": counts,
        "counts_text": told_counts(counts),
    }


def counts_of(batch: ImportBatch) -> dict[str, int]:
    counts: dict[str, int] = {}
    for record in batch.record_list:
        counts[record["type"]] = counts.get(record["type"], 0) + 1
    return counts


def told_counts(counts: dict[str, int]) -> str:
    """Such as "9 floats, 9 certificates"."""
    return ", ".join(_told_count(name, count) for name, count in counts.items())


def _told_count(name: str, count: int) -> str:
    texts = {
        "columns.calibrationfloat": ngettext("%(count)s float", "%(count)s floats", count),
        "columns.certificate": ngettext("%(count)s certificate", "%(count)s certificates", count),
        "columns.floatset": ngettext("%(count)s float set", "%(count)s float sets", count),
        "samples.lot": ngettext("%(count)s new lot", "%(count)s new lots", count),
        "samples.specimen": ngettext("%(count)s specimen", "%(count)s specimens", count),
        "samples.reading": ngettext("%(count)s reading", "%(count)s readings", count),
    }
    return texts[name] % {"count": count}
