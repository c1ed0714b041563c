"""What the history tells of imports."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from labsite.audit.actions import declare

FILE_IMPORTED = declare("reports.import.saved", _("imported a file"))
