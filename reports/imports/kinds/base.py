"""What every kind of import has: its fields, its entries, and how one entry is saved."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from labsite.accounts.models import User
from labsite.accounts.roles import Action
from labsite.clock import Clock
from labsite.errors import LabError
from labsite.records import LabRecord
from reports.imports.cells import Cell
from reports.imports.fields import Column, Field


@dataclass(frozen=True)
class Line:
    """One row as understood: values by the code of their field; blank cells give None."""

    row: int
    values: dict[str, Any]
    cells: dict[str, Cell] = field(default_factory=dict)
    is_spoilt: bool = False  # some cell of the row could not be read

    def __getitem__(self, code: str) -> Any:
        return self.values.get(code)


@dataclass(frozen=True)
class Bad:
    """A row that cannot be taken: where, what stands there, what was expected."""

    row: int
    column: str
    value: str
    expected: str


@dataclass(frozen=True)
class Entry:
    """The lines that become one record (a float set has a line for each float)."""

    lines: tuple[Line, ...]

    @property
    def first(self) -> Line:
        return self.lines[0]

    @property
    def is_whole(self) -> bool:
        return not any(line.is_spoilt for line in self.lines)


@dataclass(frozen=True)
class Importing:
    """In whose name and by which clock an import runs."""

    actor: User
    now: datetime
    clock: Clock | None = None
    file_name: str = ""
    columns: tuple[Column, ...] = ()
    found: dict[Any, Any] = field(default_factory=dict)  # look-ups made once for the file


class CellRefused(Exception):
    """A cell that names something that is not there, or that contradicts another row."""

    def __init__(self, code: str, expected: str, line: Line | None = None) -> None:
        super().__init__(expected)
        self.code, self.expected, self.line = code, expected, line


class Kind:
    """A kind of import. Subclasses say what its rows mean; saving goes through services."""

    code: str
    label: Any
    explanation: Any
    actions: tuple[Action, ...] = (Action.IMPORT_RECORDS,)
    fields: tuple[Field, ...] = ()
    # what a service calls a field: what the file calls it
    service_names: dict[str, str] = {}

    def further_field(self, header: str) -> Field | None:
        """A field for a header that no field answers to, such as a float's label."""
        return None

    def field_named(self, code: str) -> Field | None:
        return next((own for own in self.fields if own.code == code), None)

    def check_columns(self, columns: list[Column]) -> None:
        """Raise RuleViolation for columns that do not go together."""

    def layout_sentence(self, columns: list[Column]) -> str:
        """How rows become records, where a file may be laid out in more than one way."""
        return ""

    def entries(self, lines: list[Line], columns: list[Column]) -> tuple[list[Entry], list[Bad]]:
        return [Entry((line,)) for line in lines], []

    def remarks(self, line: Line) -> Iterable[tuple[str, str]]:
        """What a person should look at before confirming: (field code, sentence)."""
        return ()

    def rests_on(self, entry: Entry) -> Any:
        """Entries with the same answer rest on each other and are tried out together."""
        return None

    def scope(self) -> AbstractContextManager[None]:
        """What holds while all entries of a file are saved."""
        return nullcontext()

    def place_of(self, entry: Entry, error: LabError) -> tuple[Line, str]:
        """The line and the field that a service's refusal is about."""
        for name in error.fields:
            code = self.service_names.get(name, name)
            if code in entry.first.cells:
                return entry.first, code
        return entry.first, ""

    def save(self, entry: Entry, importing: Importing) -> list[tuple[int, LabRecord]]:
        """Save one entry; gives the row that each new record came from."""
        raise NotImplementedError
