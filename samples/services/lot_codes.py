"""Lot codes as people type them: trimmed, in capitals, in one script, with doubts told."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from django.utils.translation import gettext as _

from labsite.errors import RuleViolation

LONGEST = 40
SIGNS = set("-_./#+: ")
MONTHS = "JAN|FEB|MAR|APR|MAY|JUN|JUL|AUG|SEP|OCT|NOV|DEC"
# What spreadsheets turn into a date or a number: 3-4, 2026-03-04, 3.4.26, MAR-1, 1-MAR, 1E5.
DATE_LIKE = re.compile(
    rf"\d{{1,2}}[-/.]\d{{1,2}}(?:[-/.]\d{{2,4}})?|\d{{4}}[-/.]\d{{1,2}}(?:[-/.]\d{{1,2}})?"
    rf"|(?:{MONTHS})[A-Z]*[-/. ]?\d{{1,4}}|\d{{1,4}}[-/. ]?(?:{MONTHS})[A-Z]*(?:[-/. ]?\d{{2,4}})?"
    r"|\d+E\d+"
)
# Capitals of other scripts that look like Latin ones.
LOOK_ALIKE = set("АВЕЅІЈКМНОРСТУХ" + "ΑΒΕΖΗΙΚΜΝΟΡΤΥΧ")


@dataclass(frozen=True)
class Doubt:
    code: str
    message: str


def normalise(text: str) -> str:
    """Trimmed, composed, in capitals: what is typed and what is stored meet here."""
    return " ".join(unicodedata.normalize("NFC", text).upper().split())


def clean_lot_code(text: str) -> str:
    """The code as it is stored; raises RuleViolation for what cannot be a code."""
    code = normalise(text)
    if not code or len(code) > LONGEST:
        _refuse(
            "lot_code_length", _("A lot code has 1 to %(most)s characters.") % {"most": LONGEST}
        )
    for char in code:
        _check_character(char)
    if not code[0].isalnum():
        _refuse("lot_code_characters", _("A lot code begins with a letter or a digit."))
    scripts = {_script(char) for char in code if char.isalpha()}
    if len(scripts) > 1:
        _refuse(
            "lot_code_mixed_scripts",
            _("The code %(code)s mixes letters of different scripts that look alike: %(scripts)s.")
            % {"code": code, "scripts": ", ".join(sorted(scripts))},
        )
    return code


def doubts_about(code: str) -> list[Doubt]:
    """What a person should confirm about a cleaned code."""
    found = []
    if DATE_LIKE.fullmatch(code):
        found.append(
            Doubt(
                "lot_code_date_like",
                _("%(code)s looks like a date or number that a spreadsheet made.") % {"code": code},
            )
        )
    letters = [char for char in code if char.isalpha()]
    if letters and all(char in LOOK_ALIKE for char in letters):
        found.append(
            Doubt(
                "lot_code_look_alike",
                _("All letters of %(code)s are %(script)s ones that look like Latin letters.")
                % {"code": code, "script": _script(letters[0])},
            )
        )
    return found


def _check_character(char: str) -> None:
    if char in SIGNS or (char.isascii() and char.isalnum()):
        return
    if char.isalpha() and not unicodedata.name(char, "").startswith(("FULLWIDTH", "MATHEMATICAL")):
        return
    shown = char if char.isprintable() else f"U+{ord(char):04X}"
    _refuse(
        "lot_code_characters",
        _("%(char)s cannot be in a lot code. Use letters, digits, spaces and - _ . / # + :")
        % {"char": shown},
    )


def _script(char: str) -> str:
    return unicodedata.name(char, "?").split()[0].title()


def _refuse(code: str, message: str) -> None:
    raise RuleViolation(code, message, fields={"code": [_("not a lot code")]})
