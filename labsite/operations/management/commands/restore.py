"""Replace everything by a backup: `manage.py restore FILE [--yes]`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.translation import gettext as _

from labsite.audit.verification import verify
from labsite.errors import LabError
from labsite.operations.backups import restore
from labsite.operations.startup import hold_data_folder, prepare_database


class Command(BaseCommand):
    help = "Replace the database and the documents by a backup, and verify its history."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--yes", action="store_true", help="replace a database with data")

    def handle(self, **options: Any) -> None:
        with hold_data_folder():
            try:
                manifest = restore(options["file"], overwrite=options["yes"])
            except LabError as error:
                raise CommandError(str(error)) from error
            self.stdout.write(_("Restored the backup of %(at)s.") % {"at": manifest["made_at"]})
            prepare_database()
        self._verify()

    def _verify(self) -> None:
        result = verify()
        if not result.holds:
            first = result.findings[0]
            raise CommandError(
                _("The restored history does not hold: %(where)s: %(detail)s")
                % {"where": first.where, "detail": first.detail}
            )
        self.stdout.write(_("The history holds: %(count)s entries.") % {"count": result.entries})
