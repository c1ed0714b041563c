"""Each act on a lot leaves exactly its entries in the history, no fewer and no more."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from columns.services.fills import drain_fill
from columns.services.float_sets import amend_float_set
from labsite.accounts import audit_actions as account_actions
from labsite.accounts.models import User
from labsite.accounts.services import end_sessions
from labsite.accounts.tokens import make_token, revoke_token
from labsite.audit.audit_actions import HISTORY_VERIFIED
from labsite.audit.checking import verify_history
from labsite.audit.models import AuditEntry
from labsite.audit.verification import verify
from samples import audit_actions as actions
from samples.services import determinations, grades, lots, readings, recipes, specimens
from tests import factories

pytestmark = pytest.mark.django_db


def entries_of(act: Callable[[], Any]) -> Counter[str]:
    """The action codes that `act` leaves; the history holds afterwards."""
    before = AuditEntry.objects.order_by("-id").values_list("id", flat=True).first() or 0
    act()
    found = AuditEntry.objects.filter(id__gt=before).values_list("action", flat=True)
    assert verify().findings == []
    return Counter(found)


def test_recipes_grades_and_lots(manager: User) -> None:
    def work() -> None:
        recipe = recipes.add_recipe(actor=manager, name="Plate", form="moulded")
        recipes.change_recipe(actor=manager, recipe=recipe, reason="longer", wait_minutes=20)
        grade = factories.make_grade(actor=manager, name="Teal", recipe=recipe)
        grades.change_grade(
            actor=manager, grade=grade, reason="tighter", spread_limit_g_cm3=Decimal("0.0004")
        )
        lot = factories.make_lot(actor=manager, grade=grade, code="TL-0001")
        lots.change_lot(actor=manager, lot=lot, reason="label was torn", note="second label")
        grades.retire_grade(actor=manager, grade=grade, reason="not made any more")
        recipes.retire_recipe(actor=manager, recipe=recipe, reason="not used any more")

    assert entries_of(work) == Counter(
        [
            actions.RECIPE_ADDED,
            actions.RECIPE_CHANGED,
            actions.GRADE_ADDED,
            actions.GRADE_CHANGED,
            actions.LOT_REGISTERED,
            actions.LOT_CHANGED,
            actions.GRADE_RETIRED,
            actions.RECIPE_RETIRED,
        ]
    )


def test_a_specimen_changes_hands_and_leaves_with_the_fill(
    technician: User, other_technician: User, shift_lead: User, lot: Any, fill: Any
) -> None:
    pieces = factories.make_specimens(actor=technician, lot=lot, fill=fill, count=2)
    taken = entries_of(
        lambda: specimens.take_over_specimens(actor=other_technician, specimens=pieces)
    )
    assert taken == Counter({actions.SPECIMEN_TAKEN_OVER: 2})
    drained = entries_of(lambda: drain_fill(actor=shift_lead, fill=fill, reason="too old"))
    assert drained[actions.SPECIMEN_DRAINED] == 2


def test_a_reading_leaves_itself_and_its_density(technician: User, lot: Any, fill: Any) -> None:
    [piece] = factories.make_specimens(actor=technician, lot=lot, fill=fill, count=1)
    found = entries_of(lambda: factories.make_reading(actor=technician, specimen=piece))
    assert found == Counter({actions.READING_RECORDED: 1, actions.RESULT_COMPUTED: 1})


def test_an_amended_reading_keeps_the_first_one(technician: User, lot: Any, fill: Any) -> None:
    [piece] = factories.make_specimens(actor=technician, lot=lot, fill=fill, count=1)
    reading = factories.make_reading(actor=technician, specimen=piece)
    found = entries_of(
        lambda: readings.amend_reading(
            actor=technician, reading=reading, reason="digits swapped", height_mm=Decimal("454.0")
        )
    )
    assert found == Counter(
        [
            actions.READING_REPLACED,
            actions.READING_AMENDED,
            actions.RESULT_COMPUTED,
        ]
    )


def test_an_amended_float_set_supersedes_the_densities_that_rest_on_it(
    technician: User, shift_lead: User, lot: Any, fill: Any
) -> None:
    factories.make_read_lot(actor=technician, lot=lot, fill=fill)
    newest = fill.float_sets.filter(replaced_at__isnull=True).order_by("-read_at").first()
    found = entries_of(
        lambda: amend_float_set(
            actor=shift_lead,
            float_set=newest,
            reason="thermometer misread",
            bath_temperature_c=Decimal("23.05"),
        )
    )
    assert found[actions.RESULT_SUPERSEDED] == 3
    assert found[actions.RESULT_COMPUTED] == 3


def test_from_draft_to_amended_determination(
    technician: User, shift_lead: User, lot: Any, fill: Any
) -> None:
    read = factories.make_read_lot(actor=technician, lot=lot, fill=fill)
    prepared = entries_of(lambda: factories.make_determination(actor=technician, lot=lot))
    assert prepared == Counter(
        {
            actions.DETERMINATION_PREPARED: 1,
            actions.DETERMINATION_PART_ADDED: 3,
            actions.DETERMINATION_READY: 1,
        }
    )
    again = entries_of(
        lambda: readings.amend_reading(
            actor=technician, reading=read[0], reason="misread", height_mm=Decimal("455.5")
        )
    )
    assert again[actions.DETERMINATION_RECOMPUTED] == 1
    assert again[actions.DETERMINATION_REPLACED] == 1
    present = lot.determinations.order_by("-issue").first()
    determinations.mark_ready(actor=technician, determination=present)
    present.refresh_from_db()
    released = entries_of(
        lambda: determinations.release_determination(
            actor=shift_lead, determination=present, note="Looked at."
        )
    )
    assert released == Counter({actions.DETERMINATION_RELEASED: 1})
    _flag_then_amend(shift_lead, technician, lot, read)


def _flag_then_amend(shift_lead: User, technician: User, lot: Any, read: Any) -> None:
    flagged = entries_of(
        lambda: readings.amend_reading(
            actor=technician, reading=read[1], reason="misread", height_mm=Decimal("455.5")
        )
    )
    assert flagged[actions.DETERMINATION_TO_BE_AMENDED] == 1
    released = lot.determinations.get(status="released")
    amended = entries_of(
        lambda: determinations.amend_determination(
            actor=shift_lead, determination=released, reason="a height was misread"
        )
    )
    assert amended[actions.DETERMINATION_AMENDED] == 1
    assert amended[actions.DETERMINATION_REPLACED] == 1


def test_sign_ins_tokens_and_verification(administrator: User, technician: User) -> None:
    token, _key = make_token(actor=technician, name="logger")
    revoked = entries_of(lambda: revoke_token(actor=technician, token=token))
    assert revoked == Counter({account_actions.TOKEN_REVOKED: 1})
    ended = entries_of(lambda: end_sessions(actor=administrator, person=technician))
    assert ended == Counter({account_actions.SESSIONS_ENDED: 1})
    assert entries_of(lambda: verify_history(actor=administrator)) == Counter({HISTORY_VERIFIED: 1})
