"""The kinds of import, in the order in which a lab needs them."""

from __future__ import annotations

from django.utils.translation import gettext as _

from labsite.errors import RuleViolation
from reports.imports.kinds.base import Kind
from reports.imports.kinds.float_sets import FloatSetsKind
from reports.imports.kinds.floats import FloatsKind
from reports.imports.kinds.specimen_heights import SpecimenHeightsKind

KINDS: tuple[Kind, ...] = (FloatsKind(), FloatSetsKind(), SpecimenHeightsKind())


def kind_named(code: str) -> Kind:
    for kind in KINDS:
        if kind.code == code:
            return kind
    raise RuleViolation(
        "kind_unknown",
        _("There is no such kind of import. Choose one of: %(codes)s.")
        % {"codes": ", ".join(kind.code for kind in KINDS)},
        fields={"kind": [_("unknown")]},
    )
