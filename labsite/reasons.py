"""A reason explains something: blanks and a dot do not."""

from __future__ import annotations

from django.utils.translation import gettext as _

from labsite.errors import RuleViolation

FEWEST_LETTERS = 3


def require_reason(text: str | None, *, field: str = "reason") -> str:
    """The trimmed reason; raises RuleViolation when it has fewer than three letters or digits."""
    text = (text or "").strip()
    if sum(char.isalnum() for char in text) < FEWEST_LETTERS:
        raise RuleViolation(
            "reason_required",
            _("Say why in a few words, for example “misread by 10 mm”."),
            fields={field: [_("a real reason is needed")]},
        )
    return text
