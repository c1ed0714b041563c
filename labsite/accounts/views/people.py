"""The administrator's pages about people."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.generic import TemplateView, View

from labsite.accounts.backends import may_sign_in
from labsite.accounts.forms import NewPersonForm, PersonForm, ReasonForm
from labsite.accounts.models import User
from labsite.accounts.pages import FormPage
from labsite.accounts.passwords import one_time_password
from labsite.accounts.permissions import PageAccess
from labsite.accounts.roles import Action
from labsite.accounts.selectors import last_sign_ins, people
from labsite.accounts.services import (
    add_person,
    change_person,
    close_account,
    end_sessions,
    reopen_account,
    reset_password,
)
from labsite.clock import SYSTEM_CLOCK


def state_word(person: User) -> str:
    if not person.is_active:
        return _("closed")
    if not may_sign_in(person):
        return _("ended")
    if person.must_change_password:
        return _("waits for the first sign-in")
    return _("may sign in")


class PeopleView(PageAccess, TemplateView):
    required_action = Action.MANAGE_ACCOUNTS
    template_name = "accounts/people.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        persons = list(people().order_by("-is_active", "full_name"))
        signed_in = last_sign_ins(persons)
        rows = [(person, state_word(person), signed_in.get(person.pk)) for person in persons]
        able = sum(may_sign_in(person) for person in persons)
        return super().get_context_data(rows=rows, able=able, **kwargs)


class AddPersonView(FormPage):
    required_action = Action.MANAGE_ACCOUNTS
    template_name = "accounts/add_person.html"
    form_class = NewPersonForm

    def act(self, form: NewPersonForm) -> HttpResponse:
        password = one_time_password()
        person = add_person(actor=self.request.user, password=password, **form.cleaned_data)
        return self.render_to_response(
            self.get_context_data(form=NewPersonForm(), person=person, password=password)
        )


class PersonPage(FormPage):
    """One person's page: it shows all acts; each act has an address of its own."""

    required_action = Action.MANAGE_ACCOUNTS
    template_name = "accounts/person.html"
    form_class = PersonForm
    form_name = "person_form"

    @property
    def person(self) -> User:
        if not hasattr(self, "_person"):
            self._person = get_object_or_404(people(), pk=self.kwargs["pk"])
        return self._person

    def get_initial(self) -> dict[str, Any]:
        fields = ("full_name", "role", "email", "ends_on")
        return {name: getattr(self.person, name) for name in fields}

    def act(self, form: PersonForm) -> HttpResponse:
        seen = self.request.POST.get("version", "")
        change_person(
            actor=self.request.user,
            person=self.person,
            seen=int(seen) if seen.isdecimal() else None,
            **form.cleaned_data,
        )
        messages.success(self.request, _("Saved."))
        return self.back()

    def back(self) -> HttpResponse:
        return redirect("accounts:person", pk=self.person.pk)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        person = self.person
        forms = {
            "person_form": PersonForm(initial=PersonPage.get_initial(self)),
            "reason_form": ReasonForm(),
        }
        if "form" in kwargs:
            forms[self.form_name] = kwargs["form"]
        return super().get_context_data(
            person=person,
            state=state_word(person),
            signed_in_at=last_sign_ins([person]).get(person.pk),
            tokens=person.tokens.filter(revoked_at__isnull=True),
            now=SYSTEM_CLOCK.now(),
            today=timezone.localdate(),
            **{**kwargs, **forms},
        )


class PersonActPage(PersonPage):
    """An act on a person: POST only; a refusal shows the person's page with the reason."""

    required_action = {"POST": Action.MANAGE_ACCOUNTS}
    http_method_names = ["post", "options"]
    form_class = ReasonForm
    form_name = "reason_form"

    def get_initial(self) -> dict[str, Any]:
        return {}


class ClosePersonView(PersonActPage):
    def act(self, form: ReasonForm) -> HttpResponse:
        close_account(
            actor=self.request.user, person=self.person, reason=form.cleaned_data["reason"]
        )
        messages.success(
            self.request,
            _("The account of %(name)s is closed. Sign-ins and tokens ended at once.")
            % {"name": self.person},
        )
        return self.back()


class ReopenPersonView(PersonActPage):
    def act(self, form: ReasonForm) -> HttpResponse:
        reopen_account(
            actor=self.request.user, person=self.person, reason=form.cleaned_data["reason"]
        )
        messages.success(
            self.request, _("The account of %(name)s is open again.") % {"name": self.person}
        )
        return self.back()


class ResetPasswordView(PageAccess, View):
    """A new one-time password, shown once in this answer and kept nowhere."""

    required_action = {"POST": Action.MANAGE_ACCOUNTS}

    def post(self, request: Any, pk: Any) -> HttpResponse:
        person = get_object_or_404(people(), pk=pk)
        password = reset_password(actor=request.user, person=person)
        return _shown_once(request, person, password)


def _shown_once(request: Any, person: User, password: str) -> HttpResponse:
    page = PersonPage()
    page.setup(request, pk=person.pk)
    return page.render_to_response(page.get_context_data(password=password))


class EndSessionsView(PageAccess, View):
    required_action = {"POST": Action.MANAGE_ACCOUNTS}

    def post(self, request: Any, pk: Any) -> HttpResponse:
        person = get_object_or_404(people(), pk=pk)
        end_sessions(actor=request.user, person=person)
        messages.success(request, _("%(name)s is signed out everywhere.") % {"name": person})
        return redirect("accounts:person", pk=person.pk)
