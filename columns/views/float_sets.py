"""Entering and amending a float set. Nothing of the last set is on the page before the ninth."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.generic import TemplateView

from columns import page_words
from columns.models import Column, FloatSet
from columns.selectors.fills import live_fill, live_fills, standings
from labsite.accounts.permissions import PageAccess
from labsite.accounts.roles import Action
from labsite.clock import SYSTEM_CLOCK


class ChooseColumnPage(PageAccess, TemplateView):
    """Which column are the floats read in?"""

    required_action = Action.RECORD_FLOAT_SET
    template_name = "columns/float_set_choose.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        columns = Column.objects.filter(retired_at__isnull=True).select_related("bath")
        fills = live_fills(columns)
        states = standings(fills.values(), SYSTEM_CLOCK.now()) if fills else {}
        rows = [(column, states[fills[column.pk].pk]) for column in columns if column.pk in fills]
        return super().get_context_data(rows=rows, **kwargs)


class FloatSetPage(PageAccess, TemplateView):
    """All floats of the column's fill, lightest first."""

    required_action = Action.RECORD_FLOAT_SET
    template_name = "columns/float_set.html"
    extra_context = {"words": page_words.FLOAT_SET, "figure_names": page_words.FIGURE_NAMES}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        column = get_object_or_404(Column.objects.select_related("bath"), pk=self.kwargs["pk"])
        return super().get_context_data(
            column=column, fill=live_fill(column), facts=self.facts(column), **kwargs
        )

    def facts(self, column: Column) -> dict[str, Any]:
        fill = live_fill(column)
        return {
            "person": str(self.request.user.pk),
            "column": str(column.pk),
            "fill": fill and str(fill.pk),
            "bath": str(column.bath_id),
            "amends": None,
            "column_url": reverse("samples:column", args=[column.pk]),
            "sign_in_url": reverse("accounts:sign-in"),
        }


class AmendFloatSetPage(FloatSetPage):
    """Another height or temperature for a saved set, with a reason."""

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        amended = get_object_or_404(
            FloatSet.objects.select_related("fill__column__bath"), pk=self.kwargs["pk"]
        )
        column = amended.fill.column
        facts = {**self.facts(column), "fill": str(amended.fill_id), "amends": str(amended.pk)}
        return TemplateView.get_context_data(
            self, column=column, fill=amended.fill, facts=facts, amends=amended, **kwargs
        )
