"""Refusals of the physics, told in the reader's language."""

from __future__ import annotations

from django.utils.translation import gettext_lazy

from columns.physics.errors import PhysicsError
from labsite.errors import RuleViolation

CAUSES = {
    "lines_swapped": gettext_lazy(
        "%(floats)s are out of order: two lines swapped? Exchanging their heights restores it."
    ),
    "scale_origin": gettext_lazy(
        "Every denser float stands above a lighter one: scale origin? The heights would be right "
        "if the scale were read from its other end."
    ),
    "unknown": gettext_lazy(
        "A denser float stands above a lighter one at %(floats)s. Read these floats again."
    ),
}
REFUSALS = {
    "float_heights_equal": gettext_lazy(
        "%(floats)s are at the same height, which gives no slope between them. Check both lines, "
        "or leave one float out and say why."
    ),
    "float_densities_equal": gettext_lazy(
        "%(floats)s have the same certified density, which gives no slope between them."
    ),
    "too_few_floats": gettext_lazy(
        "%(value)s floats with a certificate give no density; at least %(limit)s are needed."
    ),
    "height_outside_liquid": gettext_lazy(
        "%(floats)s at %(value)s mm lies outside the liquid of this fill."
    ),
    "duplicate_float": gettext_lazy("%(floats)s is in the set twice; enter each float once."),
}


def as_refusal(error: PhysicsError, *, field: str = "heights") -> RuleViolation:
    """A refusal of the physics in the reader's language, naming the floats concerned."""
    cause = getattr(error, "cause", None)
    text = CAUSES.get(cause) or REFUSALS.get(error.code)
    words = {"floats": ", ".join(error.floats), "value": error.value, "limit": error.limit}
    message = text % words if text else error.message
    extra = {"floats": list(error.floats)}
    if cause:
        extra["cause"] = cause
    return RuleViolation(error.code, message, fields={field: [message]}, **extra)
