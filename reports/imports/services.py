"""Previewing and saving a file: both run the same services, and a preview takes all back.

A preview that finds nothing wrong is therefore one that can be saved, as long as nobody changes
the lab in between; and then the saving refuses, and nothing is half-saved.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection
from django.utils.translation import gettext as _

from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.audit.services import Change, change
from labsite.clock import Clock
from labsite.errors import Conflict, LabError, RuleViolation
from labsite.records import LabRecord, canonical_json
from reports import audit_actions as actions
from reports.imports.guesses import CHOICES
from reports.imports.kinds.base import Bad, CellRefused, Entry, Importing, Kind, Line
from reports.imports.kinds.registry import kind_named
from reports.imports.readings import FileReading, read_file
from reports.imports.signatures import refuse_large
from reports.models import ImportBatch

# A slice of specimen heights takes about two seconds; a writer that waits for SQLite looks again
# after a tenth of a second at most.
SLICE_ROWS = 50
PAUSE_SECONDS = 0.12

Saved = list[tuple[int, LabRecord]]


@dataclass(frozen=True)
class Preview:
    """A file as understood, what is wrong with its rows, and what saving it would make."""

    reading: FileReading
    bad: tuple[Bad, ...]
    would_make: dict[str, int]
    earlier: ImportBatch | None

    @property
    def is_ready(self) -> bool:
        return not (self.bad or self.reading.questions or self.earlier)


class _TakenBack(Exception):
    """Ends the transaction of a preview."""


def preview_import(
    *,
    actor: User,
    kind: str,
    file_name: str,
    content: bytes,
    choices: Mapping[str, str] | None = None,
    clock: Clock | None = None,
) -> Preview:
    """Read a file and try its rows out; nothing is saved.

    Raises NotPermitted for a kind whose records the actor may not make, other LabErrors for a
    file that cannot be read or whose headers do not fit.
    """
    reading = _read(actor, kind, file_name, content, choices or {})
    earlier = _earlier(reading)
    if reading.questions or earlier is not None:
        return Preview(reading, (), {}, earlier)  # its rows are judged when it is clear how
    bad, counts = _tried_out(reading, actor, clock)
    return Preview(reading, _sorted([*reading.bad, *bad]), counts, None)


def commit_import(
    *,
    actor: User,
    kind: str,
    file_name: str,
    content: bytes,
    sha256: str,
    choices: Mapping[str, str],
    clock: Clock | None = None,
) -> ImportBatch:
    """Save all rows of a file that was previewed, or none.

    `sha256` and `choices` are those of the preview. Raises Conflict when the file is another one
    or was imported before, RuleViolation with every bad row when one is bad.
    """
    reading = _read(actor, kind, file_name, content, choices)
    _refuse_other_file(reading, sha256)
    _refuse_open_choices(reading, choices)
    if reading.bad:
        raise _refusal(reading.bad)
    with change(actor=actor, clock=clock, reason=_("from the file %s") % reading.file_name) as log:
        _refuse_earlier(reading)
        bad, saved = _save_entries(reading, reading.entries, _importing(reading, actor, clock, log))
        if bad:
            raise _refusal(bad)
        return log.add(_batch(reading, saved, log), actions.FILE_IMPORTED)


def _read(
    actor: User, kind_code: str, file_name: str, content: bytes, choices: Mapping[str, str]
) -> FileReading:
    kind = kind_named(kind_code)
    for action in kind.actions:
        require(actor, action)
    refuse_large(len(content))
    return read_file(kind, file_name, content, choices)


def _importing(reading: FileReading, actor: User, clock: Clock | None, log: Change) -> Importing:
    return Importing(actor, log.now, clock, reading.file_name, reading.columns)


def _tried_out(
    reading: FileReading, actor: User, clock: Clock | None
) -> tuple[list[Bad], dict[str, int]]:
    """What cannot be saved, and counts of what could; slice by slice, and all taken back.

    Between the slices others get their turn to write; SQLite has one writer at a time.
    """
    bad: list[Bad] = []
    counts: Counter[str] = Counter()
    for number, entries in enumerate(slices(reading.kind, reading.entries)):
        if number and connection.vendor == "sqlite":
            time.sleep(PAUSE_SECONDS)
        try:
            with change(actor=actor, clock=clock) as log:
                importing = _importing(reading, actor, clock, log)
                found, saved = _save_entries(reading, entries, importing)
                raise _TakenBack
        except _TakenBack:
            bad += found
            counts.update(record._meta.label_lower for _row, record in saved)
    return bad, dict(counts)


def slices(kind: Kind, entries: Iterable[Entry]) -> Iterator[list[Entry]]:
    """Entries in slices of some rows; those that rest on each other are never parted."""
    groups: dict[Any, list[Entry]] = {}
    for number, entry in enumerate(entries):
        key = kind.rests_on(entry)
        groups.setdefault(number if key is None else key, []).append(entry)
    together: list[Entry] = []
    for group in groups.values():
        together += group
        if sum(len(entry.lines) for entry in together) >= SLICE_ROWS:
            yield together
            together = []
    if together:
        yield together


def _save_entries(
    reading: FileReading, entries: Iterable[Entry], importing: Importing
) -> tuple[list[Bad], Saved]:
    """Save all whole entries; what could not be saved is told."""
    bad: list[Bad] = []
    saved: Saved = []
    with reading.kind.scope():
        for entry in entries:
            if entry.is_whole:
                bad += _save_entry(reading, entry, importing, saved)
    return bad, saved


def _save_entry(
    reading: FileReading, entry: Entry, importing: Importing, saved: Saved
) -> list[Bad]:
    """Save one entry in a savepoint of its own, so that all bad ones are found at once."""
    try:
        with change(actor=importing.actor, clock=importing.clock):
            saved += reading.kind.save(entry, importing)
        return []
    except ExceptionGroup as several:
        return [bad for error in several.exceptions for bad in _bad_of(reading, entry, error)]
    except (CellRefused, LabError, ValidationError, IntegrityError) as error:
        return _bad_of(reading, entry, error)


def _bad_of(reading: FileReading, entry: Entry, error: Exception) -> list[Bad]:
    """What an error says of the cells of an entry; one of the program's own is raised again."""
    line = getattr(error, "line", None) or entry.first
    if isinstance(error, CellRefused):
        return [_bad_cell(reading, line, error.code, error.expected)]
    if isinstance(error, LabError):
        return _told(reading, entry, error)
    if isinstance(error, ValidationError):
        return _told_by_model(reading, line, error)
    if isinstance(error, IntegrityError):
        expected = _("a record that does not clash with another one")
        return [Bad(line.row, "", "", expected)]
    raise error


def _bad_cell(reading: FileReading, line: Line, code: str, expected: str) -> Bad:
    cell = line.cells.get(code)
    return Bad(line.row, reading.header_of(code), cell.text if cell else "", expected)


def _told(reading: FileReading, entry: Entry, error: LabError) -> list[Bad]:
    """A service's refusal at the cell that it names, else at the row."""
    line, code = reading.kind.place_of(entry, error)
    return [_bad_cell(reading, line, code, str(error.message))]


def _told_by_model(reading: FileReading, line: Line, error: ValidationError) -> list[Bad]:
    names = error.message_dict if hasattr(error, "error_dict") else {"": error.messages}
    own = reading.kind.service_names
    return [
        _bad_cell(reading, line, own.get(name, name), " ".join(texts))
        for name, texts in names.items()
    ]


def _sorted(bad: Iterable[Bad]) -> tuple[Bad, ...]:
    return tuple(sorted(bad, key=lambda item: item.row))


def _earlier(reading: FileReading) -> ImportBatch | None:
    return (
        ImportBatch.objects.filter(kind=reading.kind.code, sha256=reading.sha256)
        .select_related("imported_by")
        .first()
    )


def _refuse_earlier(reading: FileReading) -> None:
    earlier = _earlier(reading)
    if earlier is not None:
        raise Conflict(
            "already_imported",
            _("%(who)s imported this same file already, as %(name)s. Nothing was saved again.")
            % {"who": earlier.imported_by, "name": earlier.file_name},
            earlier=str(earlier.pk),
        )


def _refuse_other_file(reading: FileReading, sha256: str) -> None:
    if sha256.lower() != reading.sha256:
        raise Conflict(
            "file_changed",
            _("This is not the file that was previewed. Preview it again before saving."),
            fields={"sha256": [_("that of the preview is expected")]},
            sha256=reading.sha256,
        )


def _refuse_open_choices(reading: FileReading, choices: Mapping[str, str]) -> None:
    asked = [guess.name for guess in reading.guesses if guess.name in CHOICES]
    open_ones = [name for name in asked if name not in choices]
    superfluous = sorted(set(choices) - set(asked))
    if open_ones or superfluous:
        raise RuleViolation(
            "choices_incomplete",
            _("Send back all choices of the preview: missing %(missing)s, not asked %(extra)s.")
            % {"missing": ", ".join(open_ones) or "–", "extra": ", ".join(superfluous) or "–"},
            fields={name: [_("choose")] for name in open_ones},
        )


def _refusal(bad: Iterable[Bad]) -> RuleViolation:
    bad = _sorted(bad)
    return RuleViolation(
        "rows_not_valid",
        _("%(count)s cells or rows are not right, the first in row %(row)s. Nothing was saved.")
        % {"count": len(bad), "row": bad[0].row},
        bad=[vars(item) for item in bad],
    )


def _batch(reading: FileReading, saved: Saved, log: Change) -> ImportBatch:
    return ImportBatch(
        kind=reading.kind.code,
        file_name=reading.file_name,
        sha256=reading.sha256,
        size_bytes=reading.size_bytes,
        row_count=len(reading.table.rows),
        imported_at=log.now,
        imported_by=log.actor,
        choices=canonical_json(reading.choices),
        records=canonical_json([_reference(row, record) for row, record in saved]),
    )


def _reference(row: int, record: LabRecord) -> dict[str, Any]:
    return {"row": row, "type": record._meta.label_lower, "id": str(record.pk)}
