"""One session at a column: float set, drops, waits, readings, the determination, its release."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal

from reports.demo import events
from reports.demo.bench import SET_MINUTES, Bench
from reports.demo.calendars import MINUTE
from reports.demo.readers import mistyped
from reports.demo.roster import Roster, office_hours
from reports.demo.sessions import LotPlan, Session

PIECES = 3
BETWEEN_READINGS = 0.9 * MINUTE
SECOND_LOOK = timedelta(hours=3)  # after the drop, for thin films
VOID_G_CM3 = -0.0013
CREEP_MM_PER_HOUR = 1.2
WITHHELD_DAY = timedelta(hours=34)  # of the newest determinations a part still waits
WITHHELD_SHARE = 0.5


@dataclass(frozen=True)
class Crew:
    dropper: str
    reader: str
    lead: str


def run_session(bench: Bench, roster: Roster, session: Session) -> None:
    at = session.start + (SET_MINUTES + 6) * MINUTE
    crew = _crew(bench, session)
    for lot in session.repeats:
        at = measure(bench, roster, crew, session.fill, lot, at, repeat=True) + 4 * MINUTE
    for lot in session.lots:
        register(bench, lot, at - 4 * MINUTE, session.technician)
        at = measure(bench, roster, crew, session.fill, lot, at) + 4 * MINUTE


def _crew(bench: Bench, session: Session) -> Crew:
    reader = session.partner if bench.rng.random() < 0.12 else session.technician
    return Crew(session.technician, reader, session.lead)


def register(bench: Bench, lot: LotPlan, at: datetime, by: str) -> None:
    grade = lot.grade
    own = bench.rng.normal(0.0, grade.true_lot_sd_g_cm3) if grade.true_lot_sd_g_cm3 else 0.0
    if lot.density_shift and lot.grade.code != "WR":
        own *= 0.2  # a planted lot lies where it was meant to
    bench.truth.lot_density[lot.code] = grade.true_mean_g_cm3 + own + lot.density_shift
    bench.grade_of_lot[lot.code] = grade
    bench.add(events.LotRegistered(at=at, by=by, lot=lot.code, grade=grade.code))
    if lot.trouble:
        bench.plant(f"lot {lot.trouble}", lot.code, lot.density_shift)


def measure(
    bench: Bench,
    roster: Roster,
    crew: Crew,
    fill: str,
    lot: LotPlan,
    at: datetime,
    *,
    repeat: bool = False,
) -> datetime:
    """Drop three, read three, prepare and release; returns when the bench is free again."""
    trouble = "" if repeat else lot.trouble
    pieces = drop_all(bench, crew.dropper, lot, fill, at, trouble)
    if trouble == "creep":
        return _creeping(bench, crew, pieces)
    at, counted, readers = _read_all(bench, crew, pieces, trouble)
    if not counted:
        return at
    at += float(bench.rng.uniform(1.5, 5)) * MINUTE
    because = lot.repeat_because if repeat else ""
    done = prepare(bench, crew.dropper, lot.code, counted, at, because)
    _release_or_wait(bench, roster, lot, done, readers, repeat)
    return at


def _release_or_wait(
    bench: Bench,
    roster: Roster,
    lot: LotPlan,
    done: events.DeterminationPrepared,
    readers: set[str],
    repeat: bool,
) -> None:
    """A void's determination is never released; one out of trend waits for its repeat."""
    if repeat and lot.trouble == "out of trend":
        first, first_readers = bench.waiting.pop(lot.code)
        released = release(bench, roster, done, readers, always=True)
        if released is not None:
            by_then = replace(first, at=released)
            release(bench, roster, by_then, first_readers, always=True)
    elif not repeat and lot.trouble == "out of trend":
        bench.waiting[lot.code] = done, readers
    elif repeat or lot.trouble != "void":
        release(bench, roster, done, readers)


def drop_all(
    bench: Bench, by: str, lot: LotPlan, fill: str, at: datetime, trouble: str = ""
) -> list[events.SpecimenDropped]:
    """All pieces of a lot go in together, and "Dropped now" is tapped once."""
    pieces = []
    for number in range(PIECES):
        density = None
        if trouble == "void" and number == 1:
            density = bench.truth.lot_density[lot.code] + VOID_G_CM3
        pieces.append(bench.drop(at, by, lot.code, fill, density=density))
    return pieces


def _read_all(
    bench: Bench, crew: Crew, pieces: list[events.SpecimenDropped], trouble: str
) -> tuple[datetime, list[str], set[str]]:
    """Each piece to its last reading; what counts, and who read."""
    at = pieces[0].at
    counted: list[str] = []
    readers: set[str] = set()
    for number, piece in enumerate(pieces):
        reader = crew.lead if trouble == "lead reads" and number == 2 else crew.reader
        readers.add(reader)
        wait = float(bench.rng.uniform(0.5, 5)) * MINUTE
        at = max(at + BETWEEN_READINGS, piece.ready_at + wait)
        own = trouble if number == 1 else ""
        at, last = _read_piece(bench, crew, reader, piece, at, own)
        if bench.lies_between_floats(last):
            counted.append(last.specimen)
    if bench.recipe_of(pieces[0].lot).readings_needed > 1:
        at = _second_readings(bench, crew, pieces, at)
    return at, counted, readers


def _second_readings(
    bench: Bench, crew: Crew, pieces: list[events.SpecimenDropped], at: datetime
) -> datetime:
    at = max(at + 15 * MINUTE, pieces[-1].at + SECOND_LOOK + 3 * MINUTE)
    for piece in pieces:
        bench.read(at, crew.reader, piece.specimen)
        at += BETWEEN_READINGS
    return at


def _read_piece(
    bench: Bench,
    crew: Crew,
    reader: str,
    piece: events.SpecimenDropped,
    at: datetime,
    trouble: str,
) -> tuple[datetime, events.ReadingMade]:
    """One piece to its final reading, by way of whatever befalls it."""
    if trouble == "bubble":
        bench.read(at, reader, piece.specimen, "bubble")
        at += float(bench.rng.uniform(11, 19)) * MINUTE
    if trouble == "early":
        early = piece.at + 0.45 * (piece.ready_at - piece.at)
        bench.read(early, reader, piece.specimen, "not_at_rest")
    if trouble == "cannot tell":
        bench.read(at, reader, piece.specimen, "cannot_tell")
        piece = bench.drop(at + 4 * MINUTE, crew.dropper, piece.lot, piece.fill)
        at = piece.ready_at + 2 * MINUTE
    if trouble == "undo":
        at = _undone(bench, reader, piece, at)
        return at, bench.read(at, reader, piece.specimen, seen=True)
    last = bench.read(at, reader, piece.specimen)
    if trouble == "slip":
        last = slip(bench, last, at + float(bench.rng.uniform(6, 20)) * MINUTE)
    return at, last


def _undone(bench: Bench, reader: str, piece: events.SpecimenDropped, at: datetime) -> datetime:
    wrong = bench.read(at, reader, piece.specimen)
    if wrong.height_mm is not None:
        typed = wrong.height_mm + Decimal("10")
        bench.retype(wrong, typed)
        bench.plant("reading undone", wrong.reading, 10.0)
    bench.add(events.ReadingUndone(at=at + timedelta(seconds=6), by=reader, reading=wrong.reading))
    return at + timedelta(seconds=24)


def slip(bench: Bench, reading: events.ReadingMade, found_at: datetime) -> events.ReadingMade:
    """A mistyped height, found and amended later with a reason."""
    right = reading.height_mm
    if right is None:
        return reading
    wrong = mistyped(right)
    changed = bench.retype(reading, wrong)
    bench.plant("reading mistyped", reading.reading, float(wrong - right))
    bench.add(
        events.ReadingAmended(
            at=found_at,
            by=reading.by,
            reading=reading.reading,
            height_mm=right,
            reason="Mistyped; the bench note has the right height.",
        )
    )
    return changed


def _creeping(bench: Bench, crew: Crew, pieces: list[events.SpecimenDropped]) -> datetime:
    """Pieces that take up liquid sink on and on; never at rest, so no density."""
    at = pieces[-1].ready_at
    bench.plant("creep", pieces[0].lot, CREEP_MM_PER_HOUR)
    for minutes in (4, 55, 110):
        for number, piece in enumerate(pieces):
            when = at + (minutes + number) * MINUTE
            made = bench.read(when, crew.reader, piece.specimen, "not_at_rest")
            hours = (when - piece.at) / timedelta(hours=1)
            sunk = Decimal(round(2 * CREEP_MM_PER_HOUR * hours)) / 2
            if made.height_mm is not None:
                bench.retype(made, made.height_mm - sunk)
    return at + 116 * MINUTE


def prepare(
    bench: Bench, by: str, lot: str, counted: list[str], at: datetime, because: str = ""
) -> events.DeterminationPrepared:
    event = events.DeterminationPrepared(
        at=at,
        by=by,
        determination=bench.key("determination"),
        lot=lot,
        specimens=tuple(counted),
        complete=len(counted) >= PIECES,
        repeat_because=because,
    )
    bench.add(event)
    return event


def release(
    bench: Bench,
    roster: Roster,
    prepared: events.DeterminationPrepared,
    readers: set[str],
    *,
    always: bool = False,
) -> datetime | None:
    """By a lead or the manager who read none of it; some of the newest still wait."""
    age = roster.now - prepared.at
    waits = not always and age < WITHHELD_DAY and bench.rng.random() < WITHHELD_SHARE
    if not prepared.complete or waits:
        return None
    at = prepared.at + float(bench.rng.uniform(25, 80)) * MINUTE
    who, at = _releaser(bench, roster, at, readers)
    if at >= roster.now:
        return None
    bench.add(events.DeterminationReleased(at=at, by=who, determination=prepared.determination))
    return at


def _releaser(
    bench: Bench, roster: Roster, at: datetime, readers: set[str]
) -> tuple[str, datetime]:
    if office_hours(at) and bench.rng.random() < 0.2:
        return "ingrid", at
    shift = roster.at(at)
    while True:
        shift = shift or roster.following(at) if at < roster.now else None
        if shift is None:
            return "ingrid", roster.now
        lead = bench.scenario.team(shift.team)[0].username
        if lead not in readers:
            return lead, max(at, shift.start + 20 * MINUTE)
        at, shift = shift.end + 25 * MINUTE, None
