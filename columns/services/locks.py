"""Locking a row before its rules are looked at."""

from __future__ import annotations

from typing import TypeVar

from labsite.records import LabRecord

Row = TypeVar("Row", bound=LabRecord)


def locked(record: Row) -> Row:
    """The row as it is now, locked to the end of the transaction (SQLite locks the database)."""
    return type(record)._base_manager.select_for_update().get(pk=record.pk)
