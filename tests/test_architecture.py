"""Imports point down only; the pure packages load without any framework."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

# From the bottom up. A module's rank is that of the longest prefix that names it.
RANKS = {
    "labsite.errors": 0,
    "labsite.quantities": 0,
    "labsite.clock": 0,
    "labsite.environment": 0,
    "columns.physics": 1,
    "samples.stats": 2,
    "reports.demo": 2,
    "reports.demo.loader": 6,
    "labsite": 3,  # foundation: accounts, audit, api, web, jobs
    "columns": 4,
    "samples": 5,
    "reports": 6,
    "labsite.operations": 7,  # assembly: commands that start and keep the whole
    "labsite.checks": 7,
    "labsite.settings": 7,
    "labsite.urls": 7,
    "labsite.celery": 7,
    "labsite.wsgi": 7,
}
PURE = ("columns.physics", "samples.stats", "labsite.quantities", "reports.demo.simulator")
FRAMEWORKS = ("django", "rest_framework", "celery", "plotly")


def rank(module: str) -> int | None:
    names = [name for name in RANKS if module == name or module.startswith(name + ".")]
    return RANKS[max(names, key=len)] if names else None


def sources() -> list[Path]:
    folders = ("labsite", "columns", "samples", "reports")
    return [path for folder in folders for path in sorted((ROOT / folder).rglob("*.py"))]


def module_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports_of(path: Path) -> list[tuple[int, str]]:
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: say the whole path of the import"
            found += [(node.lineno, f"{node.module}.{alias.name}") for alias in node.names]
    return found


def test_imports_point_down_only() -> None:
    upward = []
    for path in sources():
        own = rank(module_of(path))
        for line, target in imports_of(path):
            other = rank(target)
            if other is not None and own is not None and other > own:
                upward.append(f"{path.relative_to(ROOT)}:{line} imports {target}")
    assert not upward, "\n".join(upward)


def test_an_upward_import_would_be_seen() -> None:
    assert rank("columns.services.fills") < rank("samples.models.Lot")
    assert rank("labsite.audit.services") < rank("columns.models")
    assert rank("columns.physics.curve") < rank("labsite.audit")


def test_the_packages_of_the_apps_are_empty() -> None:
    """Otherwise the pure packages below them would load the frameworks."""
    for app in ("labsite", "columns", "samples", "reports"):
        assert (ROOT / app / "__init__.py").read_text() == ""


def test_no_migration_imports_the_app() -> None:
    for path in sources():
        if "migrations" in path.parts:
            own = [name for _line, name in imports_of(path) if rank(name) is not None]
            assert own == [], f"{path} imports {own}: migrations use the historical models"


@pytest.mark.parametrize("package", PURE)
def test_pure_packages_load_without_frameworks(package: str) -> None:
    blocked = "".join(f"sys.modules[{name!r}] = None; " for name in FRAMEWORKS)
    code = f"import sys; {blocked}import {package}"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_only_services_and_the_history_write() -> None:
    """Views, serializers and tasks call services: no `.save(`, `.create(` or `.delete(` there."""
    writers = ("save", "create", "bulk_create", "delete", "update_or_create", "get_or_create")
    places = ("views", "api", "tasks", "selectors")
    allowed = {"labsite/api/idempotency.py"}  # its record belongs to the answer, not to the lab
    found = []
    for path in sources():
        name = str(path.relative_to(ROOT))
        if name in allowed or not any(p in path.with_suffix("").parts for p in places):
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Attribute)
                and node.func.attr in writers
                and isinstance(node.func.value, ast.Attribute | ast.Name)
                and getattr(node.func.value, "attr", "") == "objects"
            ):
                found.append(f"{name}:{node.lineno}")
    assert not found, "\n".join(found)
