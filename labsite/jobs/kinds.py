"""The kinds of job: each app registers its own in its `tasks.py` with `@job("app.what")`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any


@dataclass(frozen=True)
class Kind:
    """What a job of this kind does and within which limits.

    `atomic`: the work and the mark "done" are one transaction, so that a job delivered twice or
    taken from a stalled worker has its effect once. Turn it off for long reads only.
    """

    code: str
    work: Callable[..., Any]
    attempts: int
    deadline: timedelta
    atomic: bool


_KINDS: dict[str, Kind] = {}


def job(
    code: str,
    *,
    attempts: int = 3,
    deadline: timedelta = timedelta(minutes=10),
    atomic: bool = True,
) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Register a function `work(run, **args)` as the work of jobs of the kind `code`.

    It may run more than once: it must lead to the same state each time. What it returns is kept
    as JSON. Loops of unknown length call `run.check_deadline()`.
    """

    def register(work: Callable[..., Any]) -> Callable[..., Any]:
        known = _KINDS.get(code)
        if known and (known.work.__module__, known.work.__qualname__) != (
            work.__module__,
            work.__qualname__,
        ):
            raise ValueError(f"the kind of job {code} is registered twice")
        _KINDS[code] = Kind(code, work, attempts, deadline, atomic)
        return work

    return register


def kind_of(code: str) -> Kind:
    """The kind registered as `code`; KeyError for an unknown one."""
    return _KINDS[code]


def registered() -> frozenset[str]:
    return frozenset(_KINDS)
