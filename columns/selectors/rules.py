"""The rules in force now, and the uncertainty of a height that follows from them."""

from __future__ import annotations

from decimal import Decimal

from columns.models import Column, LabRules, ReaderRepeatability
from columns.physics import height_standard_uncertainty
from columns.services.rules import set_up_lab_rules
from labsite.accounts.models import User


def lab_rules() -> LabRules:
    """The lab's rules; on the very first use they are set up with their defaults."""
    return LabRules.objects.first() or set_up_lab_rules()


def repeatability_mm(person: User) -> Decimal:
    """The person's own repeatability, or the lab's figure for people without one."""
    own = ReaderRepeatability.objects.filter(person=person).first()
    return own.standard_deviation_mm if own else lab_rules().height_repeatability_mm


def height_standard_uncertainty_mm(column: Column, person: User) -> float:
    """Standard uncertainty of one height: the scale's division and the person's repeatability."""
    return height_standard_uncertainty(column.scale_division_mm, float(repeatability_mm(person)))
