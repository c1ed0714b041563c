"""Backing up and restoring a whole laboratory: its database and its documents."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.utils.translation import gettext as _

from labsite.errors import Conflict, NotFound, RuleViolation
from labsite.operations.archives import BadArchive, unpack_archive, write_archive
from labsite.operations.databases import CopyFailed, current_engine

DOCUMENTS = "documents"


def back_up(target: Path | None = None) -> tuple[Path, dict[str, Any]]:
    """Write a backup, by default into the data folder; return its path and manifest.

    Documents are read after the database: a document is stored before the row that names it, so
    the copy holds at least every document that its rows name. Raises Conflict for a file that is
    there already.
    """
    target = target or _default_target()
    if target.exists():
        raise Conflict("backup_exists", _("%(file)s is there already.") % {"file": target})
    target.parent.mkdir(parents=True, exist_ok=True)
    engine = current_engine()
    with _scratch(target.parent) as folder, _plain_failures("backup_failed"):
        dump = folder / engine.file_name
        engine.dump(dump)
        files = {engine.file_name: dump, **_documents()}
        return target, write_archive(target, files, _facts(engine.name))


def _default_target() -> Path:
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
    return Path(settings.DATA_DIR) / "backups" / f"restheight-{stamp}.tar"


def _documents() -> dict[str, Path]:
    root = Path(settings.MEDIA_ROOT)
    found = (path for path in sorted(root.rglob("*")) if path.is_file())
    return {f"{DOCUMENTS}/{path.relative_to(root).as_posix()}": path for path in found}


def _facts(engine: str) -> dict[str, Any]:
    return {
        "made_at": datetime.now(UTC).isoformat(timespec="seconds"),
        "engine": engine,
        "migrations": sorted(".".join(key) for key in _applied_migrations()),
    }


def _applied_migrations() -> set[tuple[str, str]]:
    return set(MigrationRecorder(connection).applied_migrations())


def restore(source: Path, *, overwrite: bool = False) -> dict[str, Any]:
    """Replace this database and its documents by those of a backup; return its manifest.

    Everything is unpacked and checked before anything is touched. Raises NotFound,
    RuleViolation (damaged, for another database, or of a newer version) or Conflict (this
    database holds data and `overwrite` is False).
    """
    if not source.is_file():
        raise NotFound("backup_missing", _("There is no file %(file)s.") % {"file": source})
    engine = current_engine()
    with _scratch(Path(settings.DATA_DIR)) as folder, _plain_failures("backup_refused"):
        manifest = unpack_archive(source, folder)
        _require_same_engine(manifest, engine.name)
        _require_known_migrations(manifest)
        engine.check(folder / engine.file_name)
        if not overwrite:
            _require_empty_database()
        engine.load(folder / engine.file_name)
        _replace_documents(folder / DOCUMENTS)
    return manifest


def _require_same_engine(manifest: dict[str, Any], name: str) -> None:
    if manifest.get("engine") != name:
        raise RuleViolation(
            "backup_for_another_engine",
            _("This backup is of %(theirs)s, but DATABASE_URL names %(ours)s.")
            % {"theirs": manifest.get("engine"), "ours": name},
        )


def _require_known_migrations(manifest: dict[str, Any]) -> None:
    known = {".".join(key) for key in MigrationLoader(None).disk_migrations}
    unknown = sorted(set(manifest.get("migrations", [])) - known)
    if unknown:
        raise RuleViolation(
            "backup_of_newer_version",
            _("This backup is of a newer Restheight (it has %(name)s). Update the program first.")
            % {"name": unknown[0]},
        )


def _require_empty_database() -> None:
    if "audit_auditentry" not in connection.introspection.table_names():
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT EXISTS (SELECT 1 FROM audit_auditentry)")
        if not cursor.fetchone()[0]:
            return
    raise Conflict(
        "database_not_empty",
        _("This database holds data, which a restore would replace. Say --yes if that is meant."),
    )


def _replace_documents(unpacked: Path) -> None:
    unpacked.mkdir(exist_ok=True)
    live = Path(settings.MEDIA_ROOT)
    aside = unpacked.with_name("documents-before")
    if live.exists():
        live.rename(aside)
    unpacked.rename(live)


@contextmanager
def _scratch(parent: Path) -> Iterator[Path]:
    """A folder on the same disk as what it becomes, removed at the end."""
    folder = Path(tempfile.mkdtemp(prefix=".backup-", dir=parent))
    try:
        yield folder
    finally:
        shutil.rmtree(folder)


@contextmanager
def _plain_failures(code: str) -> Iterator[None]:
    try:
        yield
    except (BadArchive, CopyFailed) as error:
        raise RuleViolation(
            code, _("This is refused: %(why)s.") % {"why": str(error).rstrip(".")}
        ) from error
