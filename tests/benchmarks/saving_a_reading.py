"""How long saving a reading over the API takes, against a bare audited write in the same run.

    RESTHEIGHT_DATA_DIR=/path/to/a/demo/copy .venv/bin/python -m tests.benchmarks.saving_a_reading

Run it on a copy of a demo database: it records readings. Prints CPU and wall time and queries.
"""

from __future__ import annotations

import os
import statistics
import time
import uuid
from collections.abc import Callable
from datetime import timedelta

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labsite.settings")
django.setup()

from django.db import connection, reset_queries  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402
from rest_framework.test import APIClient  # noqa: E402

from columns.models import Fill  # noqa: E402
from labsite.accounts import audit_actions  # noqa: E402
from labsite.accounts.models import User  # noqa: E402
from labsite.audit.services import change  # noqa: E402
from labsite.clock import SYSTEM_CLOCK, FixedClock  # noqa: E402
from samples.models import Grade  # noqa: E402
from samples.services.lots import register_lot  # noqa: E402
from samples.services.specimens import drop_specimens  # noqa: E402

RUNS = 15


def timed(work: Callable[[], object]) -> tuple[float, float]:
    wall, cpu = time.perf_counter(), time.process_time()
    work()
    return (time.perf_counter() - wall) * 1e3, (time.process_time() - cpu) * 1e3


def pieces(person: User) -> list[object]:
    fill = next(
        fill for fill in Fill.objects.filter(state="open") if fill.column.name in ("Ash", "Damson")
    )
    made = []
    before = FixedClock(SYSTEM_CLOCK.now() - timedelta(minutes=30), source="benchmark")
    for number in range(RUNS + 2):
        code = f"BENCH-{uuid.uuid4().hex[:6]}-{number}"
        lot = register_lot(actor=person, code=code, grade=Grade.objects.first(), confirmed=True)
        made += drop_specimens(actor=person, lot=lot, fill=fill, shapes=["square"], clock=before)
    return made


def main() -> None:
    person = User.objects.get(username="imre")
    client = APIClient()
    client.force_login(person, backend="labsite.accounts.backends.LabBackend")

    def save(piece: object) -> None:
        answer = client.post(
            "/api/v1/readings/",
            {"specimen": str(piece.pk), "outcome": "at_rest", "height_mm": "350.0"},
            format="json",
            HTTP_IDEMPOTENCY_KEY=uuid.uuid4().hex,
            HTTP_HOST="localhost",
        )
        assert answer.status_code == 201, answer.content

    def bare() -> None:
        with change(actor=person) as log:
            log.note(person, audit_actions.SIGNED_IN)

    waiting = pieces(person)
    save(waiting.pop())
    bare()
    saves, bares = [], []
    for _ in range(RUNS):  # interleaved, so that both meet the same noise
        piece = waiting.pop()
        saves.append(timed(lambda piece=piece: save(piece)))
        bares.append(timed(bare))
    reset_queries()
    with CaptureQueriesContext(connection) as seen:
        save(waiting.pop())
    for name, rows in (("save a reading", saves), ("bare audited write", bares)):
        walls, cpus = zip(*rows, strict=True)
        print(
            f"{name}: wall min {min(walls):.1f} median {statistics.median(walls):.1f} ms, "
            f"CPU min {min(cpus):.1f} median {statistics.median(cpus):.1f} ms"
        )
    ratio = statistics.median(s[1] for s in saves) / statistics.median(b[1] for b in bares)
    print(f"ratio of CPU medians: {ratio:.1f}; queries of one save: {len(seen)}")


if __name__ == "__main__":
    main()
