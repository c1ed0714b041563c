"""manage.py load_demo: one simulated month of the invented lab Quillmere Works."""

from __future__ import annotations

import time
from datetime import datetime
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from django.utils.translation import gettext as _

from labsite.errors import LabError
from reports.demo.loader.ledgers import Ledger
from reports.demo.loader.replays import load_month
from reports.demo.simulator import SEED, Volume, simulate

STEP = 0.05  # of the work, between two lines of progress


class Command(BaseCommand):
    help = "Load the invented demo lab into an empty database (demo mode only)."

    def add_arguments(self, parser: CommandParser) -> None:
        usual = Volume()
        parser.add_argument(
            "--force-demo", action="store_true", help="load although demo mode is off"
        )
        parser.add_argument("--seed", type=int, default=SEED)
        parser.add_argument("--lots", type=int, default=usual.lots)
        parser.add_argument("--float-sets", type=int, default=usual.float_sets)

    def handle(self, *args: Any, **options: Any) -> None:
        if not (settings.RESTHEIGHT_DEMO or options["force_demo"]):
            raise CommandError(
                _("Demo mode is off. Set RESTHEIGHT_DEMO=1, or add --force-demo to load anyway.")
            )
        began = time.monotonic()
        volume = Volume(options["lots"], options["float_sets"])
        show = options["verbosity"] > 0
        try:
            month = simulate(timezone.now(), seed=options["seed"], volume=volume)
            ledger = load_month(month, progress=self._progress() if show else None)
        except (LabError, ValueError) as error:
            raise CommandError(str(error)) from error
        if show:
            self._tell(len(month.events), time.monotonic() - began, ledger)

    def _tell(self, count: int, seconds: float, ledger: Ledger) -> None:
        for line in ledger.drafts:
            self.stdout.write(_("Stays a draft: %(what)s") % {"what": line})
        for line in ledger.not_released:
            self.stdout.write(_("Not released: %(what)s") % {"what": line})
        words = {"count": count, "seconds": seconds}
        self.stdout.write(_("Loaded %(count)s events in %(seconds).1f s.") % words)

    def _progress(self) -> Any:
        shown = 0.0

        def tell(number: int, total: int, at: datetime) -> None:
            nonlocal shown
            if number / total >= shown + STEP or number == total:
                shown = number / total
                self.stdout.write(f"{shown:4.0%}  {at:%Y-%m-%d}")
                self.stdout.flush()

        return tell
