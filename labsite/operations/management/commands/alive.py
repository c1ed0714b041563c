"""Health checks for containers: `manage.py alive web` or `manage.py alive worker`."""

from __future__ import annotations

import http.client
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.translation import gettext as _

from labsite.jobs.selectors import worker_life


class Command(BaseCommand):
    help = "Exit with 0 when the web answers, or when a worker gave a sign of life lately."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("what", choices=["web", "worker"])
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, **options: Any) -> None:
        if options["what"] == "web":
            require_web(options["port"])
        else:
            require_worker()
        self.stdout.write(_("alive"))


def require_web(port: int) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=8)
    try:
        connection.request("GET", "/", headers={"Host": a_served_name()})
        status = connection.getresponse().status
    except OSError as error:
        raise CommandError(
            _("The web does not answer on port %(port)s: %(error)s.")
            % {"port": port, "error": error}
        ) from error
    finally:
        connection.close()
    if status >= 400:
        raise CommandError(_("The web answers with status %(status)s.") % {"status": status})


def a_served_name() -> str:
    name = settings.ALLOWED_HOSTS[0] if settings.ALLOWED_HOSTS else "localhost"
    return "localhost" if name == "*" else name.lstrip(".")


def require_worker() -> None:
    life = worker_life()
    if not life.is_alive:
        since = life.last_at or _("ever")
        raise CommandError(_("No worker gave a sign of life since %(at)s.") % {"at": since})
