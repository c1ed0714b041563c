"""Lots with what each of them waits for next."""

from __future__ import annotations

from typing import Any

from django.db.models import (
    Case,
    CharField,
    Count,
    Exists,
    IntegerField,
    OuterRef,
    QuerySet,
    Subquery,
    TextChoices,
    Value,
    When,
)
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from samples.models import Determination, Lot, Specimen
from samples.selectors.specimens import in_columns, unread

Status = Determination.Status


class WaitsFor(TextChoices):
    """What is to be done next with a lot; in the order in which the first that holds is told."""

    AMENDMENT = "amendment", _("to be amended")
    RELEASE = "release", _("waits for release")
    READING = "reading", _("pieces to read")
    READY = "ready", _("draft, to be marked ready")
    NOTHING = "nothing", _("released")
    DETERMINATION = "determination", _("read, to be determined")
    PIECES = "pieces", _("no piece dropped yet")


def lots_with_waits(lots: QuerySet[Lot] | None = None) -> QuerySet[Lot]:
    """Annotated with `piece_count`, `unread_count` and `waits_for`."""
    lots = Lot.objects.all() if lots is None else lots
    standing = Determination.objects.filter(lot=OuterRef("pk")).exclude(status=Status.AMENDED)
    newest = standing.order_by("-number", "-issue")
    flagged = standing.filter(status=Status.RELEASED).exclude(to_be_amended_because="")
    pieces = Specimen.objects.filter(lot=OuterRef("pk"))
    return lots.annotate(
        piece_count=_count(pieces),
        unread_count=_count(unread(in_columns().filter(lot=OuterRef("pk")))),
        newest_status=Subquery(newest.values("status")[:1]),
        is_flagged=Exists(flagged),
    ).annotate(
        waits_for=Case(
            When(is_flagged=True, then=Value(WaitsFor.AMENDMENT)),
            When(newest_status=Status.READY, then=Value(WaitsFor.RELEASE)),
            When(unread_count__gt=0, then=Value(WaitsFor.READING)),
            When(newest_status=Status.DRAFT, then=Value(WaitsFor.READY)),
            When(newest_status=Status.RELEASED, then=Value(WaitsFor.NOTHING)),
            When(piece_count__gt=0, then=Value(WaitsFor.DETERMINATION)),
            default=Value(WaitsFor.PIECES),
            output_field=CharField(),
        )
    )


def _count(rows: QuerySet[Any]) -> Any:
    counted = rows.order_by().values("lot").annotate(n=Count("pk")).values("n")
    return Coalesce(Subquery(counted, output_field=IntegerField()), 0)
