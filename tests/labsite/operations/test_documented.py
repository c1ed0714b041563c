"""docs/operations.md names every setting, check, option and command."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]
DOCUMENT = (ROOT / "docs" / "operations.md").read_text()
COMMANDS = ROOT / "labsite" / "operations" / "management" / "commands"


def names(pattern, *files):
    return sorted({name for file in files for name in re.findall(pattern, file.read_text())})


SETTINGS = names(r'read_\w+\(\s*"(\w+)"', ROOT / "labsite" / "settings.py")
CHECKS = names(r'id="(labsite\.\w+)"', ROOT / "labsite" / "checks.py")


def test_the_patterns_still_find_something():
    assert len(SETTINGS) >= 13
    assert len(CHECKS) >= 7


@pytest.mark.parametrize("name", [*SETTINGS, *CHECKS])
def test_settings_and_checks_are_documented(name):
    assert f"`{name}`" in DOCUMENT


@pytest.mark.parametrize(
    "path", [path for path in sorted(COMMANDS.glob("*.py")) if path.name != "__init__.py"], ids=str
)
def test_commands_and_their_options_are_documented(path):
    assert f"manage.py {path.stem}" in DOCUMENT
    for option in names(r'add_argument\(\s*"(--[\w-]+)"', path):
        if (path.stem, option) != ("alive", "--port"):
            assert option in DOCUMENT


def test_every_variable_of_the_document_is_read():
    written = set(re.findall(r"`(RESTHEIGHT_[A-Z_]+|DATABASE_URL|BROKER_URL)`", DOCUMENT))
    elsewhere = {"RESTHEIGHT_LISTEN"}  # of the compose file
    assert written - elsewhere <= set(SETTINGS)
