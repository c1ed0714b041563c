"""The base of pages with a form: parse, call one service, show what it refused at its field."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.views.generic import FormView

from labsite.accounts.permissions import PageAccess
from labsite.errors import Conflict, RuleViolation


class FormPage(PageAccess, FormView):
    """`act(form)` calls the service and returns the answer; a refusal shows the form again."""

    def form_valid(self, form: Any) -> HttpResponse:
        try:
            return self.act(form)
        except (RuleViolation, Conflict, ValidationError) as error:
            form.tell(error)
            return self.form_invalid(form)

    def form_invalid(self, form: Any) -> HttpResponse:
        form.focus_first_error()
        return self.render_to_response(self.get_context_data(form=form), status=422)

    def act(self, form: Any) -> HttpResponse:
        raise NotImplementedError
