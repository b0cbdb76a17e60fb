"""The person behind a session, as every page asks for them."""

import pytest
from django.test import Client

from builds.models import Role
from tests.factories.builds import make_person

pytestmark = pytest.mark.django_db


def test_somebody_who_may_not_sign_in_any_more_is_signed_out(client: Client) -> None:
    person = make_person(Role.MANAGER)
    client.force_login(person)
    assert client.get("/builds/").status_code == 200

    person.is_active = False
    person.save()

    assert client.get("/builds/").status_code == 302


def test_a_person_who_is_gone_has_no_session(client: Client) -> None:
    person = make_person(Role.MANAGER)
    client.force_login(person)

    person.delete()

    assert client.get("/builds/").status_code == 302
