"""What a person may not see in the history yet, or ever: rules by type of object.

An app registers a rule for its own types. A hidden entry still tells who did what and when; its
values and its reason are left out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from typing import Any

from labsite.audit.models import AuditEntry

Rule = Callable[[Any, list[AuditEntry]], set[int]]

_RULES: dict[str, list[Rule]] = defaultdict(list)


def register(object_type: str, rule: Rule) -> None:
    """`rule(person, entries)` gives the ids of those entries that `person` may not see into."""
    if rule not in _RULES[object_type]:
        _RULES[object_type].append(rule)


def hidden(person: Any, entries: Iterable[AuditEntry]) -> set[int]:
    """Ids of the entries whose values are hidden from `person`."""
    by_type: dict[str, list[AuditEntry]] = defaultdict(list)
    for entry in entries:
        by_type[entry.object_type].append(entry)
    found: set[int] = set()
    for object_type, group in by_type.items():
        for rule in _RULES.get(object_type, ()):
            found |= rule(person, group)
    return found
