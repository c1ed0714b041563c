"""A person's own account: what they may do, their API tokens."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.generic import TemplateView, View

from labsite.accounts.forms import TokenForm
from labsite.accounts.models import ApiToken
from labsite.accounts.pages import FormPage
from labsite.accounts.permissions import PageAccess
from labsite.accounts.roles import Action, Role
from labsite.accounts.selectors import actions_of, last_sign_ins, role_table
from labsite.accounts.services import end_sessions
from labsite.accounts.tokens import make_token, revoke_token
from labsite.clock import SYSTEM_CLOCK


class AccountView(PageAccess, TemplateView):
    required_action = Action.KEEP_OWN_ACCOUNT
    template_name = "accounts/account.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        person = self.request.user
        return super().get_context_data(
            person=person,
            allowed=actions_of(person),
            signed_in_at=last_sign_ins([person]).get(person.pk),
            **kwargs,
        )


class EndOwnSessionsView(PageAccess, View):
    """Sign all other devices out; this one stays."""

    required_action = {"POST": Action.KEEP_OWN_ACCOUNT}

    def post(self, request: Any) -> HttpResponse:
        update_session_auth_hash(request, end_sessions(actor=request.user, person=request.user))
        messages.success(request, _("All other devices are signed out."))
        return redirect("accounts:account")


class TokensView(FormPage):
    """The person's tokens; a new one is shown once, in the answer to the form."""

    required_action = Action.KEEP_OWN_ACCOUNT
    template_name = "accounts/tokens.html"
    form_class = TokenForm

    def act(self, form: TokenForm) -> HttpResponse:
        token, key = make_token(
            actor=self.request.user,
            name=form.cleaned_data["name"],
            expires_at=form.ends_at(),
        )
        fresh = self.get_context_data(form=TokenForm(), made=token, key=key)
        return self.render_to_response(fresh)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        tokens = self.request.user.tokens.all()
        return super().get_context_data(tokens=tokens, now=SYSTEM_CLOCK.now(), **kwargs)


class RevokeTokenView(PageAccess, View):
    required_action = {"POST": Action.KEEP_OWN_ACCOUNT}

    def post(self, request: Any, pk: Any) -> HttpResponse:
        token = get_object_or_404(ApiToken.objects.select_related("owner"), pk=pk)
        revoke_token(actor=request.user, token=token)
        messages.success(request, _("The token “%(name)s” is revoked.") % {"name": token.name})
        if token.owner_id == request.user.pk:
            return redirect("accounts:tokens")
        return redirect("accounts:person", pk=token.owner_id)


class RolesView(PageAccess, TemplateView):
    """The table of role × action, for everybody."""

    required_action = Action.KEEP_OWN_ACCOUNT
    template_name = "accounts/roles.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(roles=list(Role), table=role_table(), **kwargs)
