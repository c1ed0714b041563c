"""Rows of the three kinds, and files made of them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

FLOAT_HEADERS = [
    "float", "certificate number", "issuer", "density (g/cm³)", "U (g/cm³)", "k", "common u",
    "issued", "valid until",
]  # fmt: skip


def csv_of(rows: Iterable[Iterable[str]], *, delimiter: str = ",") -> bytes:
    stream = io.StringIO(newline="")
    csv.writer(stream, delimiter=delimiter).writerows(rows)
    return stream.getvalue().encode()


def float_row(number: int, **other: str) -> list[str]:
    """A row of a floats file; `other` replaces cells by the first word of their header."""
    facts = {
        "float": f"F-{300 + number}",
        "certificate": f"HF-26-{number:03d}",
        "issuer": "Harrow Fell Calibration",
        "density": f"{0.9 + number / 10000:.4f}",
        "U": "0.0001",
        "k": "2",
        "common": "0.00002",
        "issued": "2026-01-15",
        "valid": "2028-01-14",
    }
    return list({**facts, **other}.values())


def floats_file(count: int, **replaced: list[str]) -> bytes:
    """`replaced` gives whole rows by "row3" and the like; row 1 holds the headers."""
    rows = [float_row(number) for number in range(1, count + 1)]
    for name, row in replaced.items():
        rows[int(name.removeprefix("row")) - 2] = row
    return csv_of([FLOAT_HEADERS, *rows])
