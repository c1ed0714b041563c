"""manage.py verify_history: check every chain, digest and row; status 1 when something is off."""

from __future__ import annotations

import json
from typing import Any

from django.core.management.base import BaseCommand

from labsite.audit.checking import as_result
from labsite.audit.verification import verify


class Command(BaseCommand):
    help = "Checks the history: every chain of entries, every digest, every row against its entry."

    def add_arguments(self, parser: Any) -> None:
        parser.add_argument("--json", action="store_true", help="print the result as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        result = verify()
        if options["json"]:
            self.stdout.write(json.dumps(as_result(result), indent=2))
        else:
            self._tell(result)
        if not result.holds:
            raise SystemExit(1)

    def _tell(self, result: Any) -> None:
        for finding in result.findings:
            self.stdout.write(f"{finding.code}: {finding.where}: {finding.detail}")
        seen = (
            f"{result.entries} entries of {result.objects} objects, {result.rows} rows, "
            f"{result.digests} digests"
        )
        verdict = "The history holds" if result.holds else f"{len(result.findings)} findings"
        self.stdout.write(f"{verdict}: {seen}.")
