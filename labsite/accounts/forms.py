"""What people type into the pages about accounts, and how a refusal finds its field."""

from __future__ import annotations

import unicodedata
from datetime import datetime, time
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from labsite.accounts.passwords import LONGEST
from labsite.accounts.roles import Role
from labsite.errors import LabError


class Line(forms.CharField):
    """One line of text without control characters."""

    default_error_messages = {"control": _("Control characters are not allowed here.")}

    def __init__(self, *, max_length: int = 200, **kwargs: Any) -> None:
        super().__init__(max_length=max_length, **kwargs)

    def to_python(self, value: Any) -> str:
        text = super().to_python(value)
        if any(unicodedata.category(char) == "Cc" for char in text):
            raise ValidationError(self.error_messages["control"], code="control")
        return text


class Password(forms.CharField):
    """Taken as typed: blanks at the ends belong to it."""

    def __init__(self, *, complete: str, **kwargs: Any) -> None:
        widget = forms.PasswordInput(attrs={"autocomplete": complete})
        super().__init__(strip=False, max_length=LONGEST, widget=widget, **kwargs)


class LastDay(forms.DateField):
    def __init__(self, **kwargs: Any) -> None:
        widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
        super().__init__(required=False, input_formats=["%Y-%m-%d"], widget=widget, **kwargs)


class LabForm(forms.Form):
    """A form whose first wrong field takes the focus, and that can show a service's refusal."""

    def tell(self, error: LabError | ValidationError) -> None:
        """Show what a service refused: its sentence above the form, the rest at the fields."""
        if isinstance(error, LabError):
            self.add_error(None, str(error.message))
            named = error.fields
        elif hasattr(error, "error_dict"):
            self.add_error(None, _("Some fields are not right."))
            named = error.message_dict
        else:
            self.add_error(None, list(error.messages))
            named = {}
        for name, texts in named.items():
            self.add_error(name if name in self.fields else None, [str(text) for text in texts])

    def focus_first_error(self) -> None:
        wrong = [name for name in self.fields if name in self.errors]
        for name in (wrong or list(self.fields))[:1]:
            self.fields[name].widget.attrs["autofocus"] = True


class SignInForm(LabForm):
    username = forms.CharField(
        label=_("Sign-in name"),
        max_length=254,
        widget=forms.TextInput(
            attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )
    password = Password(label=_("Password"), complete="current-password")

    def clean_username(self) -> str:
        """As stored: the lockout counts tries by this name, so its spelling must be one."""
        return self.cleaned_data["username"].strip().lower()


class PasswordForm(LabForm):
    old = Password(label=_("Present password"), complete="current-password")
    new = Password(
        label=_("New password"),
        complete="new-password",
        help_text=_("At least 12 characters. A few words in a row are easy to keep in mind."),
    )
    again = Password(label=_("New password, once more"), complete="new-password")

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("new") and data.get("again") and data["new"] != data["again"]:
            self.add_error("again", _("This differs from the new password above."))
        return data


class PersonForm(LabForm):
    full_name = Line(label=_("Name"), max_length=120)
    role = forms.ChoiceField(label=_("Role"), choices=Role.choices)
    email = forms.EmailField(label=_("E-mail"), required=False)
    ends_on = LastDay(
        label=_("Last day"),
        help_text=_("For an auditor's visit: the account works up to the end of this day."),
    )


class NewPersonForm(PersonForm):
    username = Line(
        label=_("Sign-in name"),
        max_length=40,
        help_text=_("Small letters a to z, digits, dot, dash or underscore. It never changes."),
        widget=forms.TextInput(attrs={"autocapitalize": "none", "spellcheck": "false"}),
    )
    field_order = ("full_name", "username", "role", "email", "ends_on")


class ReasonForm(LabForm):
    reason = Line(label=_("Why"), max_length=500)


class TokenForm(LabForm):
    name = Line(
        label=_("What it is for"),
        max_length=80,
        help_text=_("For example the name of the program that will use it."),
    )
    ends_on = LastDay(label=_("Last day"))

    def ends_at(self) -> datetime | None:
        """The end of the last day, in the lab's own zone."""
        day = self.cleaned_data.get("ends_on")
        return timezone.make_aware(datetime.combine(day, time(23, 59, 59))) if day else None
