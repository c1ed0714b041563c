"""Words of the top bar by role."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from django.contrib.auth.models import AnonymousUser

from labsite.accounts.roles import Role
from labsite.web import nav


@pytest.fixture
def all_pages(monkeypatch):
    monkeypatch.setattr(nav, "reverse", lambda name: f"/{name}/")


def person(role: str):
    return SimpleNamespace(is_authenticated=True, role=role)


def test_every_role_has_words():
    assert set(nav.NAVIGATION) == set(Role)


@pytest.mark.parametrize(
    ("role", "first"),
    [
        (Role.TECHNICIAN, "Bench"),
        (Role.SHIFT_LEAD, "Bench"),
        (Role.MANAGER, "Bench"),
        (Role.AUDITOR, "Find"),
        (Role.ADMINISTRATOR, "Accounts"),
    ],
)
def test_each_role_starts_with_its_own_work(all_pages, role, first):
    assert nav.navigation(person(role), "")[0]["label"] == first


def test_administrator_is_offered_no_page_for_lab_data(all_pages):
    offered = {link["label"] for link in nav.navigation(person(Role.ADMINISTRATOR), "")}
    assert offered.isdisjoint({"Drop", "Read", "Float set", "Release"})


def test_only_the_current_page_is_marked(all_pages):
    links = nav.navigation(person(Role.TECHNICIAN), "samples:read")
    assert [link["label"] for link in links if link["current"]] == ["Read"]


def test_nobody_signed_in_gets_no_words(all_pages):
    assert nav.navigation(AnonymousUser(), "") == []
