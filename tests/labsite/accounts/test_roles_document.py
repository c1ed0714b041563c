"""docs/roles.md and docs/history.md say what the code does."""

from __future__ import annotations

import re
from pathlib import Path

import labsite.audit.verification
from labsite.accounts.roles import GRANTS, Action, Role

DOCS = Path(__file__).resolve().parents[3] / "docs"


def test_the_table_of_roles_is_the_one_in_the_code() -> None:
    text = (DOCS / "roles.md").read_text(encoding="utf-8")
    rows = [line.strip("| ").split(" | ") for line in text.splitlines() if line.startswith("| `")]
    documented = {row[0].strip("`"): (row[1], row[2:]) for row in rows if len(row) == 7}
    expected = {
        action.value: (str(action.label), ["yes" if action in GRANTS[r] else "–" for r in Role])
        for action in Action
    }
    assert documented == expected


def test_every_finding_of_the_verification_is_told() -> None:
    source = Path(labsite.audit.verification.__file__).read_text(encoding="utf-8")
    codes = set(re.findall(r'\.miss\(\s*"(\w+)"', source))
    text = (DOCS / "history.md").read_text(encoding="utf-8")
    assert len(codes) > 10
    assert not [code for code in codes if f"`{code}`" not in text]
