"""When something is said to have happened: not in the future, not before what must precede it."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from columns.instants import told_in_full
from labsite.errors import RuleViolation

CLOCKS_APART = timedelta(minutes=2)


def moment(at: datetime | None, now: datetime, *, field: str) -> datetime:
    """`at`, or now without one; raises RuleViolation when it is over two minutes ahead.

    A time up to two minutes ahead is a device whose clock runs fast: it counts as now.
    """
    if at is None:
        return now
    if at > now + CLOCKS_APART:
        raise RuleViolation(
            "time_in_future",
            _("%(at)s is in the future: the server's clock says %(now)s. Check date and time.")
            % {"at": told_in_full(at), "now": told_in_full(now)},
            fields={field: [_("in the future")]},
        )
    return min(at, now)


def refuse_before(
    at: datetime, earliest: datetime | None, *, code: str, field: str, what: str
) -> None:
    """Raise RuleViolation when `at` lies before `earliest`, the time of `what`."""
    if earliest is not None and at < earliest:
        raise RuleViolation(
            code,
            _("%(at)s is before %(what)s (%(earliest)s). Check both times.")
            % {"at": told_in_full(at), "what": what, "earliest": told_in_full(earliest)},
            fields={field: [_("too early")]},
        )
