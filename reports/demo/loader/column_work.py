"""Work on the columns: fills, float sets, temperatures, holds, basket passes."""

from __future__ import annotations

from decimal import Decimal

from columns.models import Column, Hold
from columns.services import basket_passes, baths, fills, float_sets, floats, holds
from reports.demo import events as ev
from reports.demo.loader.ledgers import Ledger, play
from reports.demo.loader.sample_work import ready_again
from samples.models import Determination


@play.register
def _(event: ev.TemperatureTyped, ledger: Ledger) -> None:
    baths.record_bath_temperature(
        **ledger.by(event),
        bath=ledger.rows["bath"][event.bath],
        temperature_c=event.temperature_c,
        thermometer=ledger.rows["thermometer"][event.bath],
    )


@play.register
def _(event: ev.FillPlanned, ledger: Ledger) -> None:
    ledger.rows["fill"][event.fill] = fills.plan_fill(
        **ledger.by(event),
        column=ledger.rows["column"][event.column],
        pair=ledger.rows["pair"][event.pair],
        density_top_g_cm3=event.top_g_cm3,
        density_bottom_g_cm3=event.bottom_g_cm3,
    )


@play.register
def _(event: ev.FillPoured, ledger: Ledger) -> None:
    fill = ledger.rows["fill"][event.fill]
    ends = (Decimal(0), fill.column.scale_length_mm)
    if fill.column.scale_origin == Column.Origin.TOP:
        ends = ends[::-1]
    fills.pour_fill(**ledger.by(event), fill=fill, liquid_bottom_mm=ends[0], liquid_top_mm=ends[1])


@play.register
def _(event: ev.FloatPlaced, ledger: Ledger) -> None:
    floats.place_float(
        **ledger.by(event),
        calibration_float=ledger.rows["float"][event.label],
        fill=ledger.rows["fill"][event.fill],
    )


@play.register
def _(event: ev.FillLeftToSettle, ledger: Ledger) -> None:
    fills.settle_fill(**ledger.by(event), fill=ledger.rows["fill"][event.fill])


@play.register
def _(event: ev.FillOpened, ledger: Ledger) -> None:
    fills.open_fill(**ledger.by(event), fill=ledger.rows["fill"][event.fill])


@play.register
def _(event: ev.FillDrained, ledger: Ledger) -> None:
    fills.drain_fill(**ledger.by(event), fill=ledger.rows["fill"][event.fill], reason=event.reason)


@play.register
def _(event: ev.FloatQuarantined, ledger: Ledger) -> None:
    floats.quarantine_float(
        **ledger.by(event),
        calibration_float=ledger.rows["float"][event.label],
        reason=event.reason,
    )


@play.register
def _(event: ev.FloatSetRead, ledger: Ledger) -> None:
    glass = ledger.rows["float"]
    heights = [
        {"calibration_float": glass[label], "height_mm": height} for label, height in event.heights
    ]
    heights += [
        {"calibration_float": glass[label], "height_mm": None, "missing_reason": reason}
        for label, reason in event.missing
    ]
    fill = ledger.rows["fill"][event.fill]
    saved = float_sets.record_float_set(
        **ledger.by(event),
        fill=fill,
        bath_temperature_c=event.temperature_c,
        thermometer=ledger.rows["thermometer"][fill.column.bath.name],
        heights=heights,
    )
    ledger.rows["set"][event.float_set] = saved.float_set


@play.register
def _(event: ev.FloatSetAmended, ledger: Ledger) -> None:
    old = ledger.rows["set"][event.float_set]
    right = dict(event.heights)
    heights = [
        {
            "calibration_float": row.calibration_float,
            "height_mm": right.get(row.calibration_float.label, row.height_mm),
            "missing_reason": row.missing_reason,
        }
        for row in old.heights.select_related("calibration_float")
    ]
    saved = float_sets.amend_float_set(
        **ledger.by(event), float_set=old, heights=heights, reason=event.reason
    )
    ledger.rows["set"][event.float_set] = saved.float_set
    ready_again(ledger, event, Determination.objects.filter(prepared_at=event.at))


@play.register
def _(event: ev.HoldPlaced, ledger: Ledger) -> None:
    fill = ledger.rows["fill"][event.fill]
    if event.after_pass:  # the app itself held the fill when the pass was noted
        hold = Hold.objects.get(fill=fill, lifted_at=None, kind=Hold.Kind.FAST_PASS)
    else:
        hold = holds.place_hold(
            **ledger.by(event), fill=fill, reason=event.reason, lifts_when=event.lifted_when
        )
    ledger.rows["hold"][event.hold] = hold


@play.register
def _(event: ev.HoldLifted, ledger: Ledger) -> None:
    holds.lift_hold(**ledger.by(event), hold=ledger.rows["hold"][event.hold], reason=event.reason)


@play.register
def _(event: ev.BasketStarted, ledger: Ledger) -> None:
    ledger.rows["pass"][event.basket_pass] = basket_passes.start_basket_pass(
        **ledger.by(event), fill=ledger.rows["fill"][event.fill], travel_mm=event.travel_mm
    )


@play.register
def _(event: ev.BasketEnded, ledger: Ledger) -> None:
    basket_passes.finish_basket_pass(
        **ledger.by(event),
        basket_pass=ledger.rows["pass"][event.basket_pass],
        floats_out=event.floats_out,
        floats_in=event.floats_in,
        note=event.note,
    )
