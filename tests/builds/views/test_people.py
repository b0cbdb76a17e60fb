"""A manager says who signs in; everyone keeps their own password."""

import pytest
from django.test import Client

from builds.models import Person, Role
from tests.factories.builds import PASSWORD, make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager() -> Person:
    return make_person(Role.MANAGER)


def test_manager_adds_someone_who_can_then_sign_in(client: Client, manager: Person) -> None:
    client.force_login(manager)

    answer = client.post("/people/add/", {"username": "l.tamm", "short_name": "L. Tamm", "role": "technician",
                                          "password": "a long enough phrase"})  # fmt: skip

    assert answer.status_code == 302
    assert Person.objects.get(username="l.tamm").check_password("a long enough phrase")


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("username", "a b", "letters"),
        ("short_name", " ", "required"),
        ("role", "king", "valid choice"),
        ("password", "123", "short"),
    ],
)
def test_bad_person_is_refused_at_the_field(
    client: Client, manager: Person, field: str, value: str, words: str
) -> None:
    client.force_login(manager)
    good = {"username": "l.tamm", "short_name": "L. Tamm", "role": "technician", "password": "a long enough phrase"}

    answer = client.post("/people/add/", good | {field: value})

    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert Person.objects.count() == 1


def test_a_manager_does_not_lock_themselves_out(client: Client, manager: Person) -> None:
    client.force_login(manager)

    answer = client.post(f"/people/{manager.pk}/active/", {"active": "no"})

    assert answer.status_code == 422
    manager.refresh_from_db()
    assert manager.is_active


def test_technician_changes_only_their_own_password(client: Client, manager: Person) -> None:
    technician = make_person(Role.TECHNICIAN)
    client.force_login(technician)

    own = client.post(f"/people/{technician.pk}/password/", {"password": "another long phrase"})
    other = client.post(f"/people/{manager.pk}/password/", {"password": "another long phrase"})

    assert (own.status_code, other.status_code) == (302, 403)
    technician.refresh_from_db()
    manager.refresh_from_db()
    assert technician.check_password("another long phrase")
    assert manager.check_password(PASSWORD)


@pytest.mark.parametrize("role", list(Role))
def test_rail_leads_only_to_rooms_one_may_enter(client: Client, role: Role) -> None:
    client.force_login(make_person(role))

    page = client.get("/builds/").content.decode()

    assert ('href="/people/"' in page) == (client.get("/people/").status_code == 200)
