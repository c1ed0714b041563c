"""Checking the history: every chain, every digest, and every row against its entries.

What this cannot show: that a number was true when it was typed, and what a person with full
control of the database rewrote after the last digest that was kept outside it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from django.apps import apps

from labsite.audit.digests import heads_in
from labsite.audit.models import GENESIS, AuditDigest, AuditEntry, AuditHead, chain_hash
from labsite.consistency import consistent_read
from labsite.records import LabRecord, canonical_instant, canonical_value, snapshot

CHUNK = 2000


@dataclass(frozen=True)
class Finding:
    """One thing that does not hold: a code, where, and what was expected."""

    code: str
    where: str
    detail: str


@dataclass
class Verification:
    entries: int = 0
    objects: int = 0
    rows: int = 0
    digests: int = 0
    findings: list[Finding] = field(default_factory=list)

    @property
    def holds(self) -> bool:
        return not self.findings

    def miss(self, code: str, where: str, detail: str) -> None:
        self.findings.append(Finding(code, where, detail))


@dataclass
class _Chain:
    """What one object's entries say: its last link and the state they add up to."""

    sequence: int
    hash: str
    state: dict[str, Any]
    hashes: list[str]


def verify() -> Verification:
    """Check everything in one consistent read; the first finding names the first broken record."""
    result = Verification()
    with consistent_read():
        chains = _verify_chains(result)
        _verify_heads(result, chains)
        _verify_digests(result, chains)
        _verify_rows(result, chains)
    return result


def _verify_chains(result: Verification) -> dict[str, _Chain]:
    entries = AuditEntry.objects.order_by("object_type", "object_id", "sequence")
    chains = {}
    for key, group in groupby(entries.iterator(CHUNK), lambda e: f"{e.object_type}:{e.object_id}"):
        chains[key] = _follow(result, key, group)
        result.objects += 1
    return chains


def _follow(result: Verification, key: str, entries: Iterator[AuditEntry]) -> _Chain:
    chain = _Chain(0, GENESIS, {}, [])
    for entry in entries:
        result.entries += 1
        where = f"{key} #{entry.sequence} ({entry.object_label})"
        if entry.sequence != chain.sequence + 1:
            result.miss("entry_missing", where, f"expected entry {chain.sequence + 1}")
        if entry.previous_hash != chain.hash:
            result.miss("chain_broken", where, "does not follow from the entry before it")
        if chain_hash(entry.previous_hash, entry.body) != entry.hash:
            result.miss("entry_changed", where, "its text does not give its hash")
        _compare_columns(result, where, entry)
        chain.sequence, chain.hash = entry.sequence, entry.hash
        chain.hashes.append(entry.hash)
        chain.state.update(_facts(entry).get("new", {}))
    return chain


def _facts(entry: AuditEntry) -> dict[str, Any]:
    try:
        return entry.facts
    except json.JSONDecodeError:
        return {}


def _compare_columns(result: Verification, where: str, entry: AuditEntry) -> None:
    facts = _facts(entry)
    columns = {
        "object_type": entry.object_type,
        "object_id": str(entry.object_id),
        "object_label": entry.object_label,
        "sequence": entry.sequence,
        "at": canonical_instant(entry.at),
        "actor": str(entry.actor_id),
        "actor_name": entry.actor_name,
        "action": entry.action,
        "reason": entry.reason,
    }
    for name, value in columns.items():
        if facts.get(name) != value:
            result.miss("column_changed", where, f"{name} is not what the entry's text says")


def _verify_heads(result: Verification, chains: dict[str, _Chain]) -> None:
    heads = {head.key: head for head in AuditHead.objects.iterator(CHUNK)}
    for key, head in heads.items():
        chain = chains.get(key)
        if chain is None:
            result.miss("entries_removed", key, f"{head.sequence} entries are gone")
        elif (chain.sequence, chain.hash) != (head.sequence, head.hash):
            result.miss(
                "tail_cut",
                key,
                f"the head says {head.sequence}, the chain ends at {chain.sequence}",
            )
    for key in chains.keys() - heads.keys():
        result.miss("head_removed", key, "its chain has no head")


def _verify_digests(result: Verification, chains: dict[str, _Chain]) -> None:
    number, previous = 0, GENESIS
    for digest in AuditDigest.objects.order_by("number").iterator(CHUNK):
        result.digests += 1
        where = f"digest {digest.number}"
        if digest.number != number + 1 or digest.previous_hash != previous:
            result.miss("digest_chain_broken", where, "does not follow from the one before it")
        if chain_hash(digest.previous_hash, digest.body) != digest.hash:
            result.miss("digest_changed", where, "its text does not give its hash")
        number, previous = digest.number, digest.hash
        _compare_digest(result, digest, chains)


def _compare_digest(result: Verification, digest: AuditDigest, chains: dict[str, _Chain]) -> None:
    try:
        heads = heads_in(digest)
    except (ValueError, KeyError):
        return  # already reported as changed
    for key, sequence, expected in heads:
        chain = chains.get(key)
        if chain is None or chain.sequence < sequence:
            result.miss(
                "entries_removed", key, f"digest {digest.number} has seen {sequence} entries"
            )
        elif chain.hashes[sequence - 1] != expected:
            result.miss("chain_rewritten", key, f"digest {digest.number} has seen another chain")


def _verify_rows(result: Verification, chains: dict[str, _Chain]) -> None:
    for model in apps.get_models():
        if issubclass(model, LabRecord):
            _compare_rows(result, model, chains)


def _defaults(model: type[LabRecord]) -> dict[str, Any]:
    """What a field must hold that came with a later version and is in no older entry."""
    defaults = {field: field.get_default() for field in model._meta.concrete_fields}
    return {
        field.attname: canonical_value(field, None if value is None else field.to_python(value))
        for field, value in defaults.items()
    }


def _compare_rows(result: Verification, model: type[LabRecord], chains: dict[str, _Chain]) -> None:
    label, seen = model._meta.label_lower, set()
    unset = _defaults(model)
    for row in model._base_manager.order_by("pk").iterator(CHUNK):
        result.rows += 1
        key = f"{label}:{row.pk}"
        seen.add(key)
        chain = chains.get(key)
        if chain is None:
            result.miss("row_without_entry", f"{key} ({row})", "nothing records how it came")
            continue
        now = snapshot(row)
        wrong = [name for name in now if now[name] != chain.state.get(name, unset.get(name))]
        if wrong:
            result.miss(
                "row_changed", f"{key} ({row})", f"{', '.join(wrong)}: not as last recorded"
            )
    for key in chains.keys() - seen:
        if key.startswith(label + ":"):
            result.miss("row_removed", key, "it has entries but no row")
