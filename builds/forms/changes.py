"""Forms of what happens to a whole build: overrides, authorisations, moves, holds, its facts."""

from django import forms

from builds.forms.fields import DayField
from builds.models import Authorisation, HoldReason

__all__ = ["AuthorisationForm", "HoldForm", "OpenItemForm", "OverrideForm"]

_NEEDED = {"required": "This may not stay empty."}


class OverrideForm(forms.Form):
    """Why a build goes on in spite of a blocking finding."""

    reason = forms.CharField(
        label="Why the build goes on in spite of this", max_length=400, widget=forms.Textarea(attrs={"rows": 3}),
        error_messages=_NEEDED,
    )  # fmt: skip


class AuthorisationForm(forms.Form):
    """Who allowed a revision to be built."""

    kind = forms.ChoiceField(
        label="How it was authorised",
        choices=[
            (Authorisation.Kind.WRITTEN_QUOTE.value, Authorisation.Kind.WRITTEN_QUOTE.label),
            (Authorisation.Kind.PURCHASE_ORDER.value, Authorisation.Kind.PURCHASE_ORDER.label),
        ],
        error_messages={"invalid_choice": "Choose one of the list.", **_NEEDED},
    )
    authorised_by = forms.CharField(label="Who authorised it", max_length=120, error_messages=_NEEDED)
    reference = forms.CharField(label="Its number, or where the paper is kept", max_length=80, error_messages=_NEEDED)


class HoldForm(forms.Form):
    """Why a build stands still and who must act."""

    reason = forms.ChoiceField(
        label="Why it stands still", choices=HoldReason.choices,
        error_messages={"invalid_choice": "Choose one of the list.", **_NEEDED},
    )  # fmt: skip
    who_acts = forms.CharField(label="Who must act", max_length=80, error_messages=_NEEDED)
    note = forms.CharField(label="What they must do", max_length=200, required=False)


class OpenItemForm(forms.Form):
    """A step that stays open when the vehicle goes to its final check."""

    part = forms.CharField(label="What is missing", max_length=120, error_messages=_NEEDED)
    reason = forms.CharField(label="Why", max_length=120, error_messages=_NEEDED)
    who_returns = forms.CharField(label="Who comes back", max_length=120, error_messages=_NEEDED)
    by_when = DayField(label="By when")
