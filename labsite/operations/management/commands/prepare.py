"""Bring database and static files to this version: `manage.py prepare`, before web and worker."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.utils.translation import gettext as _

from labsite.operations.startup import prepare_database
from labsite.operations.static_files import collect_if_changed


class Command(BaseCommand):
    help = "Migrate the database and collect the static files, where `up` is not used."

    def handle(self, **options: Any) -> None:
        prepare_database()
        collect_if_changed()
        self.stdout.write(_("The database and the static files are up to date."))
