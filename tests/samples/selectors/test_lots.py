"""What a lot waits for, and who may not release it."""

from __future__ import annotations

from typing import Any

import pytest

from labsite.accounts.models import User
from samples.models import Determination, Lot
from samples.selectors.determinations import barred_from_release
from samples.selectors.lots import WaitsFor, lots_with_waits
from samples.services.determinations import amend_determination, release_determination
from tests import factories

pytestmark = pytest.mark.django_db


def waits_for(lot: Lot) -> str:
    return lots_with_waits().get(pk=lot.pk).waits_for


def test_a_lot_waits_for_one_thing_after_the_other(
    technician: User, shift_lead: User, lot: Any, fill: Any
) -> None:
    assert waits_for(lot) == WaitsFor.PIECES
    pieces = factories.make_specimens(actor=technician, lot=lot, fill=fill)
    for piece in pieces:
        found = lots_with_waits().get(pk=lot.pk)
        assert found.waits_for == WaitsFor.READING
        assert found.piece_count == 3
        factories.make_reading(actor=technician, specimen=piece)
    assert lots_with_waits().get(pk=lot.pk).unread_count == 0
    assert waits_for(lot) == WaitsFor.DETERMINATION
    draft = factories.make_determination(actor=technician, lot=lot, ready=False)
    assert waits_for(lot) == WaitsFor.READY
    Determination.objects.filter(pk=draft.pk).update(status="ready")
    assert waits_for(lot) == WaitsFor.RELEASE
    draft.refresh_from_db()
    released = release_determination(actor=shift_lead, determination=draft, note="Looked at.")
    assert waits_for(lot) == WaitsFor.NOTHING
    Determination.objects.filter(pk=released.pk).update(to_be_amended_because="float set amended")
    assert waits_for(lot) == WaitsFor.AMENDMENT


def test_readers_and_amenders_are_barred_from_release(
    technician: User, shift_lead: User, manager: User, lot: Any, fill: Any
) -> None:
    factories.make_read_lot(actor=shift_lead, lot=lot, fill=fill)
    ready = factories.make_determination(actor=technician, lot=lot)
    assert barred_from_release(shift_lead, [ready])[ready.pk].code == "own_reading"
    assert not barred_from_release(technician, [ready])  # preparing is no reading
    released = release_determination(actor=manager, determination=ready, note="Looked at.")
    issue = amend_determination(actor=manager, determination=released, reason="wrong grade limit")
    assert barred_from_release(manager, [issue])[issue.pk].code == "own_amendment"
