"""The printable page of one determination."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404, render
from django.views import View

from labsite.accounts.permissions import PageAccess
from labsite.accounts.roles import Action
from labsite.clock import SYSTEM_CLOCK
from reports.results.content import result_content
from samples.models import Determination
from samples.selectors.facts import determination_facts


class ResultPage(PageAccess, View):
    """A determination with all that it rests on."""

    required_action = Action.VIEW_LAB

    def get(self, request: Any, pk: Any) -> Any:
        found = get_object_or_404(
            Determination.objects.select_related("prepared_by", "released_by"), pk=pk
        )
        content = result_content(determination_facts(found, request.user))
        return render(request, "reports/result.html", {**content, "printed_at": SYSTEM_CLOCK.now()})
