"""Collecting static files only when one of them, or a library that brings them, has changed."""

from __future__ import annotations

import hashlib
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command


def collect_if_changed() -> bool:
    """Run collectstatic unless the files are those of the last time; True when it ran."""
    stamp = Path(settings.STATIC_ROOT) / ".collected"
    wanted = _fingerprint()
    if stamp.is_file() and stamp.read_text() == wanted:
        return False
    call_command("collectstatic", interactive=False, clear=True, verbosity=0)
    stamp.parent.mkdir(parents=True, exist_ok=True)
    stamp.write_text(wanted)
    return True


def _fingerprint() -> str:
    digest = hashlib.sha256(settings.STORAGES["staticfiles"]["BACKEND"].encode())
    for finder in get_finders():
        for path, storage in sorted(finder.list([]), key=lambda found: found[0]):
            status = Path(storage.path(path)).stat()
            digest.update(f"{path}\0{status.st_size}\0{status.st_mtime_ns}\0".encode())
    return digest.hexdigest()
