"""What the history tells about grades, lots, specimens, readings and determinations."""

from django.utils.translation import gettext_lazy as _

from labsite.audit.actions import declare

RECIPE_ADDED = declare("samples.recipe.added", _("added the preparation recipe"))
RECIPE_CHANGED = declare("samples.recipe.changed", _("changed the preparation recipe"))
RECIPE_RETIRED = declare("samples.recipe.retired", _("retired the preparation recipe"))
GRADE_ADDED = declare("samples.grade.added", _("added the grade"))
GRADE_CHANGED = declare("samples.grade.changed", _("changed the grade"))
GRADE_RETIRED = declare("samples.grade.retired", _("retired the grade"))

LOT_REGISTERED = declare("samples.lot.registered", _("registered the lot"))
LOT_CHANGED = declare("samples.lot.changed", _("changed the lot"))

SPECIMEN_DROPPED = declare("samples.specimen.dropped", _("dropped the specimen"))
SPECIMEN_DROPPED_BY_OVERRIDE = declare(
    "samples.specimen.dropped_by_override",
    _("dropped the specimen into a column that was not open"),
)
SPECIMEN_TAKEN_OVER = declare("samples.specimen.taken_over", _("took the specimen over"))
SPECIMEN_REMOVED = declare("samples.specimen.removed", _("removed the specimen by a basket pass"))
SPECIMEN_DRAINED = declare("samples.specimen.drained", _("removed the specimen with the fill"))

READING_RECORDED = declare("samples.reading.recorded", _("recorded the reading"))
READING_WITHDRAWN = declare("samples.reading.withdrawn", _("withdrew the reading"))
READING_AMENDED = declare("samples.reading.amended", _("amended the reading"))
READING_REPLACED = declare("samples.reading.replaced", _("replaced the reading by an amended one"))
RESULT_COMPUTED = declare("samples.result.computed", _("computed the density"))
RESULT_SUPERSEDED = declare("samples.result.superseded", _("superseded the density"))

DETERMINATION_PREPARED = declare("samples.determination.prepared", _("prepared the determination"))
DETERMINATION_PART_ADDED = declare(
    "samples.determination.part_added", _("took the specimen into the determination")
)
DETERMINATION_READY = declare("samples.determination.ready", _("marked the determination ready"))
DETERMINATION_RELEASED = declare("samples.determination.released", _("released the determination"))
DETERMINATION_REPLACED = declare(
    "samples.determination.replaced", _("replaced the determination by a newer issue")
)
DETERMINATION_AMENDED = declare(
    "samples.determination.amended", _("amended the determination by a new issue")
)
DETERMINATION_RECOMPUTED = declare(
    "samples.determination.recomputed", _("recomputed the determination as a new issue")
)
DETERMINATION_TO_BE_AMENDED = declare(
    "samples.determination.to_be_amended", _("flagged the determination as to be amended")
)
