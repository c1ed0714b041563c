"""Start everything: `manage.py up`, with `--demo` for the invented laboratory."""

from __future__ import annotations

import http.client
import sys
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.translation import gettext as _

from labsite.operations import startup
from labsite.operations.static_files import collect_if_changed
from labsite.operations.supervisor import Child, Supervisor


class Command(BaseCommand):
    help = "Prepare the database and files, then run web, worker and beat until Ctrl-C."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--demo", action="store_true", help="with the demo laboratory")
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--workers", type=int, default=2, help="web processes")

    def handle(self, **options: Any) -> None:
        if options["demo"] and not settings.RESTHEIGHT_DEMO:
            raise CommandError(_("Demo mode is off: RESTHEIGHT_DEMO is set to 0. Unset it."))
        host, port = options["host"], options["port"]
        startup.require_free_port(host, port)
        with startup.hold_data_folder():
            self._prepare(options["demo"])
            supervisor = Supervisor(
                children(host, port, options["workers"]),
                say=self._say,
                on_tick=Announcement(host, port, self._say),
            )
            status = supervisor.run()
        self._say(_("Stopped."))
        sys.exit(status)

    def _prepare(self, demo: bool) -> None:
        self._say(_("Preparing the database ..."))
        startup.prepare_database()
        if collect_if_changed():
            self._say(_("Collected the static files."))
        if demo:
            self._say(_("Looking after the demo laboratory (its first load takes a moment) ..."))
            startup.load_demo_if_empty()
        elif startup.nobody_can_sign_in():
            self._say(
                _("Nobody can sign in yet. Make the first account: manage.py add_administrator")
            )

    def _say(self, text: str) -> None:
        self.stdout.write(text)
        self.stdout.flush()


def children(host: str, port: int, workers: int) -> list[Child]:
    bind = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    return [
        Child("web", [sys.executable, "-m", *gunicorn(bind, workers)]),
        Child("worker", [sys.executable, "-m", *celery_with_beat()]),
    ]


def gunicorn(bind: str, workers: int) -> list[str]:
    # Threads: one slow reader must not hold up the bench's polling.
    size = ["--worker-class", "gthread", "--workers", str(workers), "--threads", "4"]
    # Loaded once, then forked: a quicker start on two cores, and less memory.
    ends = ["--graceful-timeout", "8", "--timeout", "60", "--no-control-socket", "--preload"]
    return ["gunicorn", "labsite.wsgi", "--bind", bind, *size, *ends, "--log-level", "warning"]


def celery_with_beat() -> list[str]:
    quiet = ["--without-gossip", "--without-mingle", "--without-heartbeat"]
    pool = ["--pool", "threads", "--concurrency", "2"]
    app = ["celery", "-A", "labsite", "--quiet", "worker", "--beat"]
    return [*app, *pool, *quiet, "--loglevel", "WARNING"]


class Announcement:
    """Says the address once, when the web answers."""

    def __init__(self, host: str, port: int, say: Any) -> None:
        self.host = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)
        self.port = port
        self.say = say
        self.done = False

    def __call__(self) -> None:
        if self.done or not self._answers():
            return
        self.done = True
        name = f"[{self.host}]" if ":" in self.host else self.host
        self.say(
            _("Restheight is ready: http://%(host)s:%(port)s/   (Ctrl-C stops it)")
            % {"host": name, "port": self.port}
        )

    def _answers(self) -> bool:
        connection = http.client.HTTPConnection(self.host, self.port, timeout=5)
        try:
            connection.request("GET", "/")
            return connection.getresponse().status < 500
        except OSError:
            return False
        finally:
            connection.close()
