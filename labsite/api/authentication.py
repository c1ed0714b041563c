"""Who calls the API: a session of the pages, or a person's token."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _
from rest_framework.authentication import BaseAuthentication, SessionAuthentication

from labsite.accounts.backends import may_sign_in
from labsite.accounts.models import ApiToken, User
from labsite.accounts.tokens import hash_key
from labsite.clock import SYSTEM_CLOCK
from labsite.errors import NotSignedIn


class TokenAuthentication(BaseAuthentication):
    """`Authorization: Bearer rh_…`; only the hash of the key is compared."""

    def authenticate(self, request: Any) -> tuple[User, ApiToken] | None:
        kind, _space, key = request.headers.get("Authorization", "").partition(" ")
        if kind.lower() != "bearer":
            return None
        token = (
            ApiToken.objects.select_related("owner")
            .filter(key_hash=hash_key(key.strip()), revoked_at__isnull=True)
            .first()
        )
        if token is None or _has_ended(token) or not may_sign_in(token.owner):
            raise NotSignedIn(
                "token_not_valid", _("This API token is unknown, revoked or has ended.")
            )
        return token.owner, token

    def authenticate_header(self, request: Any) -> str:
        return "Bearer"


def _has_ended(token: ApiToken) -> bool:
    return token.expires_at is not None and token.expires_at <= SYSTEM_CLOCK.now()


class LabSessionAuthentication(SessionAuthentication):
    """The pages' own session, with the CSRF check; a borrowed password opens nothing here."""

    def authenticate(self, request: Any) -> tuple[User, None] | None:
        found = super().authenticate(request)
        if found and found[0].must_change_password:
            raise NotSignedIn("password_must_change", _("Choose a password of your own first."))
        return found

    def authenticate_header(self, request: Any) -> str:
        return "Session"
