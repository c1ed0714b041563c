"""The first day: people, baths, columns, floats, recipes, grades."""

from __future__ import annotations

from columns.services import baths, certificates, columns, floats, pairs, rules
from labsite.accounts.services import add_person, system_user
from reports.demo import events as ev
from reports.demo.loader.ledgers import Ledger, play
from samples.services import grades, recipes

REPEATABILITY_SOURCE = "repeated readings before the month began (invented)"


@play.register
def _(event: ev.PersonJoined, ledger: Ledger) -> None:
    people = ledger.rows["person"]
    actor = people.get(event.by) or system_user(clock=ledger.clock)
    if not people:
        rules.set_up_lab_rules(clock=ledger.clock)
    person = event.person
    people[person.username] = add_person(
        actor=actor,
        username=person.username,
        full_name=person.name,
        role=person.role,
        clock=ledger.clock,
    )


@play.register
def _(event: ev.RepeatabilityRecorded, ledger: Ledger) -> None:
    rules.set_reader_repeatability(
        **ledger.by(event),
        person=ledger.rows["person"][event.username],
        standard_deviation_mm=event.repeatability_mm,
        source=REPEATABILITY_SOURCE,
    )


@play.register
def _(event: ev.BathInstalled, ledger: Ledger) -> None:
    bath = event.bath
    row = baths.add_bath(
        **ledger.by(event),
        name=bath.name,
        setpoint_c=bath.setpoint_c,
        tolerance_c=bath.tolerance_c,
    )
    ledger.rows["bath"][bath.name] = row
    ledger.rows["thermometer"][bath.name] = baths.add_thermometer(
        **ledger.by(event),
        name=bath.thermometer,
        bath=row,
        certificate_number=bath.thermometer_certificate,
        issuer=bath.thermometer_issuer,
        expanded_uncertainty_c=bath.expanded_uncertainty_c,
        coverage_factor=bath.coverage_factor,
        issued_on=event.issued_on,
        valid_until=event.valid_until_on,
    )


@play.register
def _(event: ev.PairDefined, ledger: Ledger) -> None:
    pair = event.pair
    ledger.rows["pair"][pair.name] = pairs.add_liquid_pair(
        **ledger.by(event),
        name=pair.name,
        light_liquid=pair.light,
        heavy_liquid=pair.heavy,
        density_low_g_cm3=pair.min_g_cm3,
        density_high_g_cm3=pair.max_g_cm3,
        source=pair.source,
    )


@play.register
def _(event: ev.ColumnInstalled, ledger: Ledger) -> None:
    column = event.column
    ledger.rows["column"][column.name] = columns.add_column(
        **ledger.by(event),
        name=column.name,
        bath=ledger.rows["bath"][column.bath],
        place=column.place,
        scale_origin=column.origin,
        scale_length_mm=column.length_mm,
        scale_division_mm=column.division_mm,
        readable_low_mm=column.readable_low_mm,
        readable_high_mm=column.readable_high_mm,
        bore_mm=column.bore_mm,
    )


@play.register
def _(event: ev.RecipeWritten, ledger: Ledger) -> None:
    recipe = event.recipe
    ledger.rows["recipe"][recipe.name] = recipes.add_recipe(
        **ledger.by(event),
        name=recipe.name,
        form=recipe.form,
        thickness_mm=recipe.thickness_mm,
        wait_minutes=recipe.wait_minutes if recipe.own_wait else None,
        instructions=recipe.text,
    )


@play.register
def _(event: ev.GradeDefined, ledger: Ledger) -> None:
    grade = event.grade
    ledger.rows["grade"][grade.code] = grades.add_grade(
        **ledger.by(event),
        name=grade.name,
        recipe=ledger.rows["recipe"][grade.recipe],
        expected_density_g_cm3=grade.target_g_cm3,
        lower_limit_g_cm3=grade.lower_g_cm3,
        upper_limit_g_cm3=grade.upper_g_cm3,
        spread_limit_g_cm3=grade.spread_limit_g_cm3,
        expansion_per_k=grade.expansion_per_k,
        is_control_material=grade.is_plaque,
    )


@play.register
def _(event: ev.FloatRegistered, ledger: Ledger) -> None:
    ledger.rows["float"][event.label] = floats.register_float(**ledger.by(event), label=event.label)


@play.register
def _(event: ev.CertificateRecorded, ledger: Ledger) -> None:
    certificates.add_certificate(
        **ledger.by(event),
        calibration_float=ledger.rows["float"][event.label],
        number=event.number,
        issuer=event.issuer,
        density_g_cm3=event.density_g_cm3,
        expanded_uncertainty_g_cm3=event.expanded_uncertainty_g_cm3,
        coverage_factor=event.coverage_factor,
        common_standard_uncertainty_g_cm3=event.common_standard_uncertainty_g_cm3,
        issued_on=event.issued_on,
        valid_until=event.valid_until_on,
    )
