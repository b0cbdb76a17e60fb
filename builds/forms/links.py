"""What a customer types when they sign, and what the desk types when it makes a link."""

from django import forms

from builds.services.customer_links import DEFAULT_DAYS

__all__ = ["LinkForm", "SignatureForm"]


class LinkForm(forms.Form):
    """A link to be made; the service says what is missing."""

    made_for = forms.CharField(
        label="Who gets it", max_length=120, error_messages={"required": "Say who gets the link."}
    )
    days = forms.IntegerField(
        label="Opens for", initial=DEFAULT_DAYS,
        error_messages={
            "required": "Write a number of days.", "invalid": "Write a number of days.", "max_value": "Give it at most 365 days.",
        },
        max_value=100_000,
    )  # fmt: skip
    for_nothing = forms.BooleanField(label="The customer is to pay nothing", required=False)


class SignatureForm(forms.Form):
    """A signature: typed name, in what capacity, explicit consent, and the hash of what was read."""

    sha256 = forms.CharField(max_length=64, required=False, widget=forms.HiddenInput)
    typed_name = forms.CharField(
        label="Your name, typed by you", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "name"}),
        error_messages={
            "required": "Type your name: it stands for your signature.", "max_length": "A name of at most 120 letters.",
        },
    )  # fmt: skip
    capacity = forms.CharField(
        label="In what capacity you sign", max_length=80, required=False,
        widget=forms.TextInput(attrs={"autocomplete": "organization-title"}),
        error_messages={"max_length": "Use at most 80 letters."},
    )  # fmt: skip
    consents = forms.BooleanField(
        error_messages={
            "required": "Tick the sentence if you agree to it. Without it nothing is signed; paper is as good."
        }
    )
