"""Words that scripts show: grouped, translated here, handed over by `{% page_words %}`."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

SHELL = {
    "api.no_network": _("No network. Nothing was saved; what you typed is still here."),
    "api.unreadable": _("The server answered with {status} and no reason."),
    "api.code": _("Code to quote: {code}"),
    "time.minutes": _("{minutes} min"),
    "time.hours": _("{hours} h {minutes}"),
    "time.whole_hours": _("{hours} h"),
    "time.days": _("{days} d"),
    "time.ago": _("{span} ago"),
    "poll.lost": _("No network since {time}. What you see is {span} old."),
    "poll.expired": _("What you see has expired. It is {span} old."),
    "undo.seconds": _("Undo, {seconds} s left"),
}
SHAPES = {
    "shape.square": _("square"),
    "shape.triangle": _("triangle"),
    "shape.bar": _("bar"),
    "shape.disc": _("disc"),
    "shape.notched": _("notched"),
    "shape.tee": _("T"),
    "age.today": _("dropped today"),
    "age.yesterday": _("dropped yesterday"),
    "age.older": _("older"),
}
OUTCOMES = {
    "outcome.at_rest": _("At rest"),
    "outcome.bubble": _("Bubble on it"),
    "outcome.not_at_rest": _("Not at rest"),
    "outcome.cannot_tell": _("Cannot tell which"),
    "outcome.off_top": _("Off the top"),
    "outcome.off_bottom": _("Off the bottom"),
}
TUBE = {
    **SHAPES,
    **OUTCOMES,
    "unit.density": _("g/cm³"),
    "unit.height": _("mm"),
    "flag.stop": _("Stop"),
    "flag.look": _("Look"),
    "flag.know": _("Know"),
    "tube.sentence": _(
        "Column {name}, {state}, no calibration in force, {floats} floats, {pieces} pieces read, "
        "{waiting} above the mouth"
    ),
    "tube.sentence_calibrated": _(
        "Column {name}, {state}, calibrated by {floats} floats, {pieces} pieces read, "
        "{waiting} above the mouth"
    ),
    "tube.sentence_read": _("Column {name} with its floats; tap the gap where the piece rests"),
    "tube.sentence_set": _("Column {name} with the heights typed so far"),
    "tube.float_at": _("Float {label} at {height} mm"),
    "tube.float_untyped": _("Float {label}, no height yet"),
    "tube.piece_at": _("{shape} of lot {lot} at {height} mm, {age}"),
    "tube.piece_density": _("{shape} of lot {lot} at {height} mm, {density} g/cm³, {age}"),
    "tube.piece_masked": _("{shape} of lot {lot}, read; shown when you have read yours"),
    "tube.tray_falling": _("{shape} of lot {lot}, still falling"),
    "tube.tray_ready": _("{shape} of lot {lot}, ready to read"),
    "tube.gaps": _("Gaps between the floats"),
    "tube.gap": _("Between {upper} and {lower}"),
    "tube.in_here": _("in here"),
    "tube.lens": _("lens, ×{times}"),
}
KEYPAD = {
    "keypad.clear": _("clear"),
    "keypad.delete": _("delete last digit"),
    "keypad.empty": _("nothing typed yet"),
    "keypad.group": _("number keys"),
}
AXIS = {
    **SHAPES,
    "unit.density": _("g/cm³"),
    "axis.sentence": _("{pieces} pieces on a density axis, mean {mean} g/cm³"),
    "axis.sentence_no_mean": _("{pieces} pieces on a density axis"),
    "axis.lower": _("lower limit {value}"),
    "axis.upper": _("upper limit {value}"),
    "axis.target": _("target {value}"),
    "axis.mean": _("mean of {count}"),
    "axis.unit": _("g/cm³ at 23 °C"),
    "axis.none": _("No density yet"),
    "axis.spread": _("spread {spread} g/cm³"),
}
BENCH = {
    "bench.ready": _("{count} ready"),
    "bench.falling": _("{count} falling"),
    "bench.next_ready": _("next ready {time}"),
    "bench.in_band": _("in band {span}"),
    "bench.out_of_band": _("out of band {span}"),
    "bench.unknown": _("unknown since {time}"),
    "bench.no_temperature": _("none yet"),
    "bench.read_next": _("Read next"),
    "bench.nothing_ready": _("Nothing is ready to read"),
    "bench.next_piece": _("{shape}, lot {lot} in {column}, {span} in"),
    "bench.piece_in": _("{shape} in {column}"),
}

GROUPS: dict[str, dict[str, object]] = {
    "shell": SHELL,
    "shapes": SHAPES,
    "outcomes": OUTCOMES,
    "tube": TUBE,
    "keypad": KEYPAD,
    "axis": AXIS,
    "bench": BENCH,
}
