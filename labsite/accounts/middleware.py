"""Pages need a signed-in person; a person with a borrowed password must choose an own one first."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import resolve

OPEN_TO_BORROWED_PASSWORD = {"accounts:password", "accounts:sign-out"}


class SignInRequiredMiddleware(LoginRequiredMiddleware):
    """Deny by default: a page without `login_not_required` sends strangers to the sign-in page."""

    def process_view(self, request: Any, view_func: Any, view_args: Any, view_kwargs: Any) -> Any:
        user = request.user
        if user.is_authenticated and user.must_change_password:
            match = resolve(request.path_info)
            if match.view_name not in OPEN_TO_BORROWED_PASSWORD and getattr(
                view_func, "login_required", True
            ):
                return redirect("accounts:password")
        return super().process_view(request, view_func, view_args, view_kwargs)

    def process_response(self, request: Any, response: HttpResponse) -> HttpResponse:
        """Tablets are shared: Back after signing out must not show the last person's page."""
        user = getattr(request, "user", None)
        if user is not None and user.is_authenticated:
            response.headers.setdefault("Cache-Control", "private, no-store")
        return response
