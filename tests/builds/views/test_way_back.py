"""Where a page sends people afterwards is always a place of this site, whatever the address or a header asks for."""

from urllib.parse import quote
from uuid import uuid4

import pytest
from django.test import Client

from builds.models import Person, Role
from tests.factories.builds import PASSWORD, make_person, make_shop
from tests.factories.floor import make_working_build

pytestmark = pytest.mark.django_db

ELSEWHERE = [
    "https://elsewhere.example/",
    "//elsewhere.example/",
    "///elsewhere.example/",
    "/\\elsewhere.example/",
    "\\\\elsewhere.example/",
    "javascript:alert(1)",
    "/\t/elsewhere.example/",
    " //elsewhere.example/",
]


@pytest.fixture
def manager(client: Client) -> Person:
    make_shop()
    person = make_person(Role.MANAGER)
    client.force_login(person)
    return person


@pytest.mark.parametrize("back", ELSEWHERE)
def test_a_form_on_the_floor_goes_back_to_this_site(client: Client, manager: Person, back: str) -> None:
    build = make_working_build(manager)
    asked = {"event_id": str(uuid4()), "operation_key": "inspection", "count": "1", "hook": "7", "back": back}

    for path in (f"/builds/{build.number}/clock/", f"/yard/{build.number}/keys/"):
        answer = client.post(path, asked)

        assert answer.status_code == 302
        assert answer["Location"].startswith("/")
        assert not answer["Location"].replace("\\", "/").startswith("//")
        assert "elsewhere" not in answer["Location"]


@pytest.mark.parametrize("back", ELSEWHERE)
def test_signing_in_goes_on_to_this_site(client: Client, back: str) -> None:
    person = make_person()

    answer = client.post(
        f"/sign-in/?next={quote(back)}", {"username": person.username, "password": PASSWORD, "next": back}
    )

    assert (answer.status_code, answer["Location"]) == (302, "/")


@pytest.mark.parametrize("path", ["/elsewhere.example/", "\\elsewhere.example/", "/\\elsewhere.example/"])
def test_a_refusal_offers_a_way_back_on_this_site(client: Client, manager: Person, path: str) -> None:
    answer = client.get("/builds/9999/", headers={"Referer": f"http://testserver/{path}"})

    assert answer.status_code == 404
    assert 'href="//' not in answer.content.decode()
    assert 'href="/\\' not in answer.content.decode()


def test_someone_who_may_no_longer_sign_in_is_out_at_once(client: Client, manager: Person) -> None:
    assert client.get("/builds/").status_code == 200

    Person.objects.filter(pk=manager.pk).update(is_active=False)

    answer = client.get("/builds/")
    assert (answer.status_code, answer["Location"]) == (302, "/sign-in/?next=/builds/")
    assert client.get("/api/builds/").status_code == 401
