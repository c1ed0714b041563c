"""What a cell names: a person, a column and its fill, a float. Looked up once for each file."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from columns.models import CalibrationFloat, Column, Fill
from labsite.accounts.models import User
from reports.imports.kinds.base import CellRefused, Importing


def person_named(importing: Importing, text: str, *, code: str = "person") -> User:
    """By sign-in name or full name, whatever the case; closed accounts count: they did read."""
    key = " ".join(text.split()).casefold()
    people = once(importing, "people", _people_by_name)
    found = people.get(key, [])
    if len(found) == 1:
        return found[0]
    if found:
        raise CellRefused(code, _("the sign-in name; several people are called so"))
    raise CellRefused(code, _("the sign-in name or full name of a person with an account"))


def _people_by_name() -> dict[str, list[User]]:
    found: dict[str, list[User]] = {}
    for user in User.objects.filter(is_system=False):
        for name in {user.username.casefold(), user.full_name.casefold()}:
            found.setdefault(name, []).append(user)
    return found


def column_named(importing: Importing, text: str) -> Column:
    columns = once(
        importing, "columns", lambda: {c.name.casefold(): c for c in Column.objects.all()}
    )
    found = columns.get(" ".join(text.split()).casefold())
    if found is None:
        raise CellRefused("column", _("the name of a column of this lab"))
    return found


def fill_at(importing: Importing, column: Column, at: datetime, *, code: str) -> Fill:
    """The fill that was in the column at `at`."""
    fills = once(importing, ("fills", column.pk), lambda: _fills_of(column))
    for fill in fills:
        if fill.poured_at <= at and (fill.drained_at is None or at < fill.drained_at):
            return fill
    raise CellRefused(
        code,
        _("a time at which %(column)s was filled; record the fill and its pour first")
        % {"column": column},
    )


def _fills_of(column: Column) -> list[Fill]:
    """All fills that were poured into a column, the newest first."""
    poured = Fill.objects.filter(column=column, poured_at__isnull=False)
    return list(poured.select_related("column__bath", "pair").order_by("-poured_at"))


def float_labelled(importing: Importing, text: str) -> CalibrationFloat | None:
    return floats_by_label(importing).get(label_key(text))


def floats_by_label(importing: Importing) -> dict[str, CalibrationFloat]:
    return once(importing, "floats", known_floats)


def known_floats() -> dict[str, CalibrationFloat]:
    return {label_key(f.label): f for f in CalibrationFloat.objects.all()}


def label_key(text: str) -> str:
    return " ".join(text.split()).casefold()


def from_logbook(note: str | None, file_name: str, row: int) -> str:
    """The note of a record that came from paper, with the row that it stands in."""
    source = _("From the logbook: %(file)s, row %(row)s.") % {"file": file_name, "row": row}
    return f"{note}\n{source}" if note else source


def once(importing: Importing, name: Any, look_up: Callable[[], Any]) -> Any:
    """What was looked up under this name before, else the answer of `look_up`."""
    if name not in importing.found:
        importing.found[name] = look_up()
    return importing.found[name]
