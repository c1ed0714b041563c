"""The history's pages: everything, one object's, and whether it holds."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils.dateparse import parse_datetime
from django.views.generic import TemplateView

from labsite.accounts.permissions import PageAccess, can
from labsite.accounts.roles import Action
from labsite.audit.checking import last_result, verify_history
from labsite.audit.digests import heads_in
from labsite.audit.forms import HistoryForm
from labsite.audit.models import AuditEntry
from labsite.audit.selectors import Wanted, digests, entries, told_to
from labsite.audit.wording import Story, kind_word, runs, stories

PAGE = 50
DIGESTS_SHOWN = 30


def page_of(person: Any, wanted: Wanted, before: int | None) -> tuple[list[Story], int | None]:
    """One page of stories, newest first, and the id before which the next page begins."""
    found = entries(wanted)
    if before:
        found = found.filter(pk__lt=before)
    rows = list(found[: PAGE + 1])
    more = rows[PAGE - 1].pk if len(rows) > PAGE else None
    return stories(told_to(person, rows[:PAGE])), more


class HistoryView(PageAccess, TemplateView):
    required_action = Action.VIEW_HISTORY
    template_name = "audit/history.html"

    def get(self, request: Any, *args: Any, **kwargs: Any) -> HttpResponse:
        form = HistoryForm(request.GET)
        valid = form.is_valid()
        found, more = [], None
        if valid:
            before = form.cleaned_data["before"]
            found, more = page_of(request.user, form.wanted(), before)
        context = self.get_context_data(
            form=form, stories=found, runs=runs(found), older=_older(request, more)
        )
        return self.render_to_response(context, status=200 if valid else 422)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        may_verify = can(self.request.user, Action.VERIFY_HISTORY)
        return super().get_context_data(may_verify=may_verify, **kwargs)


def _older(request: Any, more: int | None) -> str:
    if more is None:
        return ""
    query = request.GET.copy()
    query["before"] = more
    return "?" + query.urlencode()


class ObjectHistoryView(PageAccess, TemplateView):
    required_action = Action.VIEW_HISTORY
    template_name = "audit/object_history.html"

    def get_context_data(self, object_type: str, pk: UUID, **kwargs: Any) -> dict[str, Any]:
        wanted = Wanted(object_type=object_type, object_id=pk)
        before = self.request.GET.get("before", "")
        number = int(before) if before.isascii() and before.isdigit() and len(before) < 19 else None
        found, more = page_of(self.request.user, wanted, number)
        last = AuditEntry.objects.filter(object_type=object_type, object_id=pk).last()
        if last is None:
            raise Http404
        return super().get_context_data(
            stories=found,
            runs=runs(found),
            older=_older(self.request, more),
            kind=kind_word(object_type),
            label=last.object_label,
            **kwargs,
        )


class VerificationView(PageAccess, TemplateView):
    """GET: what was found last, and the digests. POST: verify everything now."""

    required_action = Action.VERIFY_HISTORY
    template_name = "audit/verification.html"

    def post(self, request: Any) -> HttpResponse:
        verify_history(actor=request.user)
        return redirect("audit:verification")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        result = last_result()
        shown = [(digest, len(heads_in(digest))) for digest in digests()[:DIGESTS_SHOWN]]
        return super().get_context_data(
            result=result,
            result_at=parse_datetime(result["at"]) if result else None,
            digests=shown,
            digests_in_all=digests().count(),
            **kwargs,
        )
