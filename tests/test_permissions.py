"""Every route × role × method: who is let through, who is refused, and that a refusal does nothing.

The routes come from the URL resolver, so a new one is covered without a line here. Identifiers
are made up: a refusal must come before anything is looked up.
"""

from __future__ import annotations

import copy
import re
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, get_resolver

from labsite.accounts import audit_actions as actions
from labsite.accounts.models import User
from labsite.accounts.permissions import can, required_for
from labsite.accounts.roles import Action, Role
from labsite.audit.models import AuditEntry, AuditHead
from tests import factories

METHODS = ("GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE")

# Routes for people who are not signed in, each with its reason.
PUBLIC = {
    "sign-in/": "this is where one signs in",
    "sign-in/demo/": "signs a newcomer in; 404 outside the demo",
    "health/": "asked by the container's health check, tells nothing but that it lives",
}
SAMPLES = {"uuid": lambda: str(uuid.uuid4()), "str": lambda: "x", "slug": lambda: "x"}


@dataclass(frozen=True)
class Route:
    template: str
    view: Any

    @property
    def is_api(self) -> bool:
        return self.template.startswith("api/")

    def address(self) -> str:
        """The template with made-up values; an int, path or regex converter has no sample yet."""
        return "/" + re.sub(r"<(\w+):\w+>", lambda found: SAMPLES[found[1]](), self.template)

    def serves(self, method: str) -> bool:
        name = "get" if method == "HEAD" else method.lower()
        return name in self.view.http_method_names and hasattr(self.view, name)


def walk(patterns: Any, prefix: str = "") -> Iterator[Route]:
    for item in patterns:
        template = prefix + str(item.pattern)
        if isinstance(item, URLPattern):
            callback = item.callback
            view = getattr(callback, "cls", None) or getattr(callback, "view_class", callback)
            yield Route(template, view)
        else:
            yield from walk(item.url_patterns, template)


ROUTES = list(walk(get_resolver().url_patterns))
GUARDED = [route for route in ROUTES if route.template not in PUBLIC]


def test_there_are_pages_and_api_routes() -> None:
    assert sum(route.is_api for route in ROUTES) > 10
    assert sum(not route.is_api for route in ROUTES) > 10


@pytest.mark.parametrize("route", GUARDED, ids=lambda route: route.template or "start")
def test_every_route_states_the_action_of_each_method(route: Route) -> None:
    assert getattr(route.view, "required_action", None), (
        f"{route.template}: {route.view} states no required_action"
    )
    for method in METHODS:
        if route.serves(method):
            assert isinstance(required_for(route.view, method), Action), method


def test_public_routes_exist() -> None:
    """A public route that is gone must go from the list; `health/` may come with operations."""
    templates = {route.template for route in ROUTES}
    assert PUBLIC.keys() - templates <= {"health/"}


def heads() -> dict[str, int]:
    return dict(AuditHead.objects.values_list("key", "sequence"))


def expected(route: Route, person: User | None, method: str) -> set[int] | None:
    """Statuses that are right when the cell is refused or not served; None: it is let through."""
    if person is None:
        required = required_for(route.view, method)
        return {401} if route.is_api and required else {405} if route.is_api else {302}
    required = required_for(route.view, method)
    if required is not None and not can(person, required):
        return {403}
    return None if route.serves(method) else {405}


def send(client: Client, cookies: Any, route: Route, method: str) -> Any:
    client.cookies = copy.deepcopy(cookies)
    return client.generic(
        method,
        route.address(),
        "{}",
        content_type="application/json",
        headers={"Idempotency-Key": uuid.uuid4().hex},
    )


def fault_of(
    route: Route, person: User | None, method: str, answer: Any, before: dict[str, int]
) -> str | None:
    cell = f"{method} /{route.template} as {person.role if person else 'stranger'}"
    right = expected(route, person, method)
    if right is None:
        wrong = answer.status_code in (401, 403, 405) or answer.status_code >= 500
        return f"{cell}: {answer.status_code}, should be let through" if wrong else None
    if answer.status_code not in right:
        return f"{cell}: {answer.status_code}, expected {right}"
    if person is None and not route.is_api and "/sign-in/" not in answer.headers["Location"]:
        return f"{cell}: leads to {answer.headers['Location']}"
    return side_effect(cell, person, answer.status_code, before)


def side_effect(cell: str, person: User | None, status: int, before: dict[str, int]) -> str | None:
    """A refusal leaves one entry, on the person who tried; a stranger leaves none."""
    moved = {key: n - before.get(key, 0) for key, n in heads().items() if n != before.get(key)}
    allowed = {f"accounts.user:{person.pk}": 1} if person and status == 403 else {}
    if moved != allowed:
        return f"{cell}: refused, and yet these moved: {moved}"
    if allowed and AuditEntry.objects.latest("pk").action != actions.ACTION_REFUSED:
        return f"{cell}: refused, and the history says something else"
    return None


def client_of(person: User | None) -> Client:
    client = Client(raise_request_exception=False)
    if person is not None:
        client.force_login(person, backend="labsite.accounts.backends.LabBackend")
    return client


@pytest.mark.django_db
@pytest.mark.parametrize("role", [*Role, None], ids=lambda role: role or "stranger")
def test_each_cell(role: Role | None) -> None:
    """Each cell is undone before the next one, so that none can hide what another does."""
    person = factories.make_person(username="somebody", role=role) if role else None
    client = client_of(person)
    cookies, before = client.cookies, heads()
    faults = []
    for route in GUARDED:
        for method in METHODS:
            undo = transaction.savepoint()
            answer = send(client, cookies, route, method)
            faults.append(fault_of(route, person, method, answer, before))
            transaction.savepoint_rollback(undo)
    assert not any(faults), "\n".join(filter(None, faults))


@pytest.mark.django_db
def test_a_cell_that_is_wrong_would_be_noticed() -> None:
    """The check itself: an open door and a refusal with an effect are both reported."""
    (people,) = [route for route in GUARDED if route.template == "api/v1/people/"]
    technician = factories.make_person(username="imre")
    client = client_of(factories.make_person(username="yuki", role=Role.ADMINISTRATOR))
    answer = send(client, client.cookies, people, "GET")
    assert "expected {403}" in str(fault_of(people, technician, "GET", answer, heads()))
    client = client_of(technician)
    before = heads()
    answer = send(client, client.cookies, people, "GET")
    assert fault_of(people, technician, "GET", answer, before) is None
    factories.make_person(username="sneaked-in")
    assert "these moved" in str(fault_of(people, technician, "GET", answer, before))
