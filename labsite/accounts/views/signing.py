"""Signing in and out, and choosing a password."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import authenticate, login, logout, update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, resolve_url
from django.utils.decorators import method_decorator
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.generic import FormView, View

from labsite.accounts.backends import may_sign_in
from labsite.accounts.forms import PasswordForm, SignInForm
from labsite.accounts.lockout import is_locked_out, refuse
from labsite.accounts.models import User
from labsite.accounts.pages import FormPage
from labsite.accounts.permissions import PageAccess
from labsite.accounts.roles import Action
from labsite.accounts.selectors import demo_people, people_who_may_sign_in
from labsite.accounts.services import (
    change_password,
    note_refused_sign_in,
    note_sign_in,
    note_sign_out,
)
from labsite.errors import RuleViolation

BACKEND = "labsite.accounts.backends.LabBackend"


def next_page(request: Any) -> str:
    """Where the person wanted to go, if that is a page of this app; else the start page."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    own = url_has_allowed_host_and_scheme(
        wanted, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return wanted if own else resolve_url(settings.LOGIN_REDIRECT_URL)


@method_decorator([login_not_required, never_cache], name="dispatch")
class SignInView(FormView):
    """Name and password; in the demo also a list of the people one can be."""

    template_name = "accounts/sign_in.html"
    form_class = SignInForm

    def get(self, request: Any, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.user.is_authenticated:
            return redirect(next_page(request))
        return super().get(request, *args, **kwargs)

    def form_valid(self, form: SignInForm) -> HttpResponse:
        name, password = form.cleaned_data["username"], form.cleaned_data["password"]
        if is_locked_out(self.request, name):
            return refuse(self.request)
        person = authenticate(self.request, username=name, password=password)
        if person is None:
            _note_refusal(self.request, name)
            form.add_error(None, _("This name and password do not belong together."))
            return self.form_invalid(form)
        login(self.request, person)
        note_sign_in(person=person)
        return redirect(next_page(self.request))

    def form_invalid(self, form: SignInForm) -> HttpResponse:
        form.fields["username"].widget.attrs["autofocus"] = True
        return self.render_to_response(self.get_context_data(form=form), status=422)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        context = super().get_context_data(**kwargs)
        context["next"] = self.request.POST.get("next") or self.request.GET.get("next", "")
        context["demo"] = settings.RESTHEIGHT_DEMO
        context["demo_people"] = demo_people() if settings.RESTHEIGHT_DEMO else []
        return context


def _note_refusal(request: Any, name: str) -> None:
    person = User.objects.filter(username=name, is_system=False).first()
    if person:
        why = "wrong_password" if may_sign_in(person) else "account_closed_or_ended"
        note_refused_sign_in(person=person, why=why, address=request.META.get("REMOTE_ADDR", ""))


@method_decorator([login_not_required, never_cache], name="dispatch")
class DemoSignInView(View):
    """One click lets a newcomer in as a demo person; outside the demo it does not exist."""

    def post(self, request: Any) -> HttpResponse:
        if not settings.RESTHEIGHT_DEMO:
            raise Http404
        try:
            wanted = UUID(request.POST.get("person", ""))
        except ValueError as error:
            raise Http404 from error
        person = get_object_or_404(people_who_may_sign_in(), pk=wanted, must_change_password=False)
        login(request, person, backend=BACKEND)
        note_sign_in(person=person, demo=True)
        return redirect(next_page(request))


class SignOutView(PageAccess, View):
    required_action = {"POST": Action.KEEP_OWN_ACCOUNT}

    def post(self, request: Any) -> HttpResponse:
        note_sign_out(person=request.user)
        logout(request)
        return redirect(settings.LOGOUT_REDIRECT_URL)


class PasswordView(FormPage):
    """Change one's own password; the only page for a person with a borrowed one."""

    required_action = Action.KEEP_OWN_ACCOUNT
    template_name = "accounts/password.html"
    form_class = PasswordForm

    def act(self, form: PasswordForm) -> HttpResponse:
        self._check_old(form.cleaned_data["old"])
        person = change_password(
            actor=self.request.user, old=form.cleaned_data["old"], new=form.cleaned_data["new"]
        )
        update_session_auth_hash(self.request, person)
        messages.success(self.request, _("Your password is changed. Other devices are signed out."))
        return redirect("accounts:account")

    def _check_old(self, old: str) -> None:
        """Through the sign-in's own door, so that wrong tries here are counted as well."""
        if not authenticate(self.request, username=self.request.user.username, password=old):
            raise RuleViolation(
                "wrong_password",
                _("Your password was not changed."),
                fields={"old": [_("The present password is not right.")]},
            )
