"""Words that the scripts of these pages show; `{% page_words … extra=words %}` hands them over."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

BENCH = {
    "bench.flag": _("{column}: {text}"),
    "bench.more_flags": _("and {count} more"),
}
COLUMN = {
    "column.measures": _("Measures {low} to {high} g/cm³ until {time}"),
    "column.fill": _("Fill"),
    "column.day": _("day {day}"),
    "column.float_set": _("Float set"),
    "column.read_by": _("{time}, {name}"),
    "column.valid": _("valid to {time}"),
    "column.not_in_force": _("not in force"),
    "column.sensitivity": _("Sensitivity"),
    "column.sensitivity_unit": _("g/cm³ per mm"),
    "column.set_line": _("{time}, {name}, bath at {temperature} °C"),
    "column.no_set": _("No float set was read in this fill yet."),
    "column.history": _("Heights of the floats in {sets} float sets of this fill"),
    "column.ready": _("ready to read"),
    "column.falling": _("falling, ready at {time}"),
    "column.masked": _("read; shown when you have read yours"),
}
READ = {
    "read.title": _("{shape}, {lot}"),
    "read.dropped": _("dropped {time}, {span} in the liquid"),
    "read.second_look": _("second look, dropped {time}, {span} in the liquid"),
    "read.not_mine": _("dropped by {name}"),
    "read.lot_read": _("{read} of {of} read"),
    "read.origin_bottom": _("Zero at the bottom. Scale read to {division} mm."),
    "read.origin_top": _("Zero at the top, heights grow downward. Scale read to {division} mm."),
    "read.ask": _("type the height of its middle"),
    "read.ask_in_gap": _("type its middle, between {upper} and {lower}"),
    "read.not_saved": _("Not saved. {why}"),
    "read.no_floats": _("No float set passed yet: there is no gap to tap."),
    "read.falling": _(
        "Still falling until {time}. A height read now is kept as “not at rest” and gives no "
        "density."
    ),
    "read.read_before": _("It was read before. This is one more reading of it."),
    "read.removed": _("This piece was taken out of the column. There is nothing to read."),
    "read.save": _("Save"),
    "read.save_height": _("density appears after saving"),
    "read.save_outcome": _("{outcome}, no density"),
    "read.saving": _("Saving…"),
    "read.tap_gap": _("Tap the gap first: between which two floats do you see it?"),
    "read.type_height": _("Type the height of its middle, or choose what you see instead."),
    "read.no_network": _(
        "No network: nothing was saved. {value} is still here. Press Save again when the network "
        "is back; the time of saving is what counts."
    ),
    "read.signed_out": _("You were signed out: nothing was saved. What you typed is kept for you."),
    "read.sign_in": _("Sign in again"),
    "read.take": _("Take {height} mm"),
    "read.your_draft": _("What you had typed before is back. Check it before you save."),
    "read.undone": _(
        "Undone. What you type next is marked: the density had been seen before it was typed."
    ),
    "read.undo": _("Undo"),
    "read.height": _("{height} mm in {column}"),
    "read.no_density": _("No density"),
    "read.lighter": _("lighter than {float}"),
    "read.denser": _("denser than {float}"),
    "read.kept": _("The reading is kept."),
    "read.curve": _("Curve through all floats: {density} g/cm³"),
    "read.expected": _("The grade is expected at {density} g/cm³"),
    "read.expected_at": _("The grade is expected at {density} g/cm³, here {height} mm"),
    "read.left": _("{count} of this lot still to be read"),
    "read.left_none": _("All pieces of this lot are read"),
    "read.next": _("Read next"),
    "read.next_detail": _("{shape}, lot {lot} in {column}"),
    "read.none_ready": _("Nothing is ready to read"),
    "read.none_ready_until": _("Nothing is ready to read. The next piece is ready at {time}."),
    "read.faster": _("{name} read it at {time}, while you were typing"),
    "read.first_value": _("{name} read"),
    "read.own_value": _("You typed"),
    "read.hidden": _("shown when you have read yours"),
}
DROP = {
    "drop.lot_new": _("Lot {code} is not registered yet. Choose its grade to register it."),
    "drop.lot_found": _("{code}, {grade}"),
    "drop.tested": _("It has a determination already ({status}). Drop again only to repeat it."),
    "drop.status_draft": _("draft"),
    "drop.status_ready": _("ready"),
    "drop.status_released": _("released"),
    "drop.confirm": _("It is right, register it"),
    "drop.recipe": _("{name}, {form}"),
    "drop.thickness": _("{form}, {thickness} mm thick"),
    "drop.form_pellet": _("pellet"),
    "drop.form_strand": _("strand"),
    "drop.form_moulded": _("moulded piece"),
    "drop.form_film": _("film"),
    "drop.form_other": _("other"),
    "drop.wait_own": _("Read it {minutes} min after the drop (the recipe's own wait)."),
    "drop.wait": _("When it may be read follows from form and thickness."),
    "drop.needs": _("The grade asks for {count} pieces."),
    "drop.covers": _("holds the grade's density"),
    "drop.covers_not": _("the grade's density lies outside its floats"),
    "drop.covers_unknown": _("no calibration in force: nobody knows"),
    "drop.best": _("best"),
    "drop.clear": _("no piece near"),
    "drop.crowd": _("pieces near: {count}"),
    "drop.band": _("It will come to rest about {low} to {high} mm."),
    "drop.band_masked": _("You still read pieces of this lot, so its place is not told."),
    "drop.not_open": _("Not open: {names}"),
    "drop.closed": _("Not open: {note}"),
    "drop.piece": _("Piece {number}"),
    "drop.shape_use": _("{near} near, {all} in the column"),
    "drop.now": _("Dropped now"),
    "drop.now_detail": _("{shapes} into {column}"),
    "drop.sending": _("Saving…"),
    "drop.choose_column": _("Choose a column first."),
    "drop.check_first": _("Wet them and look for bubbles first, then tick it."),
    "drop.say_why": _("This column is not open. Say why you drop all the same."),
    "drop.no_network": _(
        "No network: nothing was saved. If the pieces are in, press again when it is back; the "
        "wait then begins at that time."
    ),
    "drop.done": _("{count} of {code} in {column}"),
    "drop.ready_at": _("Ready to read at {time}"),
    "drop.second_look": _("Films are looked at again from {time} on"),
    "drop.signed_out": _("You were signed out: nothing was saved."),
    "drop.sign_in": _("Sign in again"),
    "drop.is_something_else": _("{code} is not a lot code."),
}
