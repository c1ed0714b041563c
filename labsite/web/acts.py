"""Acts of a page: a form that calls one address of the API, described here, sent by acts.js."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Entry:
    """One field of an act.

    `kind` is text, long, decimal, whole, date, instant, choice, yes_no or file; `options` are
    (value, label) pairs. A field that may stay empty is not sent when it is; with `clears` it is
    sent as nothing, so that a change can take a value away.
    """

    name: str
    label: Any
    kind: str = "text"
    value: Any = ""
    unit: Any = ""
    hint: Any = ""
    required: bool = True
    options: Iterable[tuple[Any, Any]] = ()
    clears: bool = False

    @property
    def input_type(self) -> str:
        return {"date": "date", "instant": "datetime-local", "file": "file"}.get(self.kind, "text")

    @property
    def input_mode(self) -> str:
        return {"decimal": "decimal", "whole": "numeric"}.get(self.kind, "")

    @property
    def shown(self) -> str:
        return "" if self.value is None else str(self.value)


@dataclass(frozen=True)
class Act:
    """A form with one button. `etag` makes it a change of the version that the page showed."""

    key: str
    title: Any
    button: Any
    url: str
    entries: tuple[Entry, ...] = ()
    fixed: dict[str, Any] = field(default_factory=dict)
    etag: str = ""
    note: Any = ""
    cautions: tuple[Any, ...] = ()
    is_main: bool = False
    is_open: bool = False
    then: str = ""

    @property
    def method(self) -> str:
        return "PATCH" if self.etag else "POST"

    @property
    def fixed_id(self) -> str:
        return f"act-fixed-{self.key}"

    @property
    def fixed_data(self) -> dict[str, Any]:
        return {name: str(value) for name, value in self.fixed.items()}


def reason_entry(label: Any, hint: Any = "") -> Entry:
    return Entry("reason", label, "long", hint=hint)
