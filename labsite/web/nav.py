"""The words of the top bar: by role, in the same order on every page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.urls import NoReverseMatch, reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from labsite.accounts.roles import Role


@dataclass(frozen=True)
class Entry:
    label: str | Promise
    url_name: str
    here: tuple[str, ...] = ()  # further url names during which this word is marked

    def is_current(self, view_name: str) -> bool:
        return view_name in (self.url_name, *self.here)


BENCH = Entry(_("Bench"), "samples:bench", ("samples:column",))
DROP = Entry(_("Drop"), "samples:drop")
READ = Entry(_("Read"), "samples:read")
FLOAT_SET = Entry(_("Float set"), "columns:float-set")
JOBS = Entry(_("Jobs"), "columns:jobs", ("columns:work",))
EQUIPMENT = Entry(_("Equipment"), "columns:equipment")
LOTS = Entry(_("Lots"), "samples:lot-list", ("samples:lot", "samples:lot-detail"))
RELEASE = Entry(_("Release"), "samples:release")
FLOATS = Entry(_("Floats"), "columns:float-list", ("columns:float", "columns:float-detail"))
GRADES = Entry(_("Grades"), "samples:grade-list", ("samples:grade", "samples:grade-detail"))
FIND = Entry(_("Find"), "reports:search")
CHANGES = Entry(_("Changes"), "audit:history", ("audit:object-history", "audit:verification"))
PEOPLE = Entry(_("Accounts"), "accounts:people", ("accounts:person", "accounts:add-person"))

NAVIGATION: dict[Role, tuple[Entry, ...]] = {
    Role.TECHNICIAN: (BENCH, DROP, READ, FLOAT_SET, JOBS, LOTS, FIND),
    Role.SHIFT_LEAD: (BENCH, RELEASE, LOTS, FLOAT_SET, JOBS, FLOATS, FIND),
    Role.MANAGER: (BENCH, RELEASE, LOTS, FLOATS, GRADES, EQUIPMENT, FIND),
    Role.AUDITOR: (FIND, CHANGES, LOTS, FLOATS, BENCH),
    Role.ADMINISTRATOR: (PEOPLE, CHANGES, FIND, BENCH),
}


# Reached from the menu by everybody whose top bar does not show them.
MORE = (JOBS, FLOATS, GRADES, EQUIPMENT, CHANGES)


def more_pages(user: Any) -> list[dict[str, Any]]:
    """Further pages for the menu."""
    if not getattr(user, "is_authenticated", False):
        return []
    shown = NAVIGATION[Role(user.role)]
    found = [(entry.label, _address(entry)) for entry in MORE if entry not in shown]
    return [{"label": label, "url": address} for label, address in found if address]


def _address(entry: Entry) -> str | None:
    try:
        return reverse(entry.url_name)
    except NoReverseMatch:
        return None


def navigation(user: Any, view_name: str) -> list[dict[str, Any]]:
    """Words, addresses and the current one for this person; nobody signed in has none."""
    if not getattr(user, "is_authenticated", False):
        return []
    links = []
    for entry in NAVIGATION[Role(user.role)]:
        address = _address(entry)
        if address:
            current = entry.is_current(view_name)
            links.append({"label": entry.label, "url": address, "current": current})
    return links
