"""What can be typed into the search box."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from labsite.accounts.forms import Line
from reports.search.selectors import KINDS

LONGEST = 100


class SearchForm(forms.Form):
    q = Line(
        label=_("Lot, float or column"),
        max_length=LONGEST,
        required=False,
        widget=forms.TextInput(
            attrs={"type": "search", "autocomplete": "off", "spellcheck": "false"}
        ),
    )
    kind = forms.ChoiceField(
        choices=[("", ""), *((kind, kind) for kind in KINDS)],
        required=False,
        widget=forms.HiddenInput,
    )
