"""Findings of a calibration: which of them bar release, and the sentence of each.

A finding is stored as facts (code, float, value, limit), so that it can be told in any language.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext_lazy as _

# Our own findings: a set with one of them is kept, but no density is released from it.
BLOCKING = frozenset(
    {
        "certificate_lapsed",
        "certificate_future",
        "certificate_missing",
        "temperature_out",
        "pass_running",
        "pass_hold_off",
        "excursion_hold_off",
        "correlation_low",
        "below_minimum_floats",
    }
)

SENTENCES: dict[str, Any] = {
    "certificate_lapsed": _("The certificate of %(float)s lapsed on %(value)s."),
    "certificate_future": _("The certificate of %(float)s is valid only from %(value)s."),
    "certificate_missing": _("%(float)s has no certificate; it was left out of the calibration."),
    "float_quarantined": _("%(float)s is in quarantine; it was left out of the calibration."),
    "float_missing": _("%(float)s has no height: %(value)s."),
    "temperature_out": _("The bath was at %(value)s °C; allowed is %(limit)s °C."),
    "pass_running": _("A basket pass was running when the floats were read."),
    "pass_hold_off": _("The floats were read within the hold-off after a basket pass (%(limit)s)."),
    "excursion_hold_off": _(
        "The floats were read within the hold-off after a temperature excursion (%(limit)s)."
    ),
    "correlation_low": _(
        "The correlation of height and density is %(value)s; at least %(limit)s is asked for."
    ),
    "sensitivity_coarse": _(
        "One millimetre stands for %(value)s g/cm³; %(limit)s g/cm³ is the coarsest for the "
        "accuracy of the method."
    ),
    "too_few_floats_for_curve": _(
        "%(value)s floats give densities between neighbours but no curve; a curve needs %(limit)s."
    ),
    "below_minimum_floats": _("%(value)s floats were read; at least %(limit)s are asked for."),
    "float_misfit": _(
        "%(float)s stands %(value)s standard uncertainties off the place where the other floats "
        "put its density. Read it again."
    ),
    "same_document": _("The same document is already attached to another certificate."),
}
_FALLBACK = _("Finding %(code)s.")


def is_blocking(code: str) -> bool:
    return code in BLOCKING


def sentence(finding: Mapping[str, Any]) -> str:
    """The finding in words, in the language of the reader."""
    facts = {"code": "", "float": "", "value": "", "limit": "", **finding}
    return str(SENTENCES.get(finding["code"], _FALLBACK)) % facts
