"""The search page."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.views.generic import TemplateView

from labsite.accounts.permissions import PageAccess
from labsite.accounts.roles import Action
from reports.search.forms import SearchForm
from reports.search.selectors import KINDS, Found, Hit, other_kind, search
from reports.search.wording import TITLES, address_of, what_it_is


class SearchView(PageAccess, TemplateView):
    required_action = Action.VIEW_LAB
    template_name = "reports/search.html"

    def get(self, request: Any, *args: Any, **kwargs: Any) -> HttpResponse:
        form = SearchForm(request.GET)
        if not form.is_valid():
            return self.render_to_response(self.get_context_data(form=form), status=422)
        text = form.cleaned_data["q"]
        found = search(text)
        other = other_kind(found, form.cleaned_data["kind"])
        context = self.get_context_data(
            form=form,
            text=text,
            groups=_groups(found),
            found=found.hits,
            is_something_else=what_it_is(other) if other else "",
        )
        return self.render_to_response(context)


def _groups(found: Found) -> list[dict[str, Any]]:
    return [
        {
            "title": TITLES[kind],
            "links": [_link(hit) for hit in found.of(kind)],
            "more": kind in found.more,
        }
        for kind in KINDS
        if found.of(kind)
    ]


def _link(hit: Hit) -> dict[str, Any]:
    return {"hit": hit, "url": address_of(hit)}
