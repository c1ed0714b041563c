"""Findings about readings, densities and determinations, each with its level and its sentence.

A finding is kept as facts (code, value, limit, float) and told in the reader's language. Levels:
"stop" keeps a determination a draft, "look" asks the releasing person for a note, "know" is a
remark.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from django.utils.translation import gettext_lazy

from columns import instants

STOP, LOOK, KNOW = "stop", "look", "know"

SENTENCES: dict[str, tuple[str, Any]] = {
    "curve_disagrees": (
        LOOK,
        gettext_lazy(
            "Bracketing and curve differ by %(value)s g/cm³, more than their combined uncertainty "
            "explains (%(limit)s g/cm³)."
        ),
    ),
    "no_curve": (KNOW, gettext_lazy("Too few floats for a curve: there is no second opinion.")),
    "bracket_float_misfit": (
        LOOK,
        gettext_lazy(
            "%(float)s, one of the two neighbouring floats, did not fit the other floats."
        ),
    ),
    "no_calibration": (STOP, gettext_lazy("No calibration was in force. %(value)s")),
    "override_closed": (
        LOOK,
        gettext_lazy("The specimen was dropped although the column was not open: %(value)s"),
    ),
    "outside_readable": (
        LOOK,
        gettext_lazy("%(value)s mm lies outside the readable part of the scale (%(limit)s mm)."),
    ),
    "second_look_due": (
        STOP,
        gettext_lazy("A film is looked at again, from %(at)s on, before its reading counts."),
    ),
    "second_look_differs": (
        LOOK,
        gettext_lazy(
            "Between the first and the second look the film moved %(value)s mm; two readings of a "
            "resting piece agree within %(limit)s mm."
        ),
    ),
    "found_with_help": (
        LOOK,
        gettext_lazy("The specimen was found with the help of its expected place."),
    ),
    "density_seen": (
        KNOW,
        gettext_lazy("The reader had already seen a density of this lot before this reading."),
    ),
    "too_few_specimens": (
        STOP,
        gettext_lazy("%(value)s counted; the grade asks for %(limit)s specimens."),
    ),
    "figure_missing": (
        STOP,
        gettext_lazy("The grade reports the curve, and a counted specimen has no curve figure."),
    ),
    "scatter_not_seen": (
        KNOW,
        gettext_lazy(
            "One specimen alone shows no scatter and the grade has no pooled repeatability: the "
            "uncertainty holds the height reading only."
        ),
    ),
    "scatter_above_pooled": (
        LOOK,
        gettext_lazy("The specimens differ more than the grade's pooled repeatability explains."),
    ),
    "spread_too_large": (
        LOOK,
        gettext_lazy("The specimens range over %(value)s g/cm³; the grade allows %(limit)s g/cm³."),
    ),
    "same_height_repeated": (
        KNOW,
        gettext_lazy("Same reading %(value)s times? All counted specimens rest at %(limit)s mm."),
    ),
    "specimens_set_aside": (
        LOOK,
        gettext_lazy("Specimens with a density were set aside: %(value)s"),
    ),
    "expansion_not_known": (
        KNOW,
        gettext_lazy(
            "The grade's thermal expansion is not known: the temperature part takes the largest "
            "one, %(limit)s per K."
        ),
    ),
}
_UNKNOWN = (LOOK, gettext_lazy("Finding %(code)s."))


def finding(code: str, **facts: Any) -> dict[str, Any]:
    """A finding as it is stored: figures as text, since canonical JSON holds no floats."""
    if code not in SENTENCES:
        raise KeyError(code)
    return {"code": code} | {name: str(value) for name, value in facts.items()}


def level_of(code: str) -> str:
    return SENTENCES.get(code, _UNKNOWN)[0]


def told(findings: Iterable[Mapping[str, Any]]) -> list[dict[str, str]]:
    """Findings for a page or an answer: code, level and sentence."""
    return [
        {"code": each["code"], "level": level_of(each["code"]), "text": _sentence(each)}
        for each in findings
    ]


def any_at(level: str, findings: Iterable[Mapping[str, Any]]) -> bool:
    return any(level_of(each["code"]) == level for each in findings)


def _sentence(found: Mapping[str, Any]) -> str:
    facts = {"code": "", "value": "", "limit": "", "float": "", "at": "", **found}
    if facts["at"]:
        facts["at"] = instants.told(datetime.fromisoformat(facts["at"]))
    return str(SENTENCES.get(found["code"], _UNKNOWN)[1]) % facts
