"""What is said of a determination against its limits; the rule itself is the lab's to set."""

from __future__ import annotations

from django.utils.translation import gettext as _


def decision_word(code: str) -> str:
    """Without limits "no rule"; with limits nothing is decided here. Neither is a pass."""
    return {"no_rule": _("no rule"), "not_decided": _("not decided")}[code]
