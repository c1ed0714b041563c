"""Every way to write leaves its entries: no row of the lab without one, none beside it."""

from __future__ import annotations

import ast
import re
from collections import Counter
from pathlib import Path

import pytest
from django.apps import apps
from django.db import models

from labsite.audit.actions import declared
from labsite.records import LabRecord

ROOT = Path(__file__).resolve().parent.parent
FOLDERS = ("labsite", "columns", "samples", "reports")
# Where rows are written without `change`, each with its reason.
UNAUDITED_WRITERS = {
    "labsite/audit/services.py": "it is what writes entries and versions",
    "labsite/audit/digests.py": "the digest itself",
    "labsite/api/idempotency.py": "the answer to a request, not a lab record",
    "labsite/jobs/services.py": "jobs are the worker's own notes",
}
RAW_WRITERS = {"bulk_create", "bulk_update", "update_or_create", "get_or_create", "raw"}
ORM_NAMES = {"objects", "_base_manager", "_default_manager"}


def python_files() -> list[Path]:
    return [
        path
        for folder in FOLDERS
        for path in sorted((ROOT / folder).rglob("*.py"))
        if "migrations" not in path.parts
    ]


def lab_models() -> list[type[LabRecord]]:
    return [model for model in apps.get_models() if issubclass(model, LabRecord)]


def is_orm_write(node: ast.AST) -> bool:
    """`X.objects….create/update/delete(`, `.save(` or a bulk call."""
    if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
        return False
    name = node.func.attr
    if name in RAW_WRITERS:
        return True
    if name not in {"create", "update", "delete", "save"}:
        return False
    names = {part.attr for part in ast.walk(node.func.value) if isinstance(part, ast.Attribute)}
    return bool(names & ORM_NAMES) or (name == "save" and not node.args)


def test_only_the_history_itself_writes_rows() -> None:
    """Services use `log.add` and `log.update`; a raw write would leave no entry."""
    found = []
    for path in python_files():
        name = str(path.relative_to(ROOT))
        if name in UNAUDITED_WRITERS:
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        found += [f"{name}:{node.lineno}" for node in ast.walk(tree) if is_orm_write(node)]
    assert not found, "\n".join(found)


def test_each_exception_is_still_needed() -> None:
    for name in UNAUDITED_WRITERS:
        path = ROOT / name
        assert path.exists(), f"{name} is gone: take it off the list"
        tree = ast.parse(path.read_text(encoding="utf-8"))
        assert any(is_orm_write(node) for node in ast.walk(tree)), f"{name} writes nothing now"


def words_in(paths: list[Path]) -> Counter[str]:
    text = "\n".join(path.read_text(encoding="utf-8") for path in paths)
    return Counter(re.findall(r"[\w.]*\w", text))


def names_of_codes() -> dict[str, str]:
    """{"columns.fill.poured": "FILL_POURED"} as the modules of actions bind them."""
    source = "\n".join(
        path.read_text(encoding="utf-8") for path in python_files() if "audit_actions" in path.name
    )
    return {code: name for name, code in re.findall(r'(\w+) = declare\(\s*"([\w.]+)"', source)}


def test_every_action_is_used_and_asserted() -> None:
    """A code nobody writes, or that no test has seen, promises something that may not happen."""
    names = names_of_codes()
    assert set(names) == set(declared())
    source, tests = words_in(python_files()), words_in(sorted((ROOT / "tests").rglob("*.py")))

    def count(words: Counter[str], name: str) -> int:
        return sum(n for word, n in words.items() if word.split(".")[-1] == name)

    unused = [code for code, name in names.items() if count(source, name) < 2]
    unseen = [code for code, name in names.items() if not (tests[code] or count(tests, name))]
    assert not unused, f"no service writes: {unused}"
    assert not unseen, f"no test asserts: {unseen}"


@pytest.mark.parametrize("model", lab_models(), ids=lambda model: model._meta.label)
def test_no_lab_row_can_be_deleted_by_a_cascade(model: type[LabRecord]) -> None:
    for field in model._meta.concrete_fields:
        if field.is_relation:
            assert field.remote_field.on_delete is models.PROTECT, field
        assert not getattr(field, "auto_now", False), f"{field} changes without an entry"
