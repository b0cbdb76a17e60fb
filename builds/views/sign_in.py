"""Signing in and out; password guessing is slowed down by the sign-in backend."""

from typing import Any

from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

__all__ = ["SignInForm", "answer_too_many_tries", "sign_in", "sign_out"]


class SignInForm(AuthenticationForm):
    """Name and password, in this shop's words."""

    error_messages = {
        "invalid_login": "This name and password do not belong together. Both care about capitals.",
        "inactive": "This account is closed. Ask the manager.",
    }

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["username"].label = "Name"
        self.fields["username"].error_messages["required"] = "Type your name."
        self.fields["password"].error_messages["required"] = "Type your password."


sign_in = LoginView.as_view(
    authentication_form=SignInForm, redirect_authenticated_user=False, http_method_names=["get", "head", "post"]
)
sign_out = LogoutView.as_view(template_name="registration/logged_out.html")


def answer_too_many_tries(request: HttpRequest, *args: Any, **options: Any) -> HttpResponse:
    """Say that this name has to wait, when its password was wrong too often from here."""
    return render(request, "builds/sign_in_wait.html", status=429)
