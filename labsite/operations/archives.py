"""The backup file: a tar with a manifest first, then every file that the manifest lists.

The manifest gives each file's size and SHA-256. An archive is believed only when its files are
exactly those of the manifest, byte for byte; nothing is unpacked outside the given folder.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import tarfile
from collections.abc import Mapping
from pathlib import Path, PurePosixPath
from typing import Any

MANIFEST = "manifest.json"
FORMAT = "restheight-backup"
FORMAT_VERSION = 1
CHUNK = 1024 * 1024


class BadArchive(Exception):
    """The file is no whole backup; the message says what is wrong with it."""


def write_archive(target: Path, files: Mapping[str, Path], facts: Mapping[str, Any]) -> dict:
    """Write `files` (name in the archive → path) under `target`, which appears when complete."""
    manifest = {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        **facts,
        "files": {name: _describe(path) for name, path in sorted(files.items())},
    }
    unfinished = target.with_name(target.name + ".part")
    opener = lambda path, flags: os.open(path, flags, 0o600)  # noqa: E731
    try:
        with open(unfinished, "wb", opener=opener) as raw:
            with tarfile.open(fileobj=raw, mode="w", format=tarfile.PAX_FORMAT) as tar:
                _add_bytes(tar, MANIFEST, json.dumps(manifest, indent=1).encode())
                for name in manifest["files"]:
                    tar.add(files[name], arcname=name, recursive=False, filter=_plain)
            raw.flush()
            os.fsync(raw.fileno())
        os.replace(unfinished, target)
    finally:
        unfinished.unlink(missing_ok=True)
    return manifest


def _describe(path: Path) -> dict[str, Any]:
    return {"bytes": path.stat().st_size, "sha256": digest_of(path)}


def digest_of(path: Path) -> str:
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _add_bytes(tar: tarfile.TarFile, name: str, content: bytes) -> None:
    entry = tarfile.TarInfo(name)
    entry.size = len(content)
    tar.addfile(entry, io.BytesIO(content))


def _plain(entry: tarfile.TarInfo) -> tarfile.TarInfo:
    """Names and bytes only: owners and modes of this machine mean nothing on another."""
    entry.uid = entry.gid = 0
    entry.uname = entry.gname = ""
    entry.mode = 0o600
    entry.mtime = int(entry.mtime)
    return entry


def unpack_archive(source: Path, folder: Path) -> dict[str, Any]:
    """Unpack and check the whole archive into the empty `folder`; return its manifest."""
    if source.stat().st_size % tarfile.RECORDSIZE:
        raise BadArchive("it is no backup, or it is cut short: it does not end where a tar ends")
    try:
        with tarfile.open(source, mode="r:") as tar:
            return _unpack(tar, folder)
    except tarfile.TarError as error:
        raise BadArchive(f"it cannot be read as a backup ({error}); it may be cut short") from error


def _unpack(tar: tarfile.TarFile, folder: Path) -> dict[str, Any]:
    manifest = _read_manifest(tar)
    expected = manifest["files"]
    found = set()
    for entry in iter(tar.next, None):
        if entry.name not in expected or not entry.isreg() or entry.name in found:
            raise BadArchive(f"{entry.name!r} is not in its manifest")
        _unpack_file(tar, entry, folder, expected[entry.name])
        found.add(entry.name)
    missing = sorted(expected.keys() - found)
    if missing:
        raise BadArchive(f"{missing[0]!r} is missing; the file is cut short")
    return manifest


def _read_manifest(tar: tarfile.TarFile) -> dict[str, Any]:
    first = tar.next()
    if first is None or first.name != MANIFEST or not first.isreg():
        raise BadArchive("it does not begin with a manifest")
    try:
        manifest = json.loads(tar.extractfile(first).read())
        version = (manifest["format"], manifest["format_version"])
        names = list(manifest["files"])
    except (ValueError, KeyError, TypeError) as error:
        raise BadArchive("its manifest cannot be read") from error
    if version != (FORMAT, FORMAT_VERSION):
        raise BadArchive(f"its format is {version}, not {(FORMAT, FORMAT_VERSION)}")
    if not all(_is_safe(name) for name in names):
        raise BadArchive("its manifest names a file outside the backup")
    return manifest


def _is_safe(name: str) -> bool:
    path = PurePosixPath(name)
    return not path.is_absolute() and ".." not in path.parts and str(path) == name


def _unpack_file(
    tar: tarfile.TarFile, entry: tarfile.TarInfo, folder: Path, expected: Mapping[str, Any]
) -> None:
    target = folder / entry.name
    target.parent.mkdir(parents=True, exist_ok=True)
    digest = hashlib.sha256()
    with open(target, "wb") as file:
        source = tar.extractfile(entry)
        while chunk := source.read(CHUNK):
            digest.update(chunk)
            file.write(chunk)
    if (entry.size, digest.hexdigest()) != (expected["bytes"], expected["sha256"]):
        raise BadArchive(f"{entry.name!r} is not what the manifest says; it was damaged")
