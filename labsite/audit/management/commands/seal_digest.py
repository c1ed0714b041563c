"""manage.py seal_digest: chain a digest over all heads that moved since the last one."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from labsite.audit.digests import heads_in, seal_digest


class Command(BaseCommand):
    help = "Seals a digest over the heads of all chains that moved since the last one."

    def handle(self, *args: Any, **options: Any) -> None:
        digest = seal_digest()
        if digest is None:
            self.stdout.write("Nothing has happened since the last digest.")
            return
        self.stdout.write(
            f"Digest {digest.number} of {digest.at:%Y-%m-%d %H:%M:%S} UTC "
            f"over {len(heads_in(digest))} chains: {digest.hash}"
        )
