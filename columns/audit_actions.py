"""What the history tells about columns, floats and calibrations."""

from django.utils.translation import gettext_lazy as _

from labsite.audit.actions import declare

BATH_ADDED = declare("columns.bath.added", _("added the bath"))
BATH_CHANGED = declare("columns.bath.changed", _("changed the bath"))
BATH_RETIRED = declare("columns.bath.retired", _("retired the bath"))
THERMOMETER_ADDED = declare("columns.thermometer.added", _("added the thermometer"))
THERMOMETER_CHANGED = declare("columns.thermometer.changed", _("changed the thermometer"))
TEMPERATURE_RECORDED = declare("columns.temperature.recorded", _("recorded a temperature"))
TEMPERATURE_AMENDED = declare("columns.temperature.amended", _("amended a temperature"))
TEMPERATURE_REPLACED = declare(
    "columns.temperature.replaced", _("marked the temperature as replaced")
)

COLUMN_ADDED = declare("columns.column.added", _("added the column"))
COLUMN_CHANGED = declare("columns.column.changed", _("changed the column"))
COLUMN_RETIRED = declare("columns.column.retired", _("retired the column"))
PAIR_ADDED = declare("columns.pair.added", _("added the liquid pair"))
PAIR_CHANGED = declare("columns.pair.changed", _("changed the liquid pair"))

FILL_PLANNED = declare("columns.fill.planned", _("planned the fill"))
FILL_CHANGED = declare("columns.fill.changed", _("changed the planned fill"))
FILL_POURED = declare("columns.fill.poured", _("poured the fill"))
FILL_SETTLING = declare("columns.fill.settling", _("left the fill to settle"))
FILL_OPENED = declare("columns.fill.opened", _("opened the fill"))
FILL_OPENED_EARLY = declare(
    "columns.fill.opened_early", _("opened the fill although not all conditions were met")
)
FILL_DRAINED = declare("columns.fill.drained", _("drained the fill"))

HOLD_PLACED = declare("columns.hold.placed", _("put the fill on hold"))
HOLD_LIFTED = declare("columns.hold.lifted", _("lifted the hold"))
PASS_STARTED = declare("columns.basket_pass.started", _("started a basket pass"))
PASS_FINISHED = declare("columns.basket_pass.finished", _("finished the basket pass"))

FLOAT_REGISTERED = declare("columns.float.registered", _("registered the float"))
FLOAT_CHANGED = declare("columns.float.changed", _("changed the float"))
FLOAT_RETIRED = declare("columns.float.retired", _("retired the float"))
FLOAT_PLACED = declare("columns.float.placed", _("placed the float in a fill"))
FLOAT_REMOVED = declare("columns.float.removed", _("took the float out of the fill"))
FLOAT_QUARANTINED = declare("columns.float.quarantined", _("put the float in quarantine"))
QUARANTINE_LIFTED = declare("columns.float.quarantine_lifted", _("ended the quarantine"))

CERTIFICATE_ADDED = declare("columns.certificate.added", _("added a certificate"))
CERTIFICATE_CHANGED = declare("columns.certificate.changed", _("corrected the certificate"))
DOCUMENT_ATTACHED = declare("columns.certificate.document_attached", _("attached a document"))

FLOAT_SET_SAVED = declare("columns.float_set.saved", _("saved a float set"))
FLOAT_SET_AMENDED = declare("columns.float_set.amended", _("amended a float set"))
FLOAT_SET_REPLACED = declare("columns.float_set.replaced", _("marked the float set as replaced"))
FLOAT_HEIGHT_SAVED = declare("columns.float_height.saved", _("read the float"))
CALIBRATION_COMPUTED = declare("columns.calibration.computed", _("computed a calibration"))
CALIBRATION_SUPERSEDED = declare(
    "columns.calibration.superseded", _("marked the calibration as superseded")
)

RULES_SET_UP = declare("columns.rules.set_up", _("set up the lab rules"))
RULES_CHANGED = declare("columns.rules.changed", _("changed the lab rules"))
REPEATABILITY_SET = declare("columns.repeatability.set", _("recorded a person's repeatability"))
REPEATABILITY_CHANGED = declare(
    "columns.repeatability.changed", _("changed a person's repeatability")
)

FLAG_RAISED = declare("columns.flag.raised", _("raised a flag"))
FLAG_CLEARED = declare("columns.flag.cleared", _("cleared the flag"))
