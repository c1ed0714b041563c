"""Names by which people tell things apart: trimmed, and taken only once whatever the case."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from labsite.errors import Conflict, RuleViolation
from labsite.records import LabRecord


def free_name(
    model: type[LabRecord], text: str, *, field: str = "name", present: Any = None
) -> str:
    """The trimmed name; raises RuleViolation when empty, Conflict when another row has it."""
    name = " ".join(text.split())
    if not name:
        raise RuleViolation(
            "name_required", _("Give it a name."), fields={field: [_("may not be empty")]}
        )
    others = model._base_manager.filter(**{f"{field}__iexact": name})
    if present is not None:
        others = others.exclude(pk=present.pk)
    if others.exists():
        raise Conflict(
            "name_taken",
            _("%(name)s is there already. Choose another name.") % {"name": name},
            fields={field: [_("taken")]},
        )
    return name


def named_fields(record: LabRecord, fields: dict[str, Any], *, field: str = "name") -> dict:
    """`fields` with the name in them checked; raises RuleViolation when nothing would change."""
    if not fields:
        raise RuleViolation("nothing_to_change", _("Name at least one field to change."))
    if field in fields:
        fields = {
            **fields,
            field: free_name(type(record), fields[field], field=field, present=record),
        }
    return fields
