"""The desk's pages on a phone: nothing is cut without saying so, and a card says whose build it is."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from builds.models import Person, Role
from tests.factories.builds import make_customer, make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db(transaction=True)

PHONE = {"width": 390, "height": 844}


@pytest.fixture
def manager() -> Person:
    make_shop()
    return make_person(Role.MANAGER, short_name="S. Brandt")


def test_card_of_the_job_list_says_whose_build_it_is_and_every_room_is_in_view(
    open_as: Callable[..., Page], manager: Person
) -> None:
    build = make_designed_build(manager, customer=make_customer(name="Harrow Airfield"), title="Escort car")
    page = open_as(manager, **PHONE)
    page.goto("/builds/")

    card = page.locator(".table-builds tbody tr")
    for words in (build.number, "Harrow Airfield", "Escort car", build.vehicle.unit_number):
        expect(card.get_by_text(words).first).to_be_in_viewport()
    rooms = page.locator(".room")
    assert rooms.count() > 4
    for room in rooms.all():
        box = room.bounding_box()
        assert box is not None and box["x"] >= 0 and box["x"] + box["width"] <= 390, room.inner_text()


def test_drawing_wider_than_the_phone_says_that_it_goes_on(open_as: Callable[..., Page], manager: Person) -> None:
    build = make_designed_build(manager, circuits=4)
    page = open_as(manager, **PHONE)
    page.goto(f"/builds/{build.number}/")

    told = page.evaluate(
        "[...document.querySelectorAll('.drawing')].map(place => [place.scrollWidth > place.clientWidth + 1,"
        " getComputedStyle(place, '::before').content.includes('push it sideways')])"
    )

    assert [True, True] in told
    assert all(wider == says for wider, says in told)
