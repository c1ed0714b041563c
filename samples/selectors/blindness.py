"""Who may not see which densities yet, so that nobody reads what they expect to read.

A person is blind to a lot while it has an unread specimen in a column and the person dropped or
took over one of the unread ones, or has already read a specimen of this lot. While blind, its
heights, densities and determinations are masked for that person. docs/measuring-a-lot.md tells
the rule and why.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, Q, Subquery

from columns.models import Fill
from labsite.audit import masking
from samples.models import (
    DensityResult,
    Determination,
    DeterminationPart,
    Lot,
    Reading,
    Specimen,
)
from samples.selectors.specimens import FINAL_OUTCOMES, unread


def blind_lots(person: Any, lots: Iterable[Any] | None = None) -> set[UUID]:
    """Ids of the lots (of `lots`, or of all) to which the person is blind; one query."""
    specimens = unread()
    if lots is not None:
        specimens = specimens.filter(lot__in=list(lots))
    mine = Q(taken_over_by=person) | Q(taken_over_by__isnull=True, dropped_by=person)
    has_read = Reading.objects.filter(
        specimen__lot=OuterRef("lot"), read_by=person, withdrawn_at__isnull=True
    )
    return set(specimens.filter(mine | Exists(has_read)).values_list("lot_id", flat=True))


def is_blind(person: Any, lot: Lot) -> bool:
    return bool(blind_lots(person, [lot.pk]))


@dataclass(frozen=True)
class LotKnowledge:
    """What a person about to read a specimen of a lot may have seen of it."""

    person: Any
    unread: tuple[Specimen, ...]
    readings: tuple[Reading, ...]

    @property
    def is_blind(self) -> bool:
        """As `blind_lots` has it."""
        mine = any(specimen.reader_id == self.person.pk for specimen in self.unread)
        began = any(
            reading.read_by_id == self.person.pk and reading.withdrawn_at is None
            for reading in self.readings
        )
        return bool(self.unread) and (mine or began)

    def left_after(self, reading: Reading) -> int:
        """How many specimens are still to be read after this reading of one of them."""
        is_last = is_final(reading)
        return sum(not (is_last and s.pk == reading.specimen_id) for s in self.unread)

    def present_of(self, specimen_id: UUID) -> list[Reading]:
        return [r for r in self._standing() if r.specimen_id == specimen_id]

    def is_read(self, specimen_id: UUID) -> bool:
        """Whether the last word on the specimen was said."""
        return any(is_final(reading) for reading in self.present_of(specimen_id))

    def has_seen(self, specimen_id: UUID) -> bool:
        """Whether the person has seen a density that could lead the eye.

        That of the same specimen, undone or to be checked (the second look at a film is no
        check), or any of the lot while not blind to it.
        """
        own = [r for r in self.readings if r.specimen_id == specimen_id and _gave_density(r)]
        if any(self._was_read_by_person(reading) for reading in own):
            return True
        return not self.is_blind and any(_gave_density(r) for r in self._standing())

    def _standing(self) -> list[Reading]:
        return [reading for reading in self.readings if _stands(reading)]

    def _was_read_by_person(self, reading: Reading) -> bool:
        undone = reading.withdrawn_at is not None
        return reading.read_by_id == self.person.pk and (undone or is_final(reading))


def _gave_density(reading: Reading) -> bool:
    return reading.outcome == Reading.Outcome.AT_REST


def is_final(reading: Reading) -> bool:
    if reading.outcome in FINAL_OUTCOMES:
        return True
    again = reading.specimen.second_look_at
    return _gave_density(reading) and (again is None or reading.read_at >= again)


def lot_knowledge(person: Any, lot: Lot) -> LotKnowledge:
    """In two plain queries, since every saved reading asks: `unread` in memory."""
    last_release = (
        Determination.objects.filter(lot=OuterRef("lot"), status=Determination.Status.RELEASED)
        .order_by("-released_at")
        .values("released_at")[:1]
    )
    specimens = Specimen.objects.filter(lot=lot).annotate(
        is_live=Q(removed_at__isnull=True, fill__state__in=Fill.LIVE),
        last_release_at=Subquery(last_release),
    )
    by_id = {specimen.pk: specimen for specimen in specimens}
    readings = list(
        Reading.objects.filter(specimen__lot=lot)
        .select_related("read_by")
        .order_by("read_at", "created_at")
    )
    for reading in readings:
        reading.specimen = by_id[reading.specimen_id]
    read = {r.specimen_id for r in readings if _stands(r) and is_final(r)}
    left = (s for s in by_id.values() if s.is_live and s.pk not in read and _is_after_release(s))
    return LotKnowledge(person, tuple(left), tuple(readings))


def _stands(reading: Reading) -> bool:
    return reading.withdrawn_at is None and reading.replaced_at is None


def _is_after_release(specimen: Any) -> bool:
    return specimen.last_release_at is None or specimen.last_release_at < specimen.dropped_at


def _hidden(model: Any, path: str) -> Any:
    """Hide entries of a lot's measurements from people who are blind to the lot."""

    def hidden_entries(person: Any, entries: Iterable[Any]) -> set[int]:
        entries = list(entries)
        rows = model.objects.filter(pk__in={entry.object_id for entry in entries})
        lot_of = dict(rows.values_list("pk", path))
        blind = blind_lots(person, set(lot_of.values())) if lot_of else set()
        return {entry.pk for entry in entries if lot_of.get(entry.object_id) in blind}

    masking.register(model._meta.label_lower, hidden_entries)


def hide_in_history() -> None:
    """Called once at the start: these kinds of entries hold heights or densities."""
    _hidden(Reading, "specimen__lot_id")
    _hidden(DensityResult, "reading__specimen__lot_id")
    _hidden(Determination, "lot_id")
    _hidden(DeterminationPart, "determination__lot_id")
