"""The page on which files are imported."""

from __future__ import annotations

from typing import Any

from django.views.generic import TemplateView

from labsite.accounts.permissions import PageAccess, can
from labsite.accounts.roles import Action
from reports.imports.kinds.base import Kind
from reports.imports.kinds.registry import KINDS
from reports.imports.representations import batch_facts
from reports.imports.selectors import imports
from reports.imports.words import WORDS

SHOWN_IMPORTS = 20


class ImportsView(PageAccess, TemplateView):
    required_action = Action.VIEW_LAB
    template_name = "reports/imports.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        user = self.request.user
        kinds = [kind for kind in KINDS if all(can(user, action) for action in kind.actions)]
        recent = [
            {**batch_facts(batch), "at": batch.imported_at} for batch in imports()[:SHOWN_IMPORTS]
        ]
        return super().get_context_data(
            kinds=[_kind_facts(kind) for kind in kinds], recent=recent, words=WORDS, **kwargs
        )


def _kind_facts(kind: Kind) -> dict[str, Any]:
    return {
        "code": kind.code,
        "label": kind.label,
        "explanation": kind.explanation,
        "columns": [_column_facts(field) for field in kind.fields],
        "headers": [_header_of(field) for field in kind.fields if field.in_empty_table],
    }


def _column_facts(field: Any) -> dict[str, Any]:
    return {
        "label": field.label,
        "header": _header_of(field),
        "units": " / ".join(unit.sign for unit in field.units),
        "required": field.required,
        "choices": ", ".join(names[0] for names in field.choices.values()),
    }


def _header_of(field: Any) -> str:
    """The plainest header that is understood."""
    name = field.names[0]
    return f"{name} ({field.units[0].sign})" if field.units else name
