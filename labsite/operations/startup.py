"""What has to be true before the app is started, checked or brought about in this order."""

from __future__ import annotations

import fcntl
import socket
from contextlib import closing
from pathlib import Path
from typing import IO

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management import CommandError, call_command
from django.utils.translation import gettext as _

from labsite.audit.models import AuditEntry
from reports.demo.loader.ledgers import CLOCK_SOURCE

# How the entries of the demo's loader say which clock they were written by.
DEMO_MARK = f'"clock":"{CLOCK_SOURCE}"'


def hold_data_folder() -> IO[str]:
    """Lock the data folder for this process; the lock ends with the returned file."""
    held = open(Path(settings.DATA_DIR) / "up.lock", "a")  # noqa: SIM115  kept open on purpose
    try:
        fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        held.close()
        raise CommandError(
            _("Restheight is already running on the data in %(folder)s. Stop it first.")
            % {"folder": settings.DATA_DIR}
        ) from None
    return held


def require_free_port(host: str, port: int) -> None:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with closing(socket.socket(family, socket.SOCK_STREAM)) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise CommandError(
                _(
                    "Cannot listen on %(host)s port %(port)s: %(error)s. Stop what uses it, or "
                    "choose another one with --port."
                )
                % {"host": host, "port": port, "error": error.strerror or error}
            ) from None


def prepare_database() -> None:
    call_command("migrate", interactive=False, verbosity=0)
    call_command("createcachetable", verbosity=0)


def nobody_can_sign_in() -> bool:
    return not get_user_model().objects.filter(is_system=False).exists()


def load_demo_if_empty() -> bool:
    """Load the demo lab into an empty database, all or nothing; True when it did.

    Raises CommandError for a database with other people in it: demo mode lets anybody in.
    """
    if nobody_can_sign_in():
        call_command("load_demo")
        return True
    if not AuditEntry.objects.filter(body__contains=DEMO_MARK).exists():
        raise CommandError(
            _(
                "This database holds a real laboratory; --demo would let anybody in. Leave --demo "
                "out, or give RESTHEIGHT_DATA_DIR (or DATABASE_URL) another place for the demo."
            )
        )
    return False
