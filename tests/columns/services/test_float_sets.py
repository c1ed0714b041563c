"""Float sets: what is refused, what is kept with a finding, and what an amendment does."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from columns import audit_actions as actions
from columns.models import BathTemperature, Calibration, Certificate, Fill, FloatSet
from columns.selectors.calibrations import calibration_in_force
from columns.selectors.rules import height_standard_uncertainty_mm, lab_rules
from columns.services.calibrations import recompute_calibration
from columns.services.certificates import change_certificate
from columns.services.float_sets import (
    amend_float_set,
    preview_amended_float_set,
    record_float_set,
)
from columns.services.floats import quarantine_float, remove_float
from columns.services.rules import change_lab_rules, set_reader_repeatability
from columns.signals import calibration_recomputed, float_set_amended
from labsite.accounts.models import User
from labsite.audit.models import AuditEntry
from labsite.errors import Conflict, LabError, NotPermitted, RuleViolation
from tests import factories
from tests.factories import clock_at, heights_of

pytestmark = pytest.mark.django_db

MINUTE = timedelta(minutes=1)


@pytest.fixture
def save(open_fill: Fill, technician: User, now: datetime) -> Callable[..., Any]:
    """Save a set in the open fill, valid unless a field is given."""

    def record(**fields: Any) -> Any:
        fields.setdefault("actor", technician)
        if "heights" not in fields:
            fields["heights"] = heights_of(open_fill)
        fields.setdefault("bath_temperature_c", Decimal("23.0"))
        fields.setdefault("clock", clock_at(now + MINUTE))
        return record_float_set(fill=open_fill, **fields)

    return record


@pytest.fixture
def refused(save: Callable[..., Any], open_fill: Fill) -> Callable[..., LabError]:
    """The refusal of a set, after a check that nothing of it was written."""
    assert save().calibration.passes  # the same set without the fault is accepted

    def error(**fields: Any) -> LabError:
        before = (FloatSet.objects.count(), Calibration.objects.count(), AuditEntry.objects.count())
        with pytest.raises(LabError) as caught:
            save(**fields)
        after = (FloatSet.objects.count(), Calibration.objects.count(), AuditEntry.objects.count())
        assert before == after
        return caught.value

    return error


def findings(calibration: Calibration) -> list[str]:
    return [each["code"] for each in calibration.result_facts["findings"]]


def changed(heights: list[dict[str, Any]], **by_label: Any) -> list[dict[str, Any]]:
    for entry in heights:
        label = entry["calibration_float"].label.replace("-", "_")
        if label in by_label:
            value = by_label[label]
            entry["height_mm"] = None if value is None else Decimal(value)
    return heights


def test_a_set_is_saved_with_its_calibration_and_leaves_an_entry_for_each_row(
    save: Callable[..., Any], entries_of: Callable[[Any], list[str]], technician: User
) -> None:
    saved = save()
    assert saved.float_set.read_by == technician
    assert saved.calibration.passes
    assert saved.float_set.heights.count() == 9
    assert entries_of(saved.float_set) == [actions.FLOAT_SET_SAVED]
    assert entries_of(saved.calibration) == [actions.CALIBRATION_COMPUTED]
    for height in saved.float_set.heights.all():
        assert entries_of(height) == [actions.FLOAT_HEIGHT_SAVED]
    logged = saved.float_set.logged_temperature
    assert entries_of(logged) == [actions.TEMPERATURE_RECORDED]
    assert logged.source == BathTemperature.Source.FLOAT_SET


def test_an_auditor_records_no_set(
    save: Callable[..., Any], auditor: User, administrator: User
) -> None:
    for person in (auditor, administrator):
        with pytest.raises(NotPermitted):
            save(actor=person)


def test_two_swapped_lines_are_refused_by_name(
    refused: Callable[..., LabError], open_fill: Fill
) -> None:
    heights = changed(heights_of(open_fill), F_103="429.0", F_104="502.0")
    error = refused(heights=heights)
    assert error.code == "float_order_reversed"
    assert error.extra["cause"] == "lines_swapped"
    assert set(error.extra["floats"]) == {"F-103", "F-104"}
    assert "two lines swapped?" in error.message


def test_a_scale_read_from_the_wrong_end_is_refused(
    refused: Callable[..., LabError], open_fill: Fill
) -> None:
    heights = heights_of(open_fill)
    for entry in heights:
        entry["height_mm"] = 700 - entry["height_mm"]
    error = refused(heights=heights)
    assert (error.code, error.extra["cause"]) == ("float_order_reversed", "scale_origin")


def test_two_floats_at_one_height_are_refused(
    refused: Callable[..., LabError], open_fill: Fill
) -> None:
    error = refused(heights=changed(heights_of(open_fill), F_103="568.5"))
    assert error.code == "float_heights_equal"


@pytest.mark.parametrize("height", ["4125", "-3", "700.5"])
def test_a_height_off_the_scale_is_refused_and_the_scale_shown(
    refused: Callable[..., LabError], open_fill: Fill, height: str
) -> None:
    error = refused(heights=changed(heights_of(open_fill), F_103=height))
    assert error.code == "height_outside_scale"
    assert list(error.fields) == ["heights[2].height_mm"]
    assert "0 to 700" in str(error.fields)


def test_a_float_without_height_needs_a_reason(
    refused: Callable[..., LabError], save: Callable[..., Any], open_fill: Fill
) -> None:
    heights = changed(heights_of(open_fill), F_103=None)
    assert refused(heights=heights).code == "float_without_height"
    heights[2]["missing_reason"] = "."
    assert refused(heights=heights).code == "reason_required"
    heights[2]["missing_reason"] = "stuck to the wall"
    saved = save(heights=heights)
    assert findings(saved.calibration) == ["float_missing"]
    assert saved.calibration.passes


def test_a_line_left_out_is_refused_with_the_label(
    refused: Callable[..., LabError], open_fill: Fill
) -> None:
    error = refused(heights=heights_of(open_fill)[:8])
    assert error.code == "floats_left_out"
    assert "F-109" in error.message


def test_a_line_given_twice_or_of_another_column_is_refused(
    refused: Callable[..., LabError], open_fill: Fill, shift_lead: User
) -> None:
    heights = heights_of(open_fill)
    assert refused(heights=[*heights, heights[0]]).code == "duplicate_float"
    stranger = factories.make_float(actor=shift_lead, label="F-201", density="0.9300")
    extra = {"calibration_float": stranger, "height_mm": Decimal(290)}
    assert refused(heights=[*heights, extra]).code == "float_not_in_fill"


def test_below_the_labs_minimum_is_refused(
    refused: Callable[..., LabError], open_fill: Fill
) -> None:
    heights = heights_of(open_fill)
    for entry in heights[:5]:
        entry.update(height_mm=None, missing_reason="behind the ring")
    error = refused(heights=heights)
    assert error.code == "below_minimum_floats"
    assert "4" in error.message
    assert "5" in error.message


def test_the_lab_may_set_another_minimum(
    save: Callable[..., Any], open_fill: Fill, manager: User
) -> None:
    change_lab_rules(actor=manager, rules=lab_rules(), reason="narrow column", minimum_floats=4)
    heights = heights_of(open_fill)
    for entry in heights[:5]:
        entry.update(height_mm=None, missing_reason="behind the ring")
    saved = save(heights=heights)
    assert saved.calibration.passes
    assert "too_few_floats_for_curve" in findings(saved.calibration)
    assert not saved.calibration.result_facts["has_curve"]


def test_a_time_in_the_future_or_before_the_pour_is_refused(
    refused: Callable[..., LabError], now: datetime
) -> None:
    error = refused(read_at=now + 4 * MINUTE)
    assert error.code == "time_in_future"
    assert list(error.fields) == ["read_at"]
    assert refused(read_at=now - timedelta(days=3)).code == "before_pour"


def test_a_clock_two_minutes_ahead_counts_as_now(save: Callable[..., Any], now: datetime) -> None:
    assert save(read_at=now + 3 * MINUTE).float_set.read_at == now + MINUTE


@pytest.mark.parametrize(("typed", "meant"), [("296.15", "23.00"), ("73.4", "23.00")])
def test_a_temperature_in_another_unit_is_asked_about(
    refused: Callable[..., LabError], typed: str, meant: str
) -> None:
    error = refused(bath_temperature_c=Decimal(typed))
    assert error.code == "temperature_unit"
    assert error.extra["suggestion"] == {"bath_temperature_c": meant}


def test_an_impossible_temperature_is_refused(refused: Callable[..., LabError]) -> None:
    assert refused(bath_temperature_c=Decimal("-40")).code == "temperature_implausible"


def test_a_set_out_of_tolerance_is_kept_and_does_not_pass(
    save: Callable[..., Any], open_fill: Fill, now: datetime
) -> None:
    saved = save(bath_temperature_c=Decimal("23.4"))
    assert findings(saved.calibration) == ["temperature_out"]
    assert not saved.calibration.passes
    assert calibration_in_force(open_fill, now + 2 * MINUTE) is None  # the excursion ends it


@pytest.mark.parametrize(
    ("dates", "finding"),
    [
        ({"valid_until": datetime(2021, 1, 1).date()}, "certificate_lapsed"),
        (
            {
                "issued_on": datetime(2098, 1, 1).date(),
                "valid_until": datetime(2099, 1, 1).date(),
            },
            "certificate_future",
        ),
    ],
)
def test_a_set_with_a_certificate_that_is_not_valid_is_kept_and_does_not_pass(
    save: Callable[..., Any], shift_lead: User, dates: dict[str, Any], finding: str
) -> None:
    certificate = Certificate.objects.get(calibration_float__label="F-103")
    change_certificate(
        actor=shift_lead, certificate=certificate, reason="typed from the wrong sheet", **dates
    )
    saved = save()
    assert findings(saved.calibration) == [finding]
    assert not saved.calibration.passes


def test_a_float_in_quarantine_is_left_out_and_need_not_be_read(
    save: Callable[..., Any], open_fill: Fill, technician: User, now: datetime
) -> None:
    each = open_fill.placements.get(calibration_float__label="F-105").calibration_float
    quarantine_float(
        actor=technician, calibration_float=each, reason="chipped", clock=clock_at(now)
    )
    with_it = save()
    assert findings(with_it.calibration) == ["float_quarantined"]
    assert with_it.calibration.passes
    assert "F-105" not in [f["label"] for f in with_it.calibration.input_facts["floats"]]
    lines = [h for h in heights_of(open_fill) if h["calibration_float"] != each]
    assert save(heights=lines).calibration.passes


def test_a_removed_float_is_no_longer_asked_for(
    save: Callable[..., Any], open_fill: Fill, technician: User, now: datetime
) -> None:
    placement = open_fill.placements.get(calibration_float__label="F-105")
    remove_float(actor=technician, placement=placement, reason="chipped", clock=clock_at(now))
    floats = [pair for pair in factories.NINE_FLOATS if pair[0] != "0.9250"]
    assert save(heights=heights_of(open_fill, floats=tuple(floats))).calibration.passes


def test_a_planned_fill_has_no_floats_to_read(shift_lead: User, technician: User) -> None:
    fill = factories.make_planned_fill(actor=shift_lead)
    with pytest.raises(Conflict) as caught:
        record_float_set(actor=technician, fill=fill, bath_temperature_c=Decimal(23), heights=[])
    assert caught.value.code == "wrong_state"


def test_the_uncertainty_of_a_height_is_the_readers_own(
    save: Callable[..., Any], open_fill: Fill, manager: User, technician: User
) -> None:
    # division 0.5 mm: 0.5/√12 = 0.1443; with the lab's 0.30 mm together 0.3329
    first = save().calibration.input_facts
    assert float(first["height_standard_uncertainty_mm"]) == pytest.approx(0.33292, abs=1e-5)
    set_reader_repeatability(
        actor=manager,
        person=technician,
        standard_deviation_mm=Decimal("0.40"),
        source="ten repeated sets",
    )
    second = save().calibration.input_facts
    assert float(second["height_standard_uncertainty_mm"]) == pytest.approx(0.42525, abs=1e-5)
    assert height_standard_uncertainty_mm(open_fill.column, technician) == pytest.approx(
        0.42525, abs=1e-5
    )


# Amending


@pytest.fixture
def heard() -> Any:
    """What the signals said."""
    found: list[tuple[str, Any, Any]] = []

    def amended(sender: Any, old: Any, new: Any, log: Any, **_: Any) -> None:
        found.append(("amended", old, new))

    def recomputed(sender: Any, old: Any, new: Any, log: Any, **_: Any) -> None:
        found.append(("recomputed", old, new))

    float_set_amended.connect(amended)
    calibration_recomputed.connect(recomputed)
    yield found
    float_set_amended.disconnect(amended)
    calibration_recomputed.disconnect(recomputed)


def test_an_amended_set_is_a_new_one_and_the_old_one_stays(
    save: Callable[..., Any],
    open_fill: Fill,
    shift_lead: User,
    technician: User,
    now: datetime,
    heard: list[Any],
    entries_of: Callable[[Any], list[str]],
) -> None:
    old = save(heights=changed(heights_of(open_fill), F_103="512.0"))
    new = amend_float_set(
        actor=shift_lead,
        float_set=old.float_set,
        heights=heights_of(open_fill),
        reason="F-103 misread by 10 mm",
    )
    old.float_set.refresh_from_db()
    assert old.float_set.replaced_at is not None
    assert old.float_set.heights.get(calibration_float__label="F-103").height_mm == Decimal(512)
    assert new.float_set.amends == old.float_set
    assert new.float_set.read_by == technician  # who read it, not who amended it
    assert new.float_set.read_at == old.float_set.read_at
    assert calibration_in_force(open_fill, now + 2 * MINUTE) == new.calibration
    assert heard == [("amended", old.float_set, new.float_set)]
    assert entries_of(old.float_set) == [actions.FLOAT_SET_SAVED, actions.FLOAT_SET_REPLACED]
    assert entries_of(new.float_set) == [actions.FLOAT_SET_AMENDED]
    assert entries_of(old.calibration)[-1] == actions.CALIBRATION_SUPERSEDED
    entry = AuditEntry.objects.get(object_id=new.float_set.pk)
    assert (entry.actor, entry.reason) == (shift_lead, "F-103 misread by 10 mm")


def test_an_amended_temperature_replaces_its_row_in_the_baths_log(
    save: Callable[..., Any], shift_lead: User
) -> None:
    old = save(bath_temperature_c=Decimal("32.0"))
    assert not old.calibration.passes
    new = amend_float_set(
        actor=shift_lead,
        float_set=old.float_set,
        bath_temperature_c=Decimal("23.0"),
        reason="digits swapped",
    )
    assert new.calibration.passes
    wrong = BathTemperature.objects.get(pk=old.float_set.logged_temperature_id)
    assert wrong.replaced_at is not None
    assert new.float_set.logged_temperature.amends == wrong


@pytest.mark.parametrize("reason", [".", "   ", ""])
def test_an_amendment_needs_a_real_reason(
    save: Callable[..., Any], shift_lead: User, reason: str, open_fill: Fill
) -> None:
    saved = save()
    with pytest.raises(RuleViolation) as caught:
        amend_float_set(
            actor=shift_lead,
            float_set=saved.float_set,
            heights=heights_of(open_fill),
            reason=reason,
        )
    assert caught.value.code == "reason_required"


def test_a_set_is_amended_once(
    save: Callable[..., Any], shift_lead: User, open_fill: Fill, heard: list[Any]
) -> None:
    saved = save()
    first = {
        "actor": shift_lead,
        "float_set": saved.float_set,
        "heights": heights_of(open_fill, shift_mm="0.5"),
        "reason": "eye too high",
    }
    amend_float_set(**first)
    with pytest.raises(Conflict) as caught:
        amend_float_set(**first)
    assert caught.value.code == "already_replaced"
    assert len(heard) == 1


def test_an_amendment_is_held_to_the_rules_of_its_day(
    save: Callable[..., Any], shift_lead: User, manager: User, open_fill: Fill
) -> None:
    saved = save()
    change_lab_rules(
        actor=manager, rules=lab_rules(), reason="audit finding", calibration_max_age_hours=2
    )
    new = amend_float_set(
        actor=shift_lead,
        float_set=saved.float_set,
        heights=heights_of(open_fill, shift_mm="0.5"),
        reason="eye too high",
    )
    assert new.calibration.input_facts["calibration_max_age_hours"] == 8


def test_a_preview_writes_nothing(save: Callable[..., Any], open_fill: Fill) -> None:
    saved = save()
    before = AuditEntry.objects.count()
    preview = preview_amended_float_set(
        float_set=saved.float_set, bath_temperature_c=Decimal("23.5")
    )
    assert not preview.passes
    assert findings(preview) == ["temperature_out"]
    assert AuditEntry.objects.count() == before


# Computing again


def test_a_corrected_certificate_computes_its_calibrations_again(
    save: Callable[..., Any], shift_lead: User, heard: list[Any], open_fill: Fill
) -> None:
    saved = save()
    certificate = Certificate.objects.get(calibration_float__label="F-103")
    change_certificate(
        actor=shift_lead,
        certificate=certificate,
        density_g_cm3=Decimal("0.9150"),
        reason="misread the certificate",
    )
    new = saved.float_set.calibrations.get(superseded_at__isnull=True)
    assert new != saved.calibration
    item = next(f for f in new.input_facts["floats"] if f["label"] == "F-103")
    assert item["density_g_cm3"] == "0.915"
    sets = {old.float_set_id for kind, old, _new in heard}
    assert sets == set(open_fill.float_sets.values_list("pk", flat=True))


def test_a_changed_remark_on_a_certificate_computes_nothing_new_of_others(
    save: Callable[..., Any], shift_lead: User, heard: list[Any]
) -> None:
    save()
    other = factories.make_float(actor=shift_lead, label="F-900", density="0.9333")
    change_certificate(
        actor=shift_lead,
        certificate=other.certificates.get(),
        density_g_cm3=Decimal("0.9334"),
        reason="misread the certificate",
    )
    assert heard == []


def test_a_set_is_computed_again_without_a_float_quarantined_since(
    save: Callable[..., Any], open_fill: Fill, technician: User, now: datetime
) -> None:
    saved = save()
    each = open_fill.placements.get(calibration_float__label="F-105").calibration_float
    quarantine_float(
        actor=technician,
        calibration_float=each,
        reason="chipped in the last pass",
        from_at=now - timedelta(hours=1),
    )
    assert calibration_in_force(open_fill, now + 2 * MINUTE) is None
    new = recompute_calibration(
        actor=technician, float_set=saved.float_set, reason="without the chipped float"
    )
    assert findings(new) == ["float_quarantined"]
    assert calibration_in_force(open_fill, now + 2 * MINUTE) == new
    again = recompute_calibration(
        actor=technician, float_set=saved.float_set, reason="without the chipped float"
    )
    assert again == new  # nothing differs: no new row
