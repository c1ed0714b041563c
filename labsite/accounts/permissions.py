"""Four doors, one rule: `can`, `require`, the page mixin and the DRF permission ask `GRANTS`."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _
from rest_framework.permissions import BasePermission

from labsite.accounts.roles import GRANTS, Action, Role
from labsite.errors import NotPermitted, NotSignedIn


def can(user: Any, action: Action) -> bool:
    """Whether `user` may do `action`; raises ValueError on an action that does not exist."""
    action = Action(action)
    if user is None or not user.is_authenticated or not user.is_active:
        return False
    return action in GRANTS[Role(user.role)]


def require(user: Any, action: Action) -> None:
    """Raise NotSignedIn or NotPermitted unless `user` may do `action`."""
    if user is None or not user.is_authenticated:
        raise NotSignedIn("not_signed_in", _("Sign in first."))
    if not can(user, action):
        raise NotPermitted(
            "not_permitted",
            _("As %(role)s you may not do this: %(action)s. Ask a person whose role allows it.")
            % {"role": user.get_role_display(), "action": Action(action).label},
        )


def required_for(view: Any, method: str) -> Action | None:
    """The action that `view` states for `method`; None when it does not serve the method.

    HEAD counts as GET; OPTIONS of a view without GET asks for any one of its actions. A method
    that is served and not named is a programming error and raises.
    """
    required = view.required_action
    if not isinstance(required, dict):
        return required
    if method == "OPTIONS":
        return required.get("GET") or next(iter(required.values()))
    method = "GET" if method == "HEAD" else method
    if method not in required and _serves(view, method.lower()):
        raise AssertionError(f"{view} states no action for {method}")
    return required.get(method)


def _serves(view: Any, name: str) -> bool:
    return name in view.http_method_names and hasattr(view, name)


class HasAction(BasePermission):
    """DRF door: the view names `required_action`, one action or one per method."""

    def has_permission(self, request: Any, view: Any) -> bool:
        required = required_for(view, request.method)
        if required is not None:  # else the method is not served: DRF answers 405
            require(request.user, required)
        return True


class PageAccess:
    """Page door: mixin for class-based views, `required_action` as above."""

    required_action: Action | dict[str, Action]

    def dispatch(self, request: Any, *args: Any, **kwargs: Any) -> Any:
        required = required_for(self, request.method)
        if required is not None:
            require(request.user, required)
        return super().dispatch(request, *args, **kwargs)
