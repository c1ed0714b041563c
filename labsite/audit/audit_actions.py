"""What the history tells about itself."""

from django.utils.translation import gettext_lazy as _

from labsite.audit.actions import declare

HISTORY_VERIFIED = declare("audit.history.verified", _("had the history verified"))
