"""The one way to write: `change` runs a transaction and leaves an entry for each thing changed.

Entries are chained per object. They are written when the outermost `change` ends, inside its
transaction, and the heads of the chains are locked last and in sorted order, so that writers of
the same object queue for as short a time as possible and never wait for each other in a circle.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import models, transaction
from django.utils.translation import gettext as _

from labsite.audit import context
from labsite.audit.actions import sentence_of
from labsite.audit.models import GENESIS, AuditEntry, AuditHead, chain_hash
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.errors import Conflict
from labsite.records import LabRecord, canonical_instant, canonical_json, snapshot

SCHEMA = 1


@dataclass
class _Pending:
    target: models.Model
    facts: dict[str, Any]
    at: datetime
    actor: Any


@dataclass
class Change:
    """Collects what one actor changes in one transaction."""

    actor: Any
    now: datetime
    source: str
    reason: str
    device_at: datetime | None
    pending: list[_Pending] = field(default_factory=list)

    def add(self, record: LabRecord, action: str, *, reason: str | None = None) -> LabRecord:
        """Insert `record` and note all its values."""
        record.created_at = record.created_at or self.now
        _clean(record)
        record.save(force_insert=True)
        self._note(record, action, reason, old={}, new=snapshot(record))
        return record

    def update(
        self, record: LabRecord, action: str, *, reason: str | None = None, **fields: Any
    ) -> LabRecord:
        """Change `fields` of `record`, raise its version, note old and new values.

        Raises Conflict when the row has another version than `record` by now.
        """
        before = snapshot(record)
        seen = record.version
        for name, value in fields.items():
            setattr(record, name, value)
        record.version = seen + 1
        _clean(record)
        names = [*fields, "version"]
        values = {name: getattr(record, name) for name in names}
        if not type(record)._base_manager.filter(pk=record.pk, version=seen).update(**values):
            raise Conflict(
                "changed_meanwhile",
                _("%(what)s was changed by somebody else just now. Look at it again.")
                % {"what": record},
            )
        after = snapshot(record)
        masked = {_attname(record, n) for n in fields if n in record.audit_masked}
        moved = [key for key in after if after[key] != before[key] or key in masked]
        self._note(
            record,
            action,
            reason,
            old={key: before[key] for key in moved},
            new={key: after[key] for key in moved},
        )
        return record

    def note(
        self,
        record: models.Model,
        action: str,
        *,
        reason: str | None = None,
        new: dict[str, Any] | None = None,
    ) -> None:
        """Note something that changed no row, such as a sign-in or an export."""
        self._note(record, action, reason, old={}, new={}, extra=new or {})

    def _note(
        self,
        record: models.Model,
        action: str,
        reason: str | None,
        *,
        old: dict[str, Any],
        new: dict[str, Any],
        extra: dict[str, Any] | None = None,
    ) -> None:
        sentence_of(action)
        facts = {
            "schema": SCHEMA,
            "object_type": record._meta.label_lower,
            "object_id": str(record.pk),
            "object_label": str(record)[:200],
            "at": canonical_instant(self.now),
            "device_at": canonical_instant(self.device_at) if self.device_at else None,
            "clock": self.source,
            "actor": str(self.actor.pk),
            "actor_name": str(self.actor),
            "actor_role": self.actor.role,
            "action": action,
            "reason": self.reason if reason is None else reason,
            "old": old,
            "new": new,
            "noted": extra or {},
            "request_id": context.request_id.get(),
        }
        self.pending.append(_Pending(record, facts, self.now, self.actor))


_current: ContextVar[Change | None] = ContextVar("change", default=None)


@contextmanager
def change(
    *,
    actor: Any,
    clock: Clock | None = None,
    reason: str = "",
    device_at: datetime | None = None,
) -> Iterator[Change]:
    """Run one atomic change in the name of `actor`.

    A `change` inside another joins its transaction and its list of entries. Raises ValueError
    without an actor: there is no anonymous change.
    """
    if actor is None or not getattr(actor, "pk", None):
        raise ValueError("a change needs an actor")
    clock = clock or SYSTEM_CLOCK
    outer = _current.get()
    log = Change(
        actor=actor,
        now=clock.now(),
        source=clock.source,
        reason=reason,
        device_at=device_at or context.device_time.get(),
        pending=outer.pending if outer else [],
    )
    token = _current.set(log)
    already = len(log.pending)
    try:
        with transaction.atomic():
            yield log
            if outer is None:
                _write(log.pending)
    except BaseException:
        del log.pending[already:]  # what was rolled back leaves no entry
        raise
    finally:
        _current.reset(token)


def _clean(record: LabRecord) -> None:
    relations = [f.name for f in record._meta.concrete_fields if f.is_relation]
    record.clean_fields(exclude=relations)
    record.clean()


def _attname(record: models.Model, name: str) -> str:
    return record._meta.get_field(name).attname


def _key(facts: dict[str, Any]) -> str:
    return f"{facts['object_type']}:{facts['object_id']}"


def _write(pending: list[_Pending]) -> None:
    if not pending:
        return
    keys = sorted({_key(item.facts) for item in pending})
    heads = {
        head.key: head
        for head in AuditHead.objects.select_for_update().filter(key__in=keys).order_by("key")
    }
    entries = []
    for item in pending:
        key = _key(item.facts)
        head = heads.setdefault(key, AuditHead(key=key, sequence=0, hash=GENESIS))
        entry = _entry(item, head)
        head.sequence, head.hash = entry.sequence, entry.hash
        entries.append(entry)
    AuditEntry.objects.bulk_create(entries)
    AuditHead.objects.bulk_create(
        [heads[key] for key in keys],
        update_conflicts=True,
        unique_fields=["key"],
        update_fields=["sequence", "hash"],
    )


def _entry(item: _Pending, head: AuditHead) -> AuditEntry:
    facts = {**item.facts, "sequence": head.sequence + 1}
    body = canonical_json(facts)
    return AuditEntry(
        object_type=facts["object_type"],
        object_id=facts["object_id"],
        object_label=facts["object_label"],
        sequence=facts["sequence"],
        at=item.at,
        actor=item.actor,
        actor_name=facts["actor_name"],
        action=facts["action"],
        reason=facts["reason"],
        body=body,
        previous_hash=head.hash,
        hash=chain_hash(head.hash, body),
    )
