"""Replays the demo's month through the same services that people use, with the clock set back.

Each entry of the history says so: its clock is "demo loader". The load is all or nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from functools import singledispatchmethod
from typing import Any

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from columns.models import Bath, CalibrationFloat, Column, Fill, Hold, LiquidPair
from columns.services import (
    basket_passes,
    baths,
    certificates,
    columns,
    fills,
    float_sets,
    floats,
    holds,
    pairs,
    rules,
)
from labsite.accounts.models import User
from labsite.accounts.services import add_person, system_user
from labsite.clock import FixedClock
from labsite.errors import Conflict
from reports.demo import events as ev
from reports.demo.simulator import Month
from samples.findings import LOOK, any_at
from samples.models import Determination, Grade, Lot, PreparationRecipe
from samples.services import determinations, grades, lots, readings, recipes, specimens

CLOCK_SOURCE = "demo loader"
# What makes a database more than an empty one.
LAB_TABLES = (Bath, Column, LiquidPair, CalibrationFloat, Fill, PreparationRecipe, Grade, Lot)
RELEASE_NOTE = "Looked at the findings; the result stands."
REPEATABILITY_SOURCE = "repeated readings before the month began (invented)"

Rows = dict[str, Any]
Progress = Callable[[int, int, datetime], None]


def load_month(month: Month, *, progress: Progress | None = None) -> Loader:
    """Write the month's events into an empty database.

    Raises Conflict when the database holds people or lab data already; whatever a service
    refuses undoes the whole load.
    """
    refuse_used_database()
    with transaction.atomic():
        loader = Loader()
        for number, event in enumerate(month.events, start=1):
            loader.play(event)
            if progress is not None:
                progress(number, len(month.events), event.at)
    return loader


def refuse_used_database() -> None:
    used = [model._meta.label for model in LAB_TABLES if model._base_manager.exists()]
    if User.objects.filter(is_system=False).exists():
        used.append(User._meta.label)
    if used:
        raise Conflict(
            "database_in_use",
            _(
                "The demo lab loads into an empty database only; this one has rows in %(tables)s. "
                "Give RESTHEIGHT_DATA_DIR or DATABASE_URL another place for the demo."
            )
            % {"tables": ", ".join(used)},
        )


class Loader:
    """Keeps the rows that later events refer to, by their keys in the events."""

    def __init__(self) -> None:
        self.rows: dict[str, Rows] = defaultdict(dict)
        self.clock = FixedClock(datetime.min, CLOCK_SOURCE)
        # what the app itself would not let people do, told at the end of the load
        self.drafts: list[str] = []
        self.not_released: list[str] = []

    def play(self, event: ev.Event) -> None:
        self.clock = FixedClock(event.at, CLOCK_SOURCE)
        self._play(event)

    def by(self, event: ev.Event) -> dict[str, Any]:
        """Who does it and when, as every service takes it."""
        return {"actor": self.rows["person"][event.by], "clock": self.clock}

    @singledispatchmethod
    def _play(self, event: ev.Event) -> None:
        raise TypeError(f"no handler for {type(event).__name__}")

    # The first day

    @_play.register
    def _(self, event: ev.PersonJoined) -> None:
        people = self.rows["person"]
        actor = people.get(event.by) or system_user(clock=self.clock)
        if not people:
            rules.set_up_lab_rules(clock=self.clock)
        person = event.person
        people[person.username] = add_person(
            actor=actor,
            username=person.username,
            full_name=person.name,
            role=person.role,
            clock=self.clock,
        )

    @_play.register
    def _(self, event: ev.RepeatabilityRecorded) -> None:
        rules.set_reader_repeatability(
            **self.by(event),
            person=self.rows["person"][event.username],
            standard_deviation_mm=event.repeatability_mm,
            source=REPEATABILITY_SOURCE,
        )

    @_play.register
    def _(self, event: ev.BathInstalled) -> None:
        bath = event.bath
        row = baths.add_bath(
            **self.by(event),
            name=bath.name,
            setpoint_c=bath.setpoint_c,
            tolerance_c=bath.tolerance_c,
        )
        self.rows["bath"][bath.name] = row
        self.rows["thermometer"][bath.name] = baths.add_thermometer(
            **self.by(event),
            name=bath.thermometer,
            bath=row,
            certificate_number=bath.thermometer_certificate,
            issuer=bath.thermometer_issuer,
            expanded_uncertainty_c=bath.expanded_uncertainty_c,
            coverage_factor=bath.coverage_factor,
            issued_on=event.issued_on,
            valid_until=event.valid_until_on,
        )

    @_play.register
    def _(self, event: ev.PairDefined) -> None:
        pair = event.pair
        self.rows["pair"][pair.name] = pairs.add_liquid_pair(
            **self.by(event),
            name=pair.name,
            light_liquid=pair.light,
            heavy_liquid=pair.heavy,
            density_low_g_cm3=pair.min_g_cm3,
            density_high_g_cm3=pair.max_g_cm3,
            source=pair.source,
        )

    @_play.register
    def _(self, event: ev.ColumnInstalled) -> None:
        column = event.column
        self.rows["column"][column.name] = columns.add_column(
            **self.by(event),
            name=column.name,
            bath=self.rows["bath"][column.bath],
            place=column.place,
            scale_origin=column.origin,
            scale_length_mm=column.length_mm,
            scale_division_mm=column.division_mm,
            readable_low_mm=column.readable_low_mm,
            readable_high_mm=column.readable_high_mm,
            bore_mm=column.bore_mm,
        )

    @_play.register
    def _(self, event: ev.RecipeWritten) -> None:
        recipe = event.recipe
        self.rows["recipe"][recipe.name] = recipes.add_recipe(
            **self.by(event),
            name=recipe.name,
            form=recipe.form,
            thickness_mm=recipe.thickness_mm,
            wait_minutes=recipe.wait_minutes if recipe.own_wait else None,
            instructions=recipe.text,
        )

    @_play.register
    def _(self, event: ev.GradeDefined) -> None:
        grade = event.grade
        self.rows["grade"][grade.code] = grades.add_grade(
            **self.by(event),
            name=grade.name,
            recipe=self.rows["recipe"][grade.recipe],
            expected_density_g_cm3=grade.target_g_cm3,
            lower_limit_g_cm3=grade.lower_g_cm3,
            upper_limit_g_cm3=grade.upper_g_cm3,
            spread_limit_g_cm3=grade.spread_limit_g_cm3,
            expansion_per_k=grade.expansion_per_k,
            is_control_material=grade.is_plaque,
        )

    # Baths and lots

    @_play.register
    def _(self, event: ev.TemperatureTyped) -> None:
        baths.record_bath_temperature(
            **self.by(event),
            bath=self.rows["bath"][event.bath],
            temperature_c=event.temperature_c,
            thermometer=self.rows["thermometer"][event.bath],
        )

    @_play.register
    def _(self, event: ev.LotRegistered) -> None:
        self.rows["lot"][event.lot] = lots.register_lot(
            **self.by(event), code=event.lot, grade=self.rows["grade"][event.grade]
        )

    # Floats and fills

    @_play.register
    def _(self, event: ev.FloatRegistered) -> None:
        self.rows["float"][event.label] = floats.register_float(**self.by(event), label=event.label)

    @_play.register
    def _(self, event: ev.CertificateRecorded) -> None:
        certificates.add_certificate(
            **self.by(event),
            calibration_float=self.rows["float"][event.label],
            number=event.number,
            issuer=event.issuer,
            density_g_cm3=event.density_g_cm3,
            expanded_uncertainty_g_cm3=event.expanded_uncertainty_g_cm3,
            coverage_factor=event.coverage_factor,
            common_standard_uncertainty_g_cm3=event.common_standard_uncertainty_g_cm3,
            issued_on=event.issued_on,
            valid_until=event.valid_until_on,
        )

    @_play.register
    def _(self, event: ev.FillPlanned) -> None:
        self.rows["fill"][event.fill] = fills.plan_fill(
            **self.by(event),
            column=self.rows["column"][event.column],
            pair=self.rows["pair"][event.pair],
            density_top_g_cm3=event.top_g_cm3,
            density_bottom_g_cm3=event.bottom_g_cm3,
        )

    @_play.register
    def _(self, event: ev.FillPoured) -> None:
        fill = self.rows["fill"][event.fill]
        ends = (Decimal(0), fill.column.scale_length_mm)
        if fill.column.scale_origin == Column.Origin.TOP:
            ends = ends[::-1]
        fills.pour_fill(
            **self.by(event), fill=fill, liquid_bottom_mm=ends[0], liquid_top_mm=ends[1]
        )

    @_play.register
    def _(self, event: ev.FloatPlaced) -> None:
        floats.place_float(
            **self.by(event),
            calibration_float=self.rows["float"][event.label],
            fill=self.rows["fill"][event.fill],
        )

    @_play.register
    def _(self, event: ev.FillLeftToSettle) -> None:
        fills.settle_fill(**self.by(event), fill=self.rows["fill"][event.fill])

    @_play.register
    def _(self, event: ev.FillOpened) -> None:
        fills.open_fill(**self.by(event), fill=self.rows["fill"][event.fill])

    @_play.register
    def _(self, event: ev.FillDrained) -> None:
        fills.drain_fill(**self.by(event), fill=self.rows["fill"][event.fill], reason=event.reason)

    @_play.register
    def _(self, event: ev.FloatQuarantined) -> None:
        floats.quarantine_float(
            **self.by(event),
            calibration_float=self.rows["float"][event.label],
            reason=event.reason,
        )

    # Float sets

    @_play.register
    def _(self, event: ev.FloatSetRead) -> None:
        glass = self.rows["float"]
        heights = [
            {"calibration_float": glass[label], "height_mm": height}
            for label, height in event.heights
        ]
        heights += [
            {"calibration_float": glass[label], "height_mm": None, "missing_reason": reason}
            for label, reason in event.missing
        ]
        fill = self.rows["fill"][event.fill]
        saved = float_sets.record_float_set(
            **self.by(event),
            fill=fill,
            bath_temperature_c=event.temperature_c,
            thermometer=self.rows["thermometer"][fill.column.bath.name],
            heights=heights,
        )
        self.rows["set"][event.float_set] = saved.float_set

    @_play.register
    def _(self, event: ev.FloatSetAmended) -> None:
        old = self.rows["set"][event.float_set]
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
            **self.by(event), float_set=old, heights=heights, reason=event.reason
        )
        self.rows["set"][event.float_set] = saved.float_set
        self._ready_again(event, Determination.objects.filter(prepared_at=event.at))

    # Holds and basket passes

    @_play.register
    def _(self, event: ev.HoldPlaced) -> None:
        fill = self.rows["fill"][event.fill]
        if event.after_pass:  # the app itself held the fill when the pass was noted
            hold = Hold.objects.get(fill=fill, lifted_at=None, kind=Hold.Kind.FAST_PASS)
        else:
            hold = holds.place_hold(
                **self.by(event), fill=fill, reason=event.reason, lifts_when=event.lifted_when
            )
        self.rows["hold"][event.hold] = hold

    @_play.register
    def _(self, event: ev.HoldLifted) -> None:
        holds.lift_hold(**self.by(event), hold=self.rows["hold"][event.hold], reason=event.reason)

    @_play.register
    def _(self, event: ev.BasketStarted) -> None:
        self.rows["pass"][event.basket_pass] = basket_passes.start_basket_pass(
            **self.by(event), fill=self.rows["fill"][event.fill], travel_mm=event.travel_mm
        )

    @_play.register
    def _(self, event: ev.BasketEnded) -> None:
        basket_passes.finish_basket_pass(
            **self.by(event),
            basket_pass=self.rows["pass"][event.basket_pass],
            floats_out=event.floats_out,
            floats_in=event.floats_in,
            note=event.note,
        )

    # Pieces and readings

    @_play.register
    def _(self, event: ev.SpecimenDropped) -> None:
        self.rows["piece"][event.specimen] = specimens.drop_specimen(
            **self.by(event),
            lot=self.rows["lot"][event.lot],
            fill=self.rows["fill"][event.fill],
            shape=event.shape,
        )
        self.rows["lot of"][event.specimen] = self.rows["lot"][event.lot]
        self.rows["readings of"][event.specimen] = 0

    @_play.register
    def _(self, event: ev.ReadingMade) -> None:
        present = self.rows["readings of"]
        upper, lower = event.gap or (None, None)
        glass = self.rows["float"]
        self.rows["reading"][event.reading] = readings.record_reading(
            **self.by(event),
            specimen=self.rows["piece"][event.specimen],
            outcome=event.outcome,
            height_mm=event.height_mm,
            gap_upper_float=glass.get(upper),
            gap_lower_float=glass.get(lower),
            seen_readings=present[event.specimen],
        )
        self.rows["piece of"][event.reading] = event.specimen
        present[event.specimen] += 1

    @_play.register
    def _(self, event: ev.ReadingUndone) -> None:
        readings.withdraw_reading(**self.by(event), reading=self.rows["reading"][event.reading])
        self.rows["readings of"][self.rows["piece of"][event.reading]] -= 1

    @_play.register
    def _(self, event: ev.ReadingAmended) -> None:
        self.rows["reading"][event.reading] = readings.amend_reading(
            **self.by(event),
            reading=self.rows["reading"][event.reading],
            height_mm=event.height_mm,
            reason=event.reason,
        )
        lot = self.rows["lot of"][self.rows["piece of"][event.reading]]
        self._ready_again(event, Determination.objects.filter(lot=lot))

    # Determinations

    @_play.register
    def _(self, event: ev.DeterminationPrepared) -> None:
        pieces = self.rows["piece"]
        prepared = determinations.prepare_determination(
            **self.by(event),
            lot=self.rows["lot"][event.lot],
            counted=[pieces[key] for key in event.specimens],
            repeat_because=event.repeat_because,
        )
        self.rows["determination"][event.determination] = prepared
        if event.complete:
            self._mark_ready(event, prepared)

    @_play.register
    def _(self, event: ev.DeterminationReleased) -> None:
        first = self.rows["determination"][event.determination]
        issues = Determination.objects.filter(lot=first.lot, number=first.number)
        latest = issues.order_by("-issue").first()
        if latest.status != Determination.Status.READY:
            self.not_released.append(str(latest))
            return
        note = RELEASE_NOTE if any_at(LOOK, latest.finding_list) else ""
        determinations.release_determination(**self.by(event), determination=latest, note=note)

    def _ready_again(self, event: ev.Event, touched: QuerySet[Determination]) -> None:
        """What became a draft because something below it was amended is marked ready again."""
        for draft in touched.filter(status=Determination.Status.DRAFT, amends__isnull=False):
            self._mark_ready(event, draft)

    def _mark_ready(self, event: ev.Event, draft: Determination) -> None:
        """As a person does: one that the app bars (a spread too large, say) stays a draft."""
        try:
            determinations.mark_ready(**self.by(event), determination=draft)
        except Conflict as barred:
            if barred.code != "not_complete":
                raise
            self.drafts.append(f"{draft}: {barred.message}")
