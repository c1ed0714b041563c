"""What the history page can be narrowed down by."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Any

from django import forms
from django.apps import apps
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from labsite.accounts.forms import LastDay
from labsite.accounts.models import User
from labsite.audit.actions import declared
from labsite.audit.selectors import Wanted
from labsite.audit.wording import kind_word
from labsite.records import LabRecord


def kinds() -> list[tuple[str, str]]:
    """Every sort of thing that has a history, with its word."""
    labels = [m._meta.label_lower for m in apps.get_models() if issubclass(m, LabRecord)]
    return sorted(((label, kind_word(label)) for label in labels), key=lambda pair: pair[1])


def _with_all(choices: list[tuple[str, str]], word: Any) -> list[tuple[str, Any]]:
    return [("", word), *choices]


class HistoryForm(forms.Form):
    kind = forms.ChoiceField(label=_("What"), required=False)
    person = forms.ModelChoiceField(
        label=_("Who"), queryset=User.objects.all(), required=False, empty_label=_("everybody")
    )
    action = forms.ChoiceField(label=_("What happened"), required=False)
    from_on = LastDay(label=_("From day"))
    to_on = LastDay(label=_("To day"))
    before = forms.IntegerField(
        required=False, min_value=1, max_value=2**63 - 1, widget=forms.HiddenInput
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = _with_all(kinds(), _("everything"))
        told = sorted(((code, str(text)) for code, text in declared().items()), key=lambda p: p[1])
        self.fields["action"].choices = _with_all(told, _("anything"))

    def wanted(self) -> Wanted:
        """The days are the lab's own, the last one included."""
        data = self.cleaned_data
        to_on = data["to_on"]
        return Wanted(
            object_type=data["kind"] or None,
            actor=data["person"].pk if data["person"] else None,
            action=data["action"] or None,
            from_at=_start_of(data["from_on"]),
            to_at=_start_of(to_on + timedelta(days=1)) if to_on else None,
        )

    def clean_to_on(self) -> date | None:
        to_on = self.cleaned_data["to_on"]
        if to_on and to_on.year > 9000:
            raise forms.ValidationError(_("Choose an earlier day."))
        return to_on


def _start_of(day: date | None) -> datetime | None:
    return timezone.make_aware(datetime.combine(day, time())) if day else None
