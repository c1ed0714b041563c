"""The page of the manual tells what is true: its headers and examples are understood."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings

from reports.imports.fields import match_header
from reports.imports.kinds.registry import KINDS, kind_named
from reports.imports.readings import read_file
from reports.imports.signatures import LARGEST_BYTES, LARGEST_UNZIPPED_BYTES
from reports.imports.tables import MOST_COLUMNS, MOST_ROWS
from tests import factories

MANUAL = (Path(settings.BASE_DIR) / "docs" / "imports.md").read_text()
SECTIONS = {
    code: text
    for text in MANUAL.split("\n## ")
    for code in re.findall(r"^[^\n]*\(`([\w-]+)`\)", text)
}


def headers_in(section: str) -> list[str]:
    rows = re.findall(r"^\| ([^|]+) \| ([^|]*)\|", section, re.MULTILINE)
    cells = [cell.split(":")[0] for row in rows if row[0] != "Header" for cell in row]
    return [name.strip() for cell in cells for name in cell.split(",") if name.strip(" -")]


def test_every_kind_has_its_section() -> None:
    assert list(SECTIONS) == [kind.code for kind in KINDS]


@pytest.mark.parametrize("code", SECTIONS)
def test_headers_of_the_manual_are_understood(code: str) -> None:
    kind = kind_named(code)
    found = {match_header(name, kind.fields)[0].code for name in headers_in(SECTIONS[code])}
    assert found == {field.code for field in kind.fields}


@pytest.mark.django_db
@pytest.mark.parametrize("code", SECTIONS)
def test_examples_of_the_manual_are_understood(code: str, manager: Any) -> None:
    for label in ("F-101", "F-102", "F-103"):
        factories.make_float(actor=manager, label=label)
    examples = re.findall(r"```\n(.*?)```", SECTIONS[code], re.DOTALL)
    assert examples
    for example in examples:
        reading = read_file(kind_named(code), "a.csv", example.encode(), {})
        assert (reading.bad, reading.questions) == ((), [])
        assert len(reading.lines) == example.count("\n") - 1


def test_limits_of_the_manual_are_those_of_the_code() -> None:
    assert (MOST_ROWS, MOST_COLUMNS) == (500, 100)
    assert (LARGEST_BYTES, LARGEST_UNZIPPED_BYTES) == (5 * 1024 * 1024, 25 * 1024 * 1024)
    assert "Up to 5 MB, 500 rows and 100 columns" in MANUAL
    assert "25 MB" in MANUAL
