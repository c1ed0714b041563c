"""Determinations: prepared, ready, released by somebody else, amended; and what bars each step."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from columns.models import CalibrationFloat, Certificate, Fill, FloatSet
from columns.services.certificates import change_certificate
from columns.services.float_sets import amend_float_set
from columns.services.floats import quarantine_float
from columns.services.holds import place_hold
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from labsite.audit.verification import verify
from labsite.clock import SYSTEM_CLOCK
from labsite.errors import Conflict, NotPermitted, RuleViolation
from samples.models import Determination, Grade, Lot
from samples.selectors.determinations import touched_by_float_set
from samples.services.determinations import (
    amend_determination,
    mark_ready,
    prepare_determination,
    release_determination,
)
from samples.services.grades import change_grade
from samples.services.readings import amend_reading
from tests import factories

pytestmark = pytest.mark.django_db

# what the three default heights say between 0.9201 at 429 mm and 0.9149 at 502 mm
HEIGHTS = ("455.0", "456.0", "454.5")


def density_at(height: str) -> Fraction:
    return Fraction("0.9201") - Fraction("0.0052") * (Fraction(height) - 429) / 73


@pytest.fixture
def readings(technician: User, lot: Lot, fill: Fill) -> list[Any]:
    return factories.make_read_lot(actor=technician, lot=lot, fill=fill, heights=HEIGHTS)


@pytest.fixture
def ready(technician: User, lot: Lot, readings: list[Any]) -> Determination:
    return factories.make_determination(actor=technician, lot=lot)


@pytest.fixture
def released(ready: Determination, shift_lead: User) -> Determination:
    return release_determination(actor=shift_lead, determination=ready)


def codes(determination: Determination) -> set[str]:
    return {finding["code"] for finding in determination.finding_list}


def test_the_mean_is_exact_and_rounded_once(
    technician: User, lot: Lot, readings: list[Any]
) -> None:
    found = prepare_determination(actor=technician, lot=lot)
    mean = sum(density_at(height) for height in HEIGHTS) / 3
    assert Fraction(found.result_facts["density_exact"]) == mean
    assert found.density_g_cm3 == Decimal("0.9182361")
    assert found.spread_g_cm3 == Decimal("0.0001068")
    assert (found.status, found.number, found.issue) == ("draft", 1, 1)
    assert found.specimens_counted == 3
    assert found.parts.filter(is_counted=True).count() == 3


def test_the_uncertainty_keeps_what_the_specimens_share(
    technician: User, lot: Lot, readings: list[Any]
) -> None:
    found = prepare_determination(actor=technician, lot=lot)
    budget = {part["name"]: part for part in found.result_facts["budget"]}
    floats = float(budget["floats"]["standard_uncertainty_g_cm3"])
    single = readings[0].results.get().result_facts
    shared = (
        float(single["from_certificates_g_cm3"]) ** 2
        + float(single["from_float_heights_g_cm3"]) ** 2
    ) ** 0.5
    assert floats == pytest.approx(shared, rel=0.05)  # not divided by the square root of three
    total = float(found.result_facts["standard_uncertainty_g_cm3"])
    assert total**2 == pytest.approx(
        sum(float(part["standard_uncertainty_g_cm3"]) ** 2 for part in budget.values())
    )
    assert found.expanded_uncertainty_g_cm3 == pytest.approx(
        Decimal(total) * found.coverage_factor, abs=Decimal("1e-7")
    )


def test_without_the_grades_expansion_the_largest_one_is_taken(
    technician: User, lot: Lot, readings: list[Any]
) -> None:
    found = prepare_determination(actor=technician, lot=lot)
    assert codes(found) == {"expansion_not_known"}


def test_a_pooled_repeatability_is_used_when_the_grade_has_one(
    technician: User, manager: User, lot: Lot, grade: Grade, readings: list[Any]
) -> None:
    change_grade(
        actor=manager,
        grade=grade,
        reason="pooled from 24 lots",
        repeatability_g_cm3=Decimal("0.0001500"),
        repeatability_degrees_of_freedom=48,
        expansion_per_k=Decimal("0.0006"),
    )
    found = prepare_determination(actor=technician, lot=lot)
    scatter = next(p for p in found.result_facts["budget"] if p["name"] == "scatter")
    assert scatter["basis"] == "pooled"
    assert float(scatter["standard_uncertainty_g_cm3"]) == pytest.approx(0.00015 / 3**0.5)
    assert codes(found) == set()


def test_no_limits_means_no_rule_and_never_a_pass(
    technician: User, manager: User, fill: Fill
) -> None:
    grade = factories.make_grade(
        actor=manager, name="Experiment", lower_limit_g_cm3=None, upper_limit_g_cm3=None
    )
    lot = factories.make_lot(actor=technician, grade=grade, code="EX-1A")
    factories.make_read_lot(actor=technician, lot=lot, fill=fill)
    found = prepare_determination(actor=technician, lot=lot)
    assert found.result_facts["decision"] == {"code": "no_rule"}


@pytest.mark.parametrize("count", [1, 2])
def test_too_few_specimens_stay_a_draft(count: int, technician: User, lot: Lot, fill: Fill) -> None:
    factories.make_read_lot(actor=technician, lot=lot, fill=fill, heights=HEIGHTS[:count])
    found = prepare_determination(actor=technician, lot=lot)
    assert "too_few_specimens" in codes(found)
    with pytest.raises(Conflict) as refusal:
        mark_ready(actor=technician, determination=found)
    assert refusal.value.code == "not_complete"
    found.refresh_from_db()
    assert found.status == "draft"


def test_a_third_reading_makes_a_newer_issue(technician: User, lot: Lot, fill: Fill) -> None:
    factories.make_read_lot(actor=technician, lot=lot, fill=fill, heights=HEIGHTS[:2])
    first = prepare_determination(actor=technician, lot=lot)
    piece = factories.make_specimens(actor=technician, lot=lot, fill=fill, count=1)[0]
    factories.make_reading(actor=technician, specimen=piece, height_mm=HEIGHTS[2])
    second = prepare_determination(actor=technician, lot=lot)
    first.refresh_from_db()
    assert (second.number, second.issue, second.amends) == (1, 2, first)
    assert first.status == "amended"
    assert second.specimens_counted == 3


def test_preparing_again_without_news_changes_nothing(
    technician: User, lot: Lot, readings: list[Any]
) -> None:
    first = prepare_determination(actor=technician, lot=lot)
    count = AuditEntry.objects.count()
    assert prepare_determination(actor=technician, lot=lot) == first
    assert AuditEntry.objects.count() == count


def test_three_times_the_same_height_is_remarked(technician: User, lot: Lot, fill: Fill) -> None:
    factories.make_read_lot(actor=technician, lot=lot, fill=fill, heights=("455.0",) * 3)
    found = factories.make_determination(actor=technician, lot=lot)
    assert "same_height_repeated" in codes(found)
    assert found.spread_g_cm3 == 0
    assert found.status == "ready"


def test_a_specimen_is_set_aside_only_with_a_reason(
    technician: User, lot: Lot, readings: list[Any]
) -> None:
    piece = readings[1].specimen
    others = [readings[0].specimen, readings[2].specimen]
    with pytest.raises(RuleViolation) as refusal:
        prepare_determination(actor=technician, lot=lot, counted=others)
    assert refusal.value.code == "specimens_unaccounted"
    assert refusal.value.extra["specimens"] == [str(piece.pk)]
    with pytest.raises(RuleViolation) as refusal:
        prepare_determination(actor=technician, lot=lot, set_aside={piece.pk: "."})
    assert refusal.value.code == "reason_required"
    found = prepare_determination(
        actor=technician, lot=lot, set_aside={piece.pk: "a void inside the pellet"}
    )
    part = found.parts.get(is_counted=False)
    assert part.set_aside_reason == "a void inside the pellet"
    assert {"specimens_set_aside", "too_few_specimens"} <= codes(found)


def test_lighter_than_the_top_float_is_set_aside_by_itself(
    technician: User, lot: Lot, fill: Fill
) -> None:
    heights = (*HEIGHTS, "650.0")
    factories.make_read_lot(actor=technician, lot=lot, fill=fill, heights=heights)
    found = prepare_determination(actor=technician, lot=lot)
    assert found.specimens_counted == 3
    assert found.parts.get(is_counted=False).set_aside_reason == "lighter than F-101"


def test_readings_without_a_calibration_cannot_count(
    technician: User, lot: Lot, fill: Fill, pieces: list[Any]
) -> None:
    for piece, height in zip(pieces[:2], HEIGHTS, strict=False):
        factories.make_reading(actor=technician, specimen=piece, height_mm=height)
    place_hold(actor=technician, fill=fill, reason="knocked over", lifts_when="two equal sets")
    factories.make_reading(actor=technician, specimen=pieces[2])
    with pytest.raises(RuleViolation) as refusal:
        prepare_determination(actor=technician, lot=lot, counted=pieces)
    assert refusal.value.code == "specimen_not_countable"
    found = prepare_determination(actor=technician, lot=lot, counted=pieces[:2])
    assert found.specimens_counted == 2
    assert "too_few_specimens" in codes(found)


def test_a_float_distrusted_from_before_the_readings_takes_their_densities_away(
    ready: Determination, shift_lead: User, technician: User
) -> None:
    quarantine_float(
        actor=technician,
        calibration_float=CalibrationFloat.objects.get(label="F-103"),
        reason="chipped in the last pass",
        from_at=SYSTEM_CLOCK.now() - timedelta(minutes=45),
    )
    ready.refresh_from_db()
    newest = ready.amended_by
    assert (ready.status, newest.status) == ("amended", "draft")
    assert newest.density_g_cm3 is None
    assert newest.specimens_counted == 0
    why = newest.parts.first().set_aside_reason
    assert why.startswith("No calibration was in force. A float of the set is in quarantine")
    with pytest.raises(Conflict):
        mark_ready(actor=technician, determination=newest)


def test_a_lead_who_read_none_releases(ready: Determination, shift_lead: User) -> None:
    done = release_determination(actor=shift_lead, determination=ready)
    assert (done.status, done.released_by) == ("released", shift_lead)
    entry = AuditEntry.objects.filter(object_id=ready.pk).first()
    assert entry.action == "samples.determination.released"
    assert entry.facts["old"]["status"] == "ready"


@pytest.mark.parametrize("role", ["technician", "auditor", "administrator"])
def test_others_cannot_release(
    role: str, ready: Determination, request: pytest.FixtureRequest
) -> None:
    with pytest.raises(NotPermitted):
        release_determination(actor=request.getfixturevalue(role), determination=ready)
    ready.refresh_from_db()
    assert ready.status == "ready"


def test_a_lead_who_read_one_of_them_does_not_release(
    technician: User, shift_lead: User, manager: User, lot: Lot, pieces: list[Any]
) -> None:
    readers = (technician, technician, shift_lead)
    for piece, height, reader in zip(pieces, HEIGHTS, readers, strict=True):
        factories.make_reading(actor=reader, specimen=piece, height_mm=height)
    ready = factories.make_determination(actor=technician, lot=lot)
    with pytest.raises(NotPermitted) as refusal:
        release_determination(actor=shift_lead, determination=ready)
    assert refusal.value.code == "own_reading"
    release_determination(actor=manager, determination=ready)


def test_a_lead_who_amended_one_of_them_does_not_release(
    technician: User, shift_lead: User, lot: Lot, readings: list[Any]
) -> None:
    amend_reading(
        actor=shift_lead, reading=readings[0], height_mm=Decimal("455.5"), reason="seen on photo"
    )
    ready = factories.make_determination(actor=technician, lot=lot)
    with pytest.raises(NotPermitted):
        release_determination(actor=shift_lead, determination=ready)


def test_findings_ask_the_releasing_person_for_a_note(
    technician: User, shift_lead: User, lot: Lot, fill: Fill
) -> None:
    heights = ("440.0", "455.0", "470.0")
    factories.make_read_lot(actor=technician, lot=lot, fill=fill, heights=heights)
    ready = factories.make_determination(actor=technician, lot=lot)
    assert "spread_too_large" in codes(ready)
    with pytest.raises(RuleViolation) as refusal:
        release_determination(actor=shift_lead, determination=ready)
    assert refusal.value.fields == {"note": ["a real reason is needed"]}
    done = release_determination(
        actor=shift_lead, determination=ready, note="a blend: wide by nature"
    )
    assert done.release_note == "a blend: wide by nature"


def test_a_draft_is_not_released(
    technician: User, shift_lead: User, lot: Lot, readings: Any
) -> None:
    draft = prepare_determination(actor=technician, lot=lot)
    with pytest.raises(Conflict) as refusal:
        release_determination(actor=shift_lead, determination=draft)
    assert refusal.value.code == "not_ready"


def test_a_released_lot_is_repeated_only_because(
    technician: User, lot: Lot, fill: Fill, released: Determination
) -> None:
    factories.make_read_lot(actor=technician, lot=lot, fill=fill, heights=HEIGHTS)
    with pytest.raises(RuleViolation) as refusal:
        prepare_determination(actor=technician, lot=lot)
    assert refusal.value.code == "repeat_because_required"
    assert refusal.value.extra["earlier"] == str(released.pk)
    repeat = prepare_determination(actor=technician, lot=lot, repeat_because="customer asked")
    assert (repeat.number, repeat.issue) == (2, 1)
    assert repeat.specimens_counted == 3
    released.refresh_from_db()
    assert released.status == "released"


def test_an_amendment_is_a_new_issue_that_another_releases(
    released: Determination, shift_lead: User, manager: User, readings: list[Any]
) -> None:
    amend_reading(
        actor=manager, reading=readings[0], height_mm=Decimal("457.0"), reason="misread by 2 mm"
    )
    released.refresh_from_db()
    assert released.status == "released"
    assert released.to_be_amended_because == "misread by 2 mm"
    assert released.density_g_cm3 == Decimal("0.9182361")
    new = amend_determination(
        actor=shift_lead, determination=released, reason="reading 1 was misread"
    )
    released.refresh_from_db()
    assert (released.status, new.status) == ("amended", "ready")
    assert (new.number, new.issue, new.amends) == (1, 2, released)
    assert new.density_g_cm3 == Decimal("0.9181886")
    with pytest.raises(NotPermitted) as refusal:
        release_determination(actor=shift_lead, determination=new)
    assert refusal.value.code == "own_amendment"
    with pytest.raises(NotPermitted):
        release_determination(actor=manager, determination=new)


@pytest.mark.parametrize("reason", [".", "  "])
def test_an_amendment_needs_a_real_reason(
    reason: str, released: Determination, shift_lead: User
) -> None:
    with pytest.raises(RuleViolation):
        amend_determination(actor=shift_lead, determination=released, reason=reason)
    assert Determination.objects.count() == 1


def test_an_amended_reading_makes_a_ready_one_a_draft_again(
    ready: Determination, technician: User, readings: list[Any]
) -> None:
    amend_reading(
        actor=technician, reading=readings[0], height_mm=Decimal("457.0"), reason="misread by 2 mm"
    )
    ready.refresh_from_db()
    new = ready.amended_by
    assert (ready.status, new.status) == ("amended", "draft")
    assert new.density_g_cm3 == Decimal("0.9181886")
    assert new.amend_reason == "misread by 2 mm"


def amended_heights(float_set: FloatSet) -> list[dict[str, Any]]:
    """F-103, the float above the specimens, stood 3 mm higher than was written."""
    rows = float_set.heights.select_related("calibration_float")
    return [
        {
            "calibration_float": row.calibration_float,
            "height_mm": row.height_mm + (3 if row.calibration_float.label == "F-103" else 0),
        }
        for row in sorted(rows, key=lambda row: row.calibration_float.label)
    ]


def test_amending_a_float_set_lists_and_follows_what_it_touches(
    released: Determination, technician: User, manager: User, fill: Fill, grade: Grade
) -> None:
    other = factories.make_lot(actor=technician, grade=grade, code="WR-2212")
    factories.make_read_lot(actor=technician, lot=other, fill=fill)
    draft = factories.make_determination(actor=technician, lot=other)
    float_set = FloatSet.objects.order_by("-read_at").first()
    assert touched_by_float_set(float_set) == [draft, released]
    amend_float_set(
        actor=manager,
        float_set=float_set,
        heights=amended_heights(float_set),
        reason="F-103 misread by 3 mm",
    )
    released.refresh_from_db()
    draft.refresh_from_db()
    assert released.status == "released"
    assert "F-103" in released.to_be_amended_because
    assert draft.status == "amended"
    assert draft.amended_by.density_g_cm3 > draft.density_g_cm3
    assert draft.amended_by.status == "draft"
    assert verify().holds


def test_a_corrected_certificate_is_followed_to_the_determination(
    ready: Determination, manager: User
) -> None:
    certificate = Certificate.objects.get(calibration_float__label="F-103")
    change_certificate(
        actor=manager,
        certificate=certificate,
        reason="typed 0.9149, it says 0.9152",
        density_g_cm3=Decimal("0.9152"),
    )
    ready.refresh_from_db()
    newer = ready.amended_by
    # F-103 counts by the mean share 26.1666/73 of the gap: 0.0003 more there
    assert newer.density_g_cm3 - ready.density_g_cm3 == Decimal("0.0001075")
    assert newer.amend_reason == "typed 0.9149, it says 0.9152"


def test_the_whole_story_leaves_a_history_that_holds(released: Determination) -> None:
    assert verify().holds
