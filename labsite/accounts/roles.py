"""Who may do what: the one table of role × action.

Pages, API, tasks and the admin ask it through `labsite.accounts.permissions`; what is not
granted here is denied. Rules about a particular object ("not your own reading") stay with the
service that changes it.
"""

from __future__ import annotations

from django.db.models import TextChoices
from django.utils.translation import gettext_lazy as _


class Role(TextChoices):
    TECHNICIAN = "technician", _("technician")
    SHIFT_LEAD = "shift_lead", _("shift lead")
    MANAGER = "manager", _("manager")
    AUDITOR = "auditor", _("auditor")
    ADMINISTRATOR = "administrator", _("administrator")


class Action(TextChoices):
    KEEP_OWN_ACCOUNT = "keep_own_account", _("change one's own password and API tokens")
    VIEW_LAB = "view_lab", _("see columns, floats, lots and results")
    VIEW_HISTORY = "view_history", _("see the history")
    COMPUTE = "compute", _("use the stateless calculations")
    VERIFY_HISTORY = "verify_history", _("have the history verified")

    RECORD_COLUMN_WORK = "record_column_work", _("record pours, floats, passes and temperatures")
    RECORD_FLOAT_SET = "record_float_set", _("record and amend float sets")
    PLACE_HOLD = "place_hold", _("put a fill on hold, quarantine a float")
    LIFT_HOLD = "lift_hold", _("lift a hold, release a float from quarantine")
    MANAGE_EQUIPMENT = "manage_equipment", _("keep baths, columns, floats and certificates")

    REGISTER_LOT = "register_lot", _("register lots")
    MEASURE = "measure", _("drop and read specimens, prepare determinations")
    OVERRIDE_CLOSED = "override_closed", _("drop into a column that is not open, with a reason")
    RELEASE = "release", _("release and amend determinations")
    IMPORT_RECORDS = "import_records", _("import records from paper or files")

    MANAGE_GRADES = "manage_grades", _("keep grades, limits and preparation recipes")
    MANAGE_RULES = "manage_rules", _("set the lab's metrological rules")
    MANAGE_ACCOUNTS = "manage_accounts", _("keep people's accounts")


_EVERYBODY = {
    Action.KEEP_OWN_ACCOUNT,
    Action.VIEW_LAB,
    Action.VIEW_HISTORY,
    Action.COMPUTE,
}
_TECHNICIAN = _EVERYBODY | {
    Action.RECORD_COLUMN_WORK,
    Action.RECORD_FLOAT_SET,
    Action.PLACE_HOLD,
    Action.REGISTER_LOT,
    Action.MEASURE,
    Action.IMPORT_RECORDS,
}
_SHIFT_LEAD = _TECHNICIAN | {
    Action.LIFT_HOLD,
    Action.MANAGE_EQUIPMENT,
    Action.OVERRIDE_CLOSED,
    Action.RELEASE,
}
_MANAGER = _SHIFT_LEAD | {
    Action.MANAGE_GRADES,
    Action.MANAGE_RULES,
    Action.VERIFY_HISTORY,
}

GRANTS: dict[Role, frozenset[Action]] = {
    Role.TECHNICIAN: frozenset(_TECHNICIAN),
    Role.SHIFT_LEAD: frozenset(_SHIFT_LEAD),
    Role.MANAGER: frozenset(_MANAGER),
    Role.AUDITOR: frozenset(_EVERYBODY | {Action.VERIFY_HISTORY}),
    Role.ADMINISTRATOR: frozenset(_EVERYBODY | {Action.MANAGE_ACCOUNTS, Action.VERIFY_HISTORY}),
}
