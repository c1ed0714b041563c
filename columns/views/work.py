"""The work on one column: its fill from plan to drain, floats in it, holds, basket passes."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404, render
from django.views import View

from columns.models import BasketPass, CalibrationFloat, Column, Fill, FloatPlacement, Hold
from columns.selectors.fills import live_fill, open_holds, standing
from columns.selectors.floats import placements_at, quarantined
from columns.selectors.settling import missing_to_open
from columns.views import acts
from labsite.accounts.permissions import PageAccess, can
from labsite.accounts.roles import Action
from labsite.clock import SYSTEM_CLOCK
from labsite.web.acts import Act


class JobsPage(PageAccess, View):
    """Every column with what is to be done in it."""

    required_action = Action.VIEW_LAB

    def get(self, request: Any) -> Any:
        now = SYSTEM_CLOCK.now()
        columns = Column.objects.filter(retired_at__isnull=True).select_related("bath")
        rows = [_row(column, now) for column in columns]
        return render(request, "columns/jobs.html", {"rows": rows})


def _row(column: Column, now: Any) -> dict[str, Any]:
    fill = live_fill(column)
    found = standing(fill, now) if fill else None
    return {"column": column, "fill": fill, "standing": found}


class ColumnWorkPage(PageAccess, View):
    """One column's fill and everything that can be done to it now."""

    required_action = Action.VIEW_LAB

    def get(self, request: Any, pk: Any) -> Any:
        column = get_object_or_404(Column.objects.select_related("bath"), pk=pk)
        now = SYSTEM_CLOCK.now()
        fill = live_fill(column)
        planned = Fill.objects.filter(column=column, state=Fill.State.PLANNED).first()
        facts = {
            "column": column,
            "fill": fill or planned,
            "standing": standing(fill, now) if fill else None,
            "next_acts": acts.fill_acts(request.user, column, fill, planned),
            "bath_acts": _bath_acts(request.user, column),
            "past": Fill.objects.filter(column=column, state=Fill.State.DRAINED)[:10],
        }
        if fill:
            facts |= _fill_facts(request.user, fill, now)
        return render(request, "columns/work.html", facts)


def _bath_acts(user: Any, column: Column) -> list[Act]:
    return [acts.temperature(column)] if can(user, Action.RECORD_COLUMN_WORK) else []


def _fill_facts(user: Any, fill: Fill, now: Any) -> dict[str, Any]:
    placements = list(placements_at(fill, now))
    running = BasketPass.objects.filter(fill=fill, ended_at__isnull=True).first()
    waiting = fill.state in (Fill.State.POURED, Fill.State.SETTLING)
    return {
        "placements": [(each, _removal(user, each)) for each in placements],
        "holds": [(each, _lift(user, each)) for each in open_holds([fill], now)],
        "running": running,
        "missing": missing_to_open(fill, now) if waiting else [],
        "passes": fill.basket_passes.filter(ended_at__isnull=False)[:5],
        "last_acts": [acts.drain(fill)] if can(user, Action.RECORD_COLUMN_WORK) else [],
        "other_acts": _other_acts(user, fill, running, len(placements), now),
    }


def _removal(user: Any, placement: FloatPlacement) -> Act | None:
    return acts.remove_float(placement) if can(user, Action.RECORD_COLUMN_WORK) else None


def _lift(user: Any, held: Hold) -> Act | None:
    return acts.lift(held) if can(user, Action.LIFT_HOLD) else None


def _other_acts(
    user: Any, fill: Fill, running: BasketPass | None, floats: int, now: Any
) -> list[Act]:
    found = []
    if can(user, Action.RECORD_COLUMN_WORK):
        found.append(acts.finish_pass(running, floats) if running else acts.start_pass(fill))
        found.append(acts.place_float(fill, free_floats(now)))
    if can(user, Action.PLACE_HOLD):
        found.append(acts.hold(fill))
    return found


def free_floats(now: Any) -> list[CalibrationFloat]:
    """Floats on the shelf: in no fill, not retired, not in quarantine."""
    shelf = list(
        CalibrationFloat.objects.filter(retired_at__isnull=True).exclude(
            placements__removed_at__isnull=True, placements__isnull=False
        )
    )
    away = quarantined([each.pk for each in shelf], now)
    return [each for each in shelf if each.pk not in away]
