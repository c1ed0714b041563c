"""The bench, its wall view, and one column drawn large. The pages read the API by themselves."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.generic import TemplateView

from columns.models import Column
from labsite.accounts.permissions import PageAccess, can
from labsite.accounts.roles import Action
from samples import page_words

# Stands for an id in an address that a script completes.
ANY = "00000000-0000-0000-0000-000000000000"


def may(person: Any, *actions: Action) -> dict[str, bool]:
    """What the person may do here: acts that are refused are not shown."""
    return {action.value: can(person, action) for action in actions}


class BenchView(PageAccess, TemplateView):
    required_action = Action.VIEW_LAB
    template_name = "samples/bench.html"
    extra_context = {"words": page_words.BENCH}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        allowed = may(self.request.user, Action.MEASURE, Action.RECORD_FLOAT_SET)
        facts = {
            "column_url": reverse("samples:column", args=[ANY]),
            "read_url": reverse("samples:read", args=[ANY]) if allowed["measure"] else None,
            "any": ANY,
        }
        return super().get_context_data(may=allowed, facts=facts, **kwargs)


class WallView(BenchView):
    """For a screen on the wall: nothing to press, readable from across the room."""

    template_name = "samples/wall.html"


class ColumnPage(PageAccess, TemplateView):
    required_action = Action.VIEW_LAB
    template_name = "samples/column.html"
    extra_context = {"words": page_words.COLUMN}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        column = get_object_or_404(Column.objects.select_related("bath"), pk=self.kwargs["pk"])
        allowed = may(
            self.request.user,
            Action.MEASURE,
            Action.RECORD_FLOAT_SET,
            Action.RECORD_COLUMN_WORK,
            Action.PLACE_HOLD,
            Action.LIFT_HOLD,
        )
        facts = {"column": str(column.pk), "any": ANY}
        return super().get_context_data(column=column, may=allowed, facts=facts, any=ANY, **kwargs)
