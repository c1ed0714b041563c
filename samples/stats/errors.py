"""Errors of the statistics: each is also a ValueError and carries a stable code."""


class StatsError(Exception):
    """Base of all refusals in this package."""

    code = "stats"

    def __init__(self, message, *, value=None, limit=None, source=None):
        super().__init__(message)
        self.message = message
        self.value = value
        self.limit = limit
        self.source = source


class NotEnoughValues(StatsError, ValueError):
    """Fewer values than the statistic needs."""

    code = "not_enough_values"


class ValueNotValid(StatsError, ValueError):
    """A value, limit or probability that cannot be."""

    code = "value_not_valid"
