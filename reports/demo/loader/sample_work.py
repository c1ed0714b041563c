"""Work on lots: pieces dropped and read, determinations prepared and released."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import QuerySet

from labsite.errors import Conflict
from reports.demo import events as ev
from reports.demo.loader.ledgers import Ledger, play
from samples.findings import LOOK, any_at
from samples.models import Determination
from samples.services import determinations, lots, readings, specimens

RELEASE_NOTE = "Looked at the findings; the result stands."


@play.register
def _(event: ev.LotRegistered, ledger: Ledger) -> None:
    ledger.rows["lot"][event.lot] = lots.register_lot(
        **ledger.by(event), code=event.lot, grade=ledger.rows["grade"][event.grade]
    )


@play.register
def _(event: ev.SpecimenDropped, ledger: Ledger) -> None:
    drop_together(ledger, [event])


def drop_together(ledger: Ledger, drops: Sequence[ev.SpecimenDropped]) -> None:
    first, lot = drops[0], ledger.rows["lot"][drops[0].lot]
    dropped = specimens.drop_specimens(
        **ledger.by(first),
        lot=lot,
        fill=ledger.rows["fill"][first.fill],
        shapes=[event.shape for event in drops],
    )
    for event, row in zip(drops, dropped, strict=True):
        ledger.rows["piece"][event.specimen] = row
        ledger.rows["lot of"][event.specimen] = lot
        ledger.rows["readings of"][event.specimen] = 0


@play.register
def _(event: ev.ReadingMade, ledger: Ledger) -> None:
    present = ledger.rows["readings of"]
    upper, lower = event.gap or (None, None)
    glass = ledger.rows["float"]
    ledger.rows["reading"][event.reading] = readings.record_reading(
        **ledger.by(event),
        specimen=ledger.rows["piece"][event.specimen],
        outcome=event.outcome,
        height_mm=event.height_mm,
        gap_upper_float=glass.get(upper),
        gap_lower_float=glass.get(lower),
        seen_readings=present[event.specimen],
    )
    ledger.rows["piece of"][event.reading] = event.specimen
    present[event.specimen] += 1


@play.register
def _(event: ev.ReadingUndone, ledger: Ledger) -> None:
    readings.withdraw_reading(**ledger.by(event), reading=ledger.rows["reading"][event.reading])
    ledger.rows["readings of"][ledger.rows["piece of"][event.reading]] -= 1


@play.register
def _(event: ev.ReadingAmended, ledger: Ledger) -> None:
    ledger.rows["reading"][event.reading] = readings.amend_reading(
        **ledger.by(event),
        reading=ledger.rows["reading"][event.reading],
        height_mm=event.height_mm,
        reason=event.reason,
    )
    lot = ledger.rows["lot of"][ledger.rows["piece of"][event.reading]]
    ready_again(ledger, event, Determination.objects.filter(lot=lot))


@play.register
def _(event: ev.DeterminationPrepared, ledger: Ledger) -> None:
    pieces = ledger.rows["piece"]
    prepared = determinations.prepare_determination(
        **ledger.by(event),
        lot=ledger.rows["lot"][event.lot],
        counted=[pieces[key] for key in event.specimens],
        repeat_because=event.repeat_because,
    )
    ledger.rows["determination"][event.determination] = prepared
    if event.complete:
        _mark_ready(ledger, event, prepared)


@play.register
def _(event: ev.DeterminationReleased, ledger: Ledger) -> None:
    first = ledger.rows["determination"][event.determination]
    issues = Determination.objects.filter(lot=first.lot, number=first.number)
    latest = issues.order_by("-issue").first()
    if latest.status != Determination.Status.READY:
        ledger.not_released.append(str(latest))
        return
    note = RELEASE_NOTE if any_at(LOOK, latest.finding_list) else ""
    determinations.release_determination(**ledger.by(event), determination=latest, note=note)


def ready_again(ledger: Ledger, event: ev.Event, touched: QuerySet[Determination]) -> None:
    """What became a draft because something below it was amended is marked ready again."""
    for draft in touched.filter(status=Determination.Status.DRAFT, amends__isnull=False):
        _mark_ready(ledger, event, draft)


def _mark_ready(ledger: Ledger, event: ev.Event, draft: Determination) -> None:
    """As a person does: one that the app bars (a spread too large, say) stays a draft."""
    try:
        determinations.mark_ready(**ledger.by(event), determination=draft)
    except Conflict as barred:
        if barred.code != "not_complete":
            raise
        ledger.drafts.append(f"{draft}: {barred.message}")
