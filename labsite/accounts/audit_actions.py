"""What the history tells about accounts."""

from django.utils.translation import gettext_lazy as _

from labsite.audit.actions import declare

PERSON_ADDED = declare("accounts.person.added", _("added the account"))
PERSON_CHANGED = declare("accounts.person.changed", _("changed the account"))
PERSON_CLOSED = declare("accounts.person.closed", _("closed the account"))
PERSON_REOPENED = declare("accounts.person.reopened", _("reopened the account"))
SESSIONS_ENDED = declare("accounts.person.sessions_ended", _("ended all sign-ins"))
PASSWORD_CHANGED = declare("accounts.password.changed", _("changed the password"))
PASSWORD_RESET = declare("accounts.password.reset", _("reset the password"))
SIGNED_IN = declare("accounts.person.signed_in", _("signed in"))
SIGNED_IN_DEMO = declare("accounts.person.signed_in_demo", _("signed in from the demo list"))
SIGN_IN_REFUSED = declare("accounts.person.sign_in_refused", _("refused a sign-in"))
SIGNED_OUT = declare("accounts.person.signed_out", _("signed out"))
TOKEN_MADE = declare("accounts.token.made", _("made an API token"))
TOKEN_REVOKED = declare("accounts.token.revoked", _("revoked an API token"))
ACTION_REFUSED = declare("accounts.action.refused", _("was refused an action"))
