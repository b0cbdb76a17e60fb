"""Who works in the shop, as a manager writes it down."""

from django import forms

from builds.models import Role

__all__ = ["PasswordForm", "PersonForm"]


class PersonForm(forms.Form):
    """Someone who is to sign in."""

    username = forms.CharField(label="Sign-in name", max_length=60)
    short_name = forms.CharField(label="Name as printed", max_length=40, help_text="M. Vale")
    role = forms.ChoiceField(label="What they do", choices=Role.choices)
    password = forms.CharField(widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}), max_length=200)


class PasswordForm(forms.Form):
    """A new password for someone."""

    password = forms.CharField(
        label="New password", widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}), max_length=200
    )
