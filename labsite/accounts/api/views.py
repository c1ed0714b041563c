"""People, tokens and the session through the API."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from drf_spectacular.utils import extend_schema
from rest_framework.response import Response
from rest_framework.views import APIView

from labsite.accounts.api.serializers import (
    NameSerializer,
    NothingSerializer,
    PersonAddSerializer,
    PersonChangeSerializer,
    PersonSerializer,
    PersonWithPasswordSerializer,
    ReasonSerializer,
    SessionSerializer,
    TokenAddSerializer,
    TokenSerializer,
    TokenWithKeySerializer,
)
from labsite.accounts.models import ApiToken
from labsite.accounts.passwords import one_time_password
from labsite.accounts.permissions import can
from labsite.accounts.roles import Action
from labsite.accounts.selectors import actions_of, last_sign_ins, people
from labsite.accounts.services import (
    add_person,
    change_person,
    close_account,
    end_sessions,
    reopen_account,
    reset_password,
)
from labsite.accounts.tokens import make_token, revoke_token
from labsite.api.views import ActionView, ChangeableRecordView, ListCreateView, ListView
from labsite.clock import SYSTEM_CLOCK


class ShowsOnce:
    """Adds a secret to the first answer; what is kept for a replay never holds it."""

    secret_name: str
    secret: str | None = None

    def post(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        response = super().post(request, *args, **kwargs)
        if self.secret is not None:
            response.data = {**response.data, self.secret_name: self.secret}
        response.headers["Cache-Control"] = "no-store"
        return response


class WithSignIns:
    """Gives the serializer the last sign-in of everybody it shows, in one query."""

    def get_serializer(self, *args: Any, **kwargs: Any) -> Any:
        serializer = super().get_serializer(*args, **kwargs)
        shown = serializer.instance
        shown = shown if isinstance(shown, list) else [shown] if shown is not None else []
        serializer.context["signed_in"] = last_sign_ins(shown)
        return serializer


class PeopleView(ShowsOnce, WithSignIns, ListCreateView):
    """Everybody with an account. POST adds one and answers its one-time password once."""

    required_action = Action.MANAGE_ACCOUNTS
    serializer_class = PersonSerializer
    input_class = PersonAddSerializer
    filterset_fields = ("role", "is_active")
    secret_name = "password"

    def get_queryset(self) -> Any:
        return people()

    def create(self, actor: Any, data: dict[str, Any]) -> Any:
        self.secret = one_time_password()
        return add_person(actor=actor, password=self.secret, **data)

    @extend_schema(request=PersonAddSerializer, responses={201: PersonWithPasswordSerializer})
    def post(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        return super().post(request, *args, **kwargs)


class NamesView(ListView):
    """Everybody's name and role, for everybody."""

    required_action = Action.KEEP_OWN_ACCOUNT
    serializer_class = NameSerializer
    filterset_fields = ("role",)

    def get_queryset(self) -> Any:
        return people()


class PersonView(WithSignIns, ChangeableRecordView):
    required_action = Action.MANAGE_ACCOUNTS
    serializer_class = PersonSerializer
    change_class = PersonChangeSerializer

    def get_queryset(self) -> Any:
        return people()

    def change(self, actor: Any, record: Any, data: dict[str, Any]) -> Any:
        return change_person(actor=actor, person=record, **data)


class PersonActionView(WithSignIns, ActionView):
    required_action = {"POST": Action.MANAGE_ACCOUNTS}
    serializer_class = PersonSerializer
    input_class: Any = ReasonSerializer

    def get_queryset(self) -> Any:
        return people()


class CloseView(PersonActionView):
    """Close the account: sign-ins and tokens end at once."""

    def act(self, actor: Any, record: Any, data: dict[str, Any]) -> Any:
        return close_account(actor=actor, person=record, **data)


class ReopenView(PersonActionView):
    def act(self, actor: Any, record: Any, data: dict[str, Any]) -> Any:
        return reopen_account(actor=actor, person=record, **data)


class EndSessionsView(PersonActionView):
    """Sign the person out on all devices."""

    input_class = NothingSerializer

    def act(self, actor: Any, record: Any, data: dict[str, Any]) -> Any:
        return end_sessions(actor=actor, person=record)


class ResetPasswordView(ShowsOnce, PersonActionView):
    """Give a one-time password, answered once."""

    input_class = NothingSerializer
    secret_name = "password"

    def act(self, actor: Any, record: Any, data: dict[str, Any]) -> Any:
        self.secret = reset_password(actor=actor, person=record)
        record.refresh_from_db()
        return record

    @extend_schema(request=NothingSerializer, responses=PersonWithPasswordSerializer)
    def post(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        return super().post(request, *args, **kwargs)


def _tokens_of(person: Any) -> Any:
    """One's own tokens; all of them for those who keep accounts."""
    if not person.is_authenticated:  # the schema's generator is nobody
        return ApiToken.objects.none()
    if can(person, Action.MANAGE_ACCOUNTS):
        return ApiToken.objects.all()
    return ApiToken.objects.filter(owner=person)


class TokensView(ShowsOnce, ListCreateView):
    """API tokens, without their keys. POST makes one of one's own and answers its key once."""

    required_action = Action.KEEP_OWN_ACCOUNT
    serializer_class = TokenSerializer
    input_class = TokenAddSerializer
    filterset_fields = ("owner",)
    secret_name = "key"

    def get_queryset(self) -> Any:
        return _tokens_of(self.request.user)

    def create(self, actor: Any, data: dict[str, Any]) -> Any:
        token, self.secret = make_token(actor=actor, **data)
        return token

    @extend_schema(request=TokenAddSerializer, responses={201: TokenWithKeySerializer})
    def post(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        return super().post(request, *args, **kwargs)


class RevokeTokenView(ActionView):
    required_action = {"POST": Action.KEEP_OWN_ACCOUNT}
    serializer_class = TokenSerializer
    input_class = NothingSerializer

    def get_queryset(self) -> Any:
        return _tokens_of(self.request.user)

    def act(self, actor: Any, record: Any, data: dict[str, Any]) -> Any:
        return revoke_token(actor=actor, token=record)


class SessionView(APIView):
    """Who am I, what may I do, and what time is it on the server?"""

    required_action = Action.KEEP_OWN_ACCOUNT

    @extend_schema(responses=SessionSerializer)
    def get(self, request: Any) -> Response:
        facts = {
            "person": request.user,
            "username": request.user.username,
            "actions": actions_of(request.user),
            "demo": settings.RESTHEIGHT_DEMO,
            "server_time": SYSTEM_CLOCK.now(),
        }
        return Response(SessionSerializer(facts).data)
