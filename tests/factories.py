"""Plain builders whose defaults are valid. They call services, so that history is real."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from columns.models import Bath, CalibrationFloat, Certificate, Column, Fill, LiquidPair
from columns.services.baths import add_bath
from columns.services.certificates import add_certificate
from columns.services.columns import add_column
from columns.services.fills import open_fill, plan_fill, pour_fill, settle_fill
from columns.services.float_sets import SavedSet, record_float_set
from columns.services.floats import place_float, register_float
from columns.services.pairs import add_liquid_pair
from labsite.accounts import audit_actions
from labsite.accounts.models import User
from labsite.accounts.roles import Role
from labsite.accounts.services import system_user
from labsite.audit.services import change
from labsite.clock import SYSTEM_CLOCK, FixedClock
from samples.services import determinations, grades, lots, readings, recipes, specimens


def make_person(*, username: str, role: str = Role.TECHNICIAN, **fields: Any) -> User:
    password = fields.pop("password", "correct horse battery")
    fields.setdefault("full_name", username.title())
    person = User(username=username, role=role, **fields)
    person.set_password(password)
    with change(actor=system_user()) as log:
        log.add(person, audit_actions.PERSON_ADDED)
    return person


# Grades and lots


def make_recipe(*, actor: User, name: str = "Pellet, as received", **fields: Any) -> Any:
    fields.setdefault("form", "pellet")
    return recipes.add_recipe(actor=actor, name=name, **fields)


def make_grade(*, actor: User, name: str = "Wren film", recipe: Any = None, **fields: Any) -> Any:
    fields.setdefault("expected_density_g_cm3", Decimal("0.9182"))
    fields.setdefault("lower_limit_g_cm3", Decimal("0.9162"))
    fields.setdefault("upper_limit_g_cm3", Decimal("0.9202"))
    fields.setdefault("spread_limit_g_cm3", Decimal("0.0010"))
    recipe = recipe or make_recipe(actor=actor, name=f"{name} recipe")
    return grades.add_grade(actor=actor, name=name, recipe=recipe, **fields)


def make_lot(*, actor: User, grade: Any, code: str = "WR-2211", **fields: Any) -> Any:
    return lots.register_lot(actor=actor, code=code, grade=grade, **fields)


# Baths, columns, fills and floats

# density in g/cm³ and height above the bottom in mm, lightest first
NINE_FLOATS = (
    ("0.9051", "640.0"),
    ("0.9102", "568.5"),
    ("0.9149", "502.0"),
    ("0.9201", "429.0"),
    ("0.9250", "360.0"),
    ("0.9299", "291.0"),
    ("0.9352", "216.5"),
    ("0.9400", "149.0"),
    ("0.9449", "80.0"),
)


def clock_at(at: datetime) -> FixedClock:
    return FixedClock(at, source="test")


def make_bath(*, actor: User, name: str = "Bath 1", **fields: Any) -> Bath:
    return add_bath(actor=actor, name=name, **fields)


def make_column(
    *, actor: User, name: str = "Ash", bath: Bath | None = None, **fields: Any
) -> Column:
    bath = bath or Bath.objects.first() or make_bath(actor=actor)
    return add_column(actor=actor, name=name, bath=bath, **fields)


def make_pair(*, actor: User, name: str = "2-propanol / water", **fields: Any) -> LiquidPair:
    fields.setdefault("light_liquid", "2-propanol")
    fields.setdefault("heavy_liquid", "water")
    fields.setdefault("density_low_g_cm3", Decimal("0.79"))
    fields.setdefault("density_high_g_cm3", Decimal("1.00"))
    return add_liquid_pair(actor=actor, name=name, **fields)


def make_certificate(
    *, actor: User, calibration_float: CalibrationFloat, **fields: Any
) -> Certificate:
    fields.setdefault("number", f"HF-{calibration_float.label}")
    fields.setdefault("issuer", "Harrow Fell Calibration")
    fields.setdefault("density_g_cm3", Decimal("0.9201"))
    fields.setdefault("expanded_uncertainty_g_cm3", Decimal("0.0001"))
    fields.setdefault("issued_on", date(2020, 1, 1))
    fields.setdefault("valid_until", date(2099, 12, 31))
    return add_certificate(actor=actor, calibration_float=calibration_float, **fields)


def make_float(
    *, actor: User, label: str = "F-101", density: str = "0.9201", **certificate: Any
) -> CalibrationFloat:
    """A float with a certificate that is valid for long."""
    each = register_float(actor=actor, label=label)
    make_certificate(
        actor=actor, calibration_float=each, density_g_cm3=Decimal(density), **certificate
    )
    return each


def make_planned_fill(
    *, actor: User, column: Column | None = None, pair: LiquidPair | None = None, **fields: Any
) -> Fill:
    fields.setdefault("density_top_g_cm3", Decimal("0.9000"))
    fields.setdefault("density_bottom_g_cm3", Decimal("0.9500"))
    column = column or make_column(actor=actor)
    pair = pair or LiquidPair.objects.first() or make_pair(actor=actor)
    return plan_fill(actor=actor, column=column, pair=pair, **fields)


def make_settling_fill(
    *,
    actor: User,
    at: datetime,
    column: Column | None = None,
    prefix: str = "F-1",
    floats: tuple[tuple[str, str], ...] = NINE_FLOATS,
) -> Fill:
    """A fill poured at `at` with its floats lowered an hour later."""
    fill = make_planned_fill(actor=actor, column=column)
    pour_fill(actor=actor, fill=fill, clock=clock_at(at))
    later = clock_at(at + timedelta(hours=1))
    with change(actor=actor, clock=later):  # one transaction: the entries are written at once
        for number, (density, _height) in enumerate(floats, start=1):
            each = make_float(actor=actor, label=f"{prefix}{number:02d}", density=density)
            place_float(actor=actor, calibration_float=each, fill=fill, clock=later)
    return settle_fill(actor=actor, fill=fill, clock=later)


def heights_of(
    fill: Fill,
    *,
    shift_mm: str = "0",
    floats: tuple[tuple[str, str], ...] = NINE_FLOATS,
) -> list[dict[str, Any]]:
    """The lines of a float set, lightest first, all shifted by `shift_mm` up the column."""
    placements = fill.placements.filter(removed_at__isnull=True).select_related("calibration_float")
    column = fill.column
    above = [Decimal(height) + Decimal(shift_mm) for _density, height in floats]
    return [
        {
            "calibration_float": placement.calibration_float,
            "height_mm": column.above_bottom_mm(height),  # its own inverse
        }
        for placement, height in zip(
            sorted(placements, key=lambda each: each.calibration_float.label), above, strict=True
        )
    ]


def make_float_set(
    *, actor: User, fill: Fill, at: datetime, temperature: str = "23.0", **fields: Any
) -> SavedSet:
    fields.setdefault("heights", heights_of(fill))
    return record_float_set(
        actor=actor,
        fill=fill,
        bath_temperature_c=Decimal(temperature),
        clock=clock_at(at),
        **fields,
    )


def make_open_fill(
    *,
    actor: User,
    at: datetime | None = None,
    column: Column | None = None,
    reader: User | None = None,
    prefix: str = "F-1",
) -> Fill:
    """A fill opened at `at` (now), with nine floats and a passing set of five minutes earlier."""
    at = at or SYSTEM_CLOCK.now()
    fill = make_settling_fill(actor=actor, at=at - timedelta(days=2), column=column, prefix=prefix)
    for before in (timedelta(hours=4), timedelta(minutes=5)):
        make_float_set(actor=reader or actor, fill=fill, at=at - before)
    return open_fill(actor=actor, fill=fill, clock=clock_at(at))


# Specimens, readings and determinations: 455 mm is 0.91825 g/cm³ by the nine floats.


def make_specimens(
    *, actor: User, lot: Any, fill: Fill, count: int = 3, at: datetime | None = None, **fields: Any
) -> list[Any]:
    """Pieces dropped at `at` (half an hour ago): ready to be read now."""
    at = at or SYSTEM_CLOCK.now() - timedelta(minutes=30)
    shapes = fields.pop("shapes", ["square", "triangle", "bar", "disc", "notched", "tee"][:count])
    return specimens.drop_specimens(
        actor=actor, lot=lot, fill=fill, shapes=shapes, clock=clock_at(at), **fields
    )


def make_reading(*, actor: User, specimen: Any, height_mm: str | None = "455.0", **f: Any) -> Any:
    f.setdefault("outcome", "at_rest")
    height = None if height_mm is None else Decimal(height_mm)
    return readings.record_reading(actor=actor, specimen=specimen, height_mm=height, **f)


def make_read_lot(
    *,
    actor: User,
    lot: Any,
    fill: Fill,
    heights: tuple[str, ...] = ("455.0", "456.0", "454.5"),
    reader: User | None = None,
) -> list[Any]:
    """Pieces dropped and read at these heights; gives their readings."""
    pieces = make_specimens(actor=actor, lot=lot, fill=fill, count=len(heights))
    return [
        make_reading(actor=reader or actor, specimen=piece, height_mm=height)
        for piece, height in zip(pieces, heights, strict=True)
    ]


def make_determination(*, actor: User, lot: Any, ready: bool = True, **fields: Any) -> Any:
    found = determinations.prepare_determination(actor=actor, lot=lot, **fields)
    return determinations.mark_ready(actor=actor, determination=found) if ready else found
