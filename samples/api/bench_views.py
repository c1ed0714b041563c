"""What pages ask for again and again: the bench, one column, the read queue; and drop advice."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.response import Response

from columns.models import Column
from labsite.accounts.roles import Action
from labsite.api.etags import fresh_or_unchanged
from labsite.api.views import LabView
from labsite.clock import SYSTEM_CLOCK
from samples.api import bench_serializers as shapes
from samples.api.inputs import AdviceQuery
from samples.selectors.advice import column_advice
from samples.selectors.bench import bench, column_overview
from samples.selectors.occupants import queued, told_at
from samples.selectors.specimens import read_queue

# The server's clock alone is no news: without it an unchanged bench answers 304.
CLOCK = ("server_time",)


class BenchView(LabView):
    """Every column as it stands. Ask again with If-None-Match: 304 while nothing changed."""

    serializer_class = shapes.BenchSerializer
    required_action = Action.VIEW_LAB

    def get(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        return fresh_or_unchanged(request, bench(request.user, SYSTEM_CLOCK.now()), volatile=CLOCK)


class ColumnOverviewView(LabView):
    """One column as it is drawn."""

    queryset = Column.objects.select_related("bath")
    serializer_class = shapes.ColumnOverviewSerializer
    required_action = Action.VIEW_LAB

    def get(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        seen = column_overview(self.get_object(), request.user, SYSTEM_CLOCK.now())
        return fresh_or_unchanged(request, seen, volatile=CLOCK)


class ReadQueueView(LabView):
    """What is to be read next, in all columns."""

    serializer_class = shapes.ReadQueueSerializer
    required_action = Action.VIEW_LAB

    def get(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        now = SYSTEM_CLOCK.now()
        items = read_queue(request.user, now)
        falling = [item.due_at for item in items if not item.is_ready]
        body = {
            "server_time": told_at(now),
            "valid_until_at": _earliest(falling),
            "results": [queued(item) for item in items],
        }
        return fresh_or_unchanged(request, body, volatile=CLOCK)


def _earliest(instants: list[datetime]) -> str | None:
    return told_at(min(instants)) if instants else None


class DropAdviceView(LabView):
    """Before a drop: columns for a lot, the best first, with the shape to cut."""

    serializer_class = shapes.DropAdviceSerializer
    required_action = Action.MEASURE

    @extend_schema(parameters=[AdviceQuery])
    def get(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        asked = AdviceQuery(data=request.query_params)
        asked.is_valid(raise_exception=True)
        lot, column = asked.validated_data["lot"], asked.validated_data.get("column")
        found = column_advice(
            request.user, lot, SYSTEM_CLOCK.now(), columns=[column] if column else None
        )
        return Response(self.represent({"results": found}))
