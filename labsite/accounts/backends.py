"""Sign-in by name and password; the system user, closed and ended accounts never pass."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.backends import BaseBackend
from django.utils import timezone

from labsite.accounts.models import User


class LabBackend(BaseBackend):
    def authenticate(
        self, request: Any, username: str | None = None, password: str | None = None, **_: Any
    ) -> User | None:
        if not username or password is None:
            return None
        user = User.objects.filter(username__iexact=username.strip()).first()
        if user is None:
            User().set_password(password)  # the same time is spent for a name that is not there
            return None
        return user if user.check_password(password) and may_sign_in(user) else None

    def get_user(self, user_id: Any) -> User | None:
        user = User.objects.filter(pk=user_id).first()
        return user if user and may_sign_in(user) else None


def may_sign_in(user: User) -> bool:
    ended = user.ends_on is not None and user.ends_on < timezone.localdate()
    return user.is_active and not user.is_system and not ended
