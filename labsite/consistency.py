"""Reading many tables as they were at one instant, while others write."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection, transaction


@contextmanager
def consistent_read() -> Iterator[None]:
    """A transaction whose queries all see one state, and which keeps no writer waiting.

    Inside another transaction it only joins that one.
    """
    if connection.in_atomic_block:
        with transaction.atomic():
            yield
    elif connection.vendor == "sqlite":
        with _deferred(), transaction.atomic():
            yield
    else:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield


@contextmanager
def _deferred() -> Iterator[None]:
    """SQLite transactions that take no write lock at their start."""
    connection.ensure_connection()
    usual = connection.transaction_mode
    connection.transaction_mode = "DEFERRED"
    try:
        yield
    finally:
        connection.transaction_mode = usual
