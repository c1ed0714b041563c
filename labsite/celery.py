"""The worker and its beat. What is due, and what became of it, stands in the job table.

celery -A labsite worker -B --pool=threads -c 2     embedded: worker and beat in one
celery -A labsite worker  /  celery -A labsite beat     deployed: beat on its own, once
"""

from __future__ import annotations

import os

from celery import Celery
from celery.signals import beat_embedded_init
from django.conf import settings

from labsite.jobs import transport

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labsite.settings")

TICK_SECONDS = 15
# Kind of job → seconds between two of them. Each period gets its job even after an outage.
SCHEDULE = {
    "audit.digest": 3600,
    "audit.verify": 86400,
    "columns.flag_drift": 3600,
}

transport.register()
app = Celery("labsite")
app.conf.update(
    broker_url=settings.BROKER_URL,
    broker_transport_options=transport.options_for(settings.BROKER_URL, settings.BROKER_DIR),
    broker_connection_retry_on_startup=True,
    task_ignore_result=True,
    worker_hijack_root_logger=False,
    worker_prefetch_multiplier=1,
    # Not relied upon: the embedded broker forgets what a killed worker held.
    task_acks_late=True,
    task_reject_on_worker_lost=True,
    # Health is read from the heartbeat row; remote control would answer late and fill folders.
    worker_enable_remote_control=False,
    worker_send_task_events=False,
    worker_cancel_long_running_tasks_on_connection_loss=True,
    timezone="UTC",
    beat_schedule_filename=str(settings.DATA_DIR / "beat-schedule"),
    beat_schedule={
        "tick": {
            "task": "labsite.jobs.tick",
            "schedule": TICK_SECONDS,
            "args": [SCHEDULE],
            "options": {"expires": TICK_SECONDS},
        }
    },
)
app.autodiscover_tasks()


@beat_embedded_init.connect
def end_with_the_worker(**_kwargs: object) -> None:
    """Let the embedded beat end when its worker is killed; two beats would double the schedule."""
    from labsite.operations.processes import end_with_parent

    end_with_parent()
