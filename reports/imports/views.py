"""The page on which files are imported."""

from __future__ import annotations

from typing import Any

from django.views.generic import TemplateView

from labsite.accounts.permissions import PageAccess, can
from labsite.accounts.roles import Action
from reports.imports.kinds.registry import KINDS
from reports.imports.representations import batch_facts
from reports.imports.selectors import imports

SHOWN_IMPORTS = 20


class ImportsView(PageAccess, TemplateView):
    required_action = Action.VIEW_LAB
    template_name = "reports/imports.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        user = self.request.user
        kinds = [kind for kind in KINDS if all(can(user, action) for action in kind.actions)]
        recent = [_shown(batch) for batch in imports()[:SHOWN_IMPORTS]]
        return super().get_context_data(kinds=kinds, recent=recent, **kwargs)


def _shown(batch: Any) -> dict[str, Any]:
    return {**batch_facts(batch), "at": batch.imported_at}
