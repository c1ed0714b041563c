"""Write the whole laboratory into one file: `manage.py backup [--to FILE]`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.translation import gettext as _

from labsite.errors import LabError
from labsite.operations.backups import back_up


class Command(BaseCommand):
    help = "Back up the database and the documents into one file; work may go on meanwhile."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--to", type=Path, help="file to write (default: in the data folder)")

    def handle(self, **options: Any) -> None:
        try:
            target, manifest = back_up(options["to"])
        except LabError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(
            _("Backed up %(count)s files into %(file)s.")
            % {"count": len(manifest["files"]), "file": target}
        )
