"""Words that the script of the float set shows."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

FLOAT_SET = {
    "set.now": _("now {name}"),
    "set.temperature": _("{bath} temperature"),
    "set.temperature_unit": _("°C"),
    "set.count": _("{count} of {all} read"),
    "set.started": _("started {time}"),
    "set.off_scale": _("{value} mm is not on the scale: it goes from 0 to {length} mm."),
    "set.off_division": _("The scale is marked every {division} mm: {value} lies between marks."),
    "set.not_there": _("not there: {reason}"),
    "set.quarantined": _("in quarantine, may be left out"),
    "set.no_certificate": _("no valid certificate"),
    "set.was": _("was {value}"),
    "set.next": _("Next float"),
    "set.next_height": _("To the floats"),
    "set.last": _("All are in"),
    "set.save": _("Save set"),
    "set.save_amended": _("Replace the set"),
    "set.saving": _("Saving…"),
    "set.after_last": _("after the last float"),
    "set.missing": _("{count} still to read"),
    "set.no_temperature": _("Type the bath's temperature first."),
    "set.no_change": _("Nothing differs from the saved set yet."),
    "set.no_reason": _("Say why the set is changed."),
    "set.no_network": _(
        "No network: nothing was saved. The heights are still here. Save again when it is back; "
        "the time of saving is what counts."
    ),
    "set.signed_out": _("You were signed out: nothing was saved. The heights are kept for you."),
    "set.sign_in": _("Sign in again"),
    "set.draft": _("The heights that you had typed are back (started {time})."),
    "set.passes": _("The set passes: the column is calibrated"),
    "set.fails": _("The set is kept, and does not pass"),
    "set.no_thermometer": _("not named"),
    "set.touched_none": _("No determination rests on this set."),
    "set.touched": _("Rests on this set and is computed again:"),
    "set.touched_line": _("Lot {lot}, {status}"),
    "set.touched_released": _("Lot {lot}, released: goes to the lead as to be amended"),
    "set.status_draft": _("draft"),
    "set.status_ready": _("ready"),
    "set.status_released": _("released"),
    "set.gap": _("{upper} to {lower}"),
    "set.nothing_found": _("Nothing to look at."),
}

FIGURE_NAMES = {
    "correlation": _("Correlation of height and density"),
    "sensitivity": _("Sensitivity, g/cm³ per mm"),
}
