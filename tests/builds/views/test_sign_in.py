"""Signing in: a way in, a way out, and a wait for whoever guesses."""

import pytest
from django.conf import settings
from django.test import Client

from builds.models import Role
from tests.factories.builds import PASSWORD, make_person, make_shop

pytestmark = pytest.mark.django_db


def test_right_password_opens_the_page_that_was_asked_for(client: Client) -> None:
    make_shop()
    make_person(Role.MANAGER, username="orrin")

    response = client.post("/sign-in/", {"username": "orrin", "password": PASSWORD, "next": "/builds/?q=1"})

    assert response.status_code == 302 and response["Location"] == "/builds/?q=1"


def test_wrong_password_is_said_in_words(client: Client) -> None:
    make_person(Role.MANAGER, username="orrin")

    response = client.post("/sign-in/", {"username": "orrin", "password": "wrong"})

    assert "This name and password do not belong together." in response.content.decode()


def test_too_many_wrong_passwords_have_to_wait(client: Client) -> None:
    make_person(Role.MANAGER, username="orrin")
    for _ in range(settings.AXES_FAILURE_LIMIT):
        response = client.post("/sign-in/", {"username": "orrin", "password": "wrong"})

    assert response.status_code == 429
    assert client.post("/sign-in/", {"username": "orrin", "password": PASSWORD}).status_code == 429


def test_signing_out_ends_it(client: Client) -> None:
    client.force_login(make_person())

    client.post("/sign-out/")

    assert client.get("/builds/").status_code == 302
