"""Entries in plain words: field names as on the forms, values as people read them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Any

from django.apps import apps
from django.db import models
from django.utils.dateparse import parse_datetime
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from labsite.audit.actions import declared
from labsite.audit.selectors import Told, labels_of
from labsite.web.templatetags.numbers import decimal
from labsite.web.templatetags.times import in_full

SILENT = {"id", "version", "created_at"}  # true, and of no use to a reader
LONG = 160
NOTHING = "–"


@dataclass(frozen=True)
class Line:
    """One field of one entry: what it was, what it became."""

    name: str
    old: str
    new: str
    is_long: bool


@dataclass(frozen=True)
class Story:
    """One entry as the page tells it."""

    told: Told
    sentence: str
    kind: str  # what sort of thing it happened to
    about_self: bool  # the person did it to their own account
    lines: list[Line]
    noted: list[Line]
    is_first: bool

    @property
    def entry(self) -> Any:
        return self.told.entry

    @property
    def alike(self) -> tuple[Any, ...]:
        return (self.entry.actor_id, self.entry.at, self.entry.action)

    @property
    def is_plain(self) -> bool:
        facts = self.told.facts
        told_more = facts["reason"] or facts["device_at"] or self.noted or self.told.masked
        return self.is_first and not told_more


@dataclass(frozen=True)
class Run:
    """Entries of one act that read alike, such as nine heights of one float set."""

    stories: list[Story]

    @property
    def first(self) -> Story:
        return self.stories[0]


def runs(told: list[Story]) -> list[Run]:
    """Neighbouring new things of the same kind, by the same person at the same instant."""
    groups = groupby(told, lambda story: story.alike)
    return [Run(one) for _alike, group in groups for one in _split(list(group))]


def _split(group: list[Story]) -> list[list[Story]]:
    """What changed, was explained or is hidden stands for itself."""
    if all(story.is_plain for story in group):
        return [group]
    return [[story] for story in group]


def sentence(action: str) -> str:
    """The words for an action; a code that this version no longer declares tells itself."""
    return str(declared().get(action, action))


def kind_word(object_type: str) -> str:
    model = _model(object_type)
    return str(model._meta.verbose_name) if model else object_type


def _model(object_type: str) -> type[models.Model] | None:
    try:
        return apps.get_model(object_type)
    except (LookupError, ValueError):
        return None


def fields_of(object_type: str) -> dict[str, models.Field]:
    model = _model(object_type)
    return {field.attname: field for field in model._meta.concrete_fields} if model else {}


def stories(told: list[Told]) -> list[Story]:
    """All entries of a page; the names of the things they refer to cost one query."""
    labels = labels_of(_references(told))
    return [_story(one, labels) for one in told]


def _references(told: list[Told]) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for one in told:
        fields = fields_of(one.entry.object_type)
        for name, value in [*one.facts["old"].items(), *one.facts["new"].items()]:
            field = fields.get(name)
            if value and field is not None and field.is_relation:
                found.setdefault(field.related_model._meta.label_lower, set()).add(value)
    return found


def _story(one: Told, labels: dict[str, str]) -> Story:
    entry, facts = one.entry, one.facts
    fields = fields_of(entry.object_type)
    changed = [
        _line(name, fields.get(name), facts["old"].get(name), facts["new"].get(name), labels)
        for name in facts["new"]
        if name not in SILENT
    ]
    is_first = bool(facts["new"]) and not facts["old"]
    return Story(
        told=one,
        sentence=sentence(entry.action),
        kind=kind_word(entry.object_type),
        about_self=entry.object_id == entry.actor_id,
        lines=[line for line in changed if not (is_first and line.new == NOTHING)],
        noted=[_line(name, None, None, value, labels) for name, value in facts["noted"].items()],
        is_first=is_first,
    )


def _line(
    name: str, field: models.Field | None, old: Any, new: Any, labels: dict[str, str]
) -> Line:
    before, after = value_word(field, old, labels), value_word(field, new, labels)
    word = str(field.verbose_name) if field is not None else name.replace("_", " ")
    return Line(word, before, after, len(before) > LONG or len(after) > LONG)


def value_word(field: models.Field | None, value: Any, labels: dict[str, str]) -> str:
    """A canonical value of the history as a person reads it."""
    if value is None or value == "":
        return NOTHING
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if value == "masked":
        return _("not kept in the history")
    if field is None:
        return str(value)
    if field.is_relation:
        return labels.get(str(value), str(value))
    if field.choices:
        return str(dict(field.flatchoices).get(value, value))
    return _typed(field, value)


def _typed(field: models.Field, value: Any) -> str:
    if isinstance(field, models.DecimalField):
        return decimal(value)
    if isinstance(field, models.DateTimeField):
        return in_full(parse_datetime(value))
    if isinstance(field, models.DateField):
        return date_format(date.fromisoformat(value), "j M Y")
    return str(value)
