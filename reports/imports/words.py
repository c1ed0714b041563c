"""Words that the imports page's script shows."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

WORDS = {
    "imports.choose_file": _("Choose a file first."),
    "imports.reading": _("Reading the file…"),
    "imports.saving": _("Saving all rows…"),
    "imports.title_ready": _("{file}: {rows} rows, all can be saved"),
    "imports.title_bad": _("{file}: nothing can be saved yet, {count} cells or rows are not right"),
    "imports.title_question": _("{file}: one question before it can be read"),
    "imports.title_earlier": _("{file} was imported already"),
    "imports.earlier": _("{who} imported this same file on {when}, as {file}: {counts}."),
    "imports.would_make": _("This makes {counts}."),
    "imports.first_rows": _("The first {shown} of {rows} rows, as understood"),
    "imports.all_rows": _("All {rows} rows, as understood"),
    "imports.row": _("Row"),
    "imports.column": _("Column"),
    "imports.found": _("Found"),
    "imports.expected": _("Expected"),
    "imports.look": _("Look at"),
    "imports.not_read": _("not read"),
    "imports.whole_row": _("whole row"),
    "imports.empty": _("empty"),
    "imports.more_bad": _("{count} more are in the list to download."),
    "imports.save": _("Save all {rows} rows"),
    "imports.saved": _("Saved: {counts}, from {file}."),
    "imports.choose": _("choose"),
    "imports.bad_file": _("rows to put right"),
    "imports.guess.encoding": _("Letters"),
    "imports.guess.delimiter": _("Between the columns"),
    "imports.guess.sheet": _("Sheet"),
    "imports.guess.decimal_mark": _("Decimal mark"),
    "imports.guess.date_order": _("Days"),
    "imports.guess.time_zone": _("Clock times"),
    "imports.guess.layout": _("Layout"),
    "imports.guess.units": _("Units"),
}
