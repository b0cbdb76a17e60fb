"""The bay board: a stay moved by keys and by dragging, kept or put back, and a refusal said in words."""

import re
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from builds.models import BayPlace, Booking, Build, Person, Role
from builds.services import bays
from tests.factories.builds import make_person, make_shop
from tests.factories.floor import make_bay, make_working_build

pytestmark = pytest.mark.django_db(transaction=True)

ZONE = ZoneInfo("America/New_York")
Open = Callable[..., Page]


@pytest.fixture
def manager() -> Person:
    make_shop()
    return make_person(Role.MANAGER)


def next_week(day: int, hour: int) -> datetime:
    """A moment of the next week, whenever the test runs; Monday is day 0."""
    today = timezone.now().astimezone(ZONE).date()
    monday = today - timedelta(days=today.weekday()) + timedelta(days=7 + day)
    return datetime(monday.year, monday.month, monday.day, hour, tzinfo=ZONE)


def booked(build: Build, place: BayPlace, by: Person, start: int = 1, end: int = 2) -> Booking:
    return bays.book(
        build=build, place=place, start=next_week(start, 7), end=next_week(end, 17), by=by, at=timezone.now()
    )


def board(open_as: Open, person: Person, **options: Any) -> Page:
    page = open_as(person, **options)
    page.goto(f"/bays/?week={next_week(0, 7):%G-W%V}")
    return page


def stay_of(page: Page, booking: Booking) -> Locator:
    return page.locator(f'[data-booking="{booking.pk}"]')


def times(booking: Booking) -> tuple[str, datetime, datetime]:
    booking = Booking.objects.select_related("place__bay").get(pk=booking.pk)
    return str(booking.place), booking.during.lower, booking.during.upper


def test_arrow_keys_move_a_stay_and_enter_keeps_it(open_as: Open, manager: Person) -> None:
    first, second = make_bay(name="Bay 1"), make_bay(name="Bay 2")
    booking = booked(make_working_build(), first, manager)
    page = board(open_as, manager)
    stay_of(page, booking).focus()

    for key in ("ArrowRight", "ArrowRight", "ArrowDown", "Shift+ArrowRight"):
        page.keyboard.press(key)
    expect(page.locator("[data-board-words]")).to_contain_text("Bay 2")
    expect(page.locator("[data-board-words]")).to_contain_text("Not kept yet")
    assert times(booking)[0] == "Bay 1"
    page.keyboard.press("Enter")

    expect(page.locator("#messages .message-success")).to_contain_text("Bay 2")
    assert times(booking) == (str(second), next_week(2, 7), next_week(4, 12))
    expect(stay_of(page, booking)).to_be_focused()
    expect(page.locator("[data-board-says]")).to_be_hidden()


def test_escape_puts_a_stay_back(open_as: Open, manager: Person) -> None:
    booking = booked(make_working_build(), make_bay(name="Bay 1"), manager)
    make_bay()
    page = board(open_as, manager)
    before = stay_of(page, booking).bounding_box()
    stay_of(page, booking).focus()

    page.keyboard.press("ArrowLeft")
    page.keyboard.press("ArrowDown")
    assert stay_of(page, booking).bounding_box() != before
    page.keyboard.press("Escape")

    assert stay_of(page, booking).bounding_box() == before
    expect(stay_of(page, booking)).to_be_focused()
    assert times(booking) == ("Bay 1", next_week(1, 7), next_week(2, 17))


def test_enter_on_a_stay_that_was_not_moved_opens_its_form(open_as: Open, manager: Person) -> None:
    booking = booked(make_working_build(), make_bay(), manager)
    page = board(open_as, manager)

    stay_of(page, booking).press("Enter")

    page.wait_for_url(f"**/bays/bookings/{booking.pk}/")


def drag(page: Page, stay: Locator, to: tuple[float, float], *, by_end: bool = False) -> None:
    box = stay.bounding_box()
    assert box is not None
    x = box["x"] + box["width"] - (5 if by_end else box["width"] / 2)
    y = box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + to[0] / 2, y + to[1] / 2, steps=4)
    page.mouse.move(x + to[0], y + to[1], steps=4)
    page.mouse.up()


def half_day_px(page: Page) -> float:
    return float(page.evaluate("document.querySelector('[data-place]').clientWidth / 12"))


def test_drag_moves_a_stay_to_another_bay_and_day(open_as: Open, manager: Person) -> None:
    booking = booked(make_working_build(), make_bay(name="Bay 1"), manager)
    make_bay(name="Bay 2")
    page = board(open_as, manager)
    rows = page.locator("[data-place]")
    down = rows.nth(1).bounding_box()["y"] - rows.nth(0).bounding_box()["y"]  # type: ignore[index]

    drag(page, stay_of(page, booking), (2 * half_day_px(page), down))

    expect(page.locator("#messages .message-success")).to_contain_text("Bay 2")
    assert times(booking) == ("Bay 2", next_week(2, 7), next_week(3, 17))
    assert page.url.endswith(f"W{next_week(0, 7):%V}")  # the drop did not follow the link


def test_drag_of_the_end_changes_the_end_alone(open_as: Open, manager: Person) -> None:
    booking = booked(make_working_build(), make_bay(name="Bay 1"), manager)
    page = board(open_as, manager)

    drag(page, stay_of(page, booking), (half_day_px(page), 0), by_end=True)

    expect(page.locator("#messages .message-success")).to_be_visible()
    assert times(booking) == ("Bay 1", next_week(1, 7), next_week(3, 12))


def test_drop_on_a_booked_bay_comes_back_with_the_reason(open_as: Open, manager: Person) -> None:
    free, taken = make_bay(name="Bay 1"), make_bay(name="Bay 2")
    booking = booked(make_working_build(), free, manager)
    other = booked(make_working_build(number="2699"), taken, manager)
    page = board(open_as, manager)
    before = stay_of(page, booking).bounding_box()
    stay_of(page, booking).focus()

    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")

    expect(page.locator("#messages .message-error")).to_contain_text("Bay 2 is booked for 2699 until")
    back = stay_of(page, booking).bounding_box()
    assert before is not None and back is not None and back["x"] == before["x"]
    assert times(booking)[0] == "Bay 1" and times(other)[0] == "Bay 2"


def test_stay_comes_back_when_nobody_answers(open_as: Open, manager: Person) -> None:
    booking = booked(make_working_build(), make_bay(name="Bay 1"), manager)
    page = board(open_as, manager)
    page.route("**/shift/", lambda route: route.abort())
    stay_of(page, booking).focus()

    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")

    expect(page.locator("#messages .message-error")).to_contain_text("did not answer")
    assert times(booking)[1] == next_week(1, 7)
    expect(stay_of(page, booking)).to_have_class(re.compile(r"\bat-5\b"))


def test_vehicle_in_the_bay_moves_its_planned_end_only(open_as: Open, manager: Person) -> None:
    build, place = make_working_build(), make_bay(name="Bay 1")
    make_bay(name="Bay 2")
    now = timezone.now()
    booking = bays.book(
        build=build, place=place, start=now - timedelta(hours=1), end=next_week(1, 17), by=manager, at=now
    )
    bays.enter_bay(build=build, place=place, event_id=uuid4(), by=manager, at=now - timedelta(hours=1))
    page = board(open_as, manager)
    stay_of(page, booking).focus()

    page.keyboard.press("ArrowDown")
    expect(page.locator("[data-board-words]")).to_contain_text("only its planned end moves")
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")

    expect(page.locator("#messages .message-success")).to_be_visible()
    place_now, start, end = times(booking)
    assert (place_now, start, end) == ("Bay 1", booking.during.lower, next_week(2, 12))


def test_week_ends_at_the_edge_of_the_board(open_as: Open, manager: Person) -> None:
    booking = booked(make_working_build(), make_bay(), manager, start=0, end=0)
    page = board(open_as, manager)
    stay_of(page, booking).focus()

    page.keyboard.press("ArrowLeft")

    expect(page.locator("[data-board-words]")).to_contain_text("the week ends here")
    assert times(booking)[1] == next_week(0, 7)


@pytest.mark.parametrize("width", [390, 1440])
def test_bays_and_yard_have_no_serious_fault(open_as: Open, manager: Person, width: int) -> None:
    build = make_working_build()
    booking = booked(build, make_bay(), manager)
    other, place = make_working_build(), make_bay()
    bays.enter_bay(build=other, place=place, event_id=uuid4(), by=manager, at=timezone.now())
    page = open_as(manager, width=width)
    week = f"{next_week(0, 7):%G-W%V}"
    for path in (
        "/bays/", f"/bays/?week={week}", f"/bays/?week={week}&wall", f"/bays/bookings/{booking.pk}/", "/bays/book/", "/yard/",
        f"/yard/{build.number}/", f"/yard/{build.number}/check-in/",
    ):  # fmt: skip
        page.goto(path)
        faults = [
            (fault["id"], node["html"][:120])
            for fault in Axe().run(page).response["violations"]
            if fault["impact"] in ("serious", "critical")
            for node in fault["nodes"]
        ]
        assert faults == [], path
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path


# Links and buttons that can be seen; a native box of a form counts with the words that stand for it.
_LOW_TARGETS = """() => Array.from(document.querySelectorAll("a[href], button, summary, input, select, textarea"))
  .filter((one) => one.getClientRects().length && getComputedStyle(one).visibility !== "hidden" && one.type !== "hidden")
  .filter((one) => !one.matches(".skip, .unseen"))
  .map((one) => [one.matches("[type=checkbox], [type=radio]") ? one.closest("label, .field-check, .choice") || one : one, one])
  .map(([box, one]) => [Math.round(box.getBoundingClientRect().height * 10) / 10, one.outerHTML.slice(0, 110)])
  .filter(([height]) => height < 44)"""


def test_everything_to_press_in_bays_and_yard_is_tall_enough_for_a_thumb(open_as: Open, manager: Person) -> None:
    build = make_working_build()
    booking = booked(build, make_bay(), manager)
    other, place = make_working_build(), make_bay()
    bays.enter_bay(build=other, place=place, event_id=uuid4(), by=manager, at=timezone.now())
    page = open_as(manager, width=390)
    for path in (
        "/bays/", f"/bays/?week={next_week(0, 7):%G-W%V}", f"/bays/bookings/{booking.pk}/", "/bays/book/", "/yard/",
        f"/yard/{build.number}/", f"/yard/{other.number}/", f"/yard/{build.number}/check-in/",
    ):  # fmt: skip
        page.goto(path)
        assert page.evaluate(_LOW_TARGETS) == [], path


def test_wall_follows_the_plan_by_itself_and_says_when_it_cannot(open_as: Open, manager: Person) -> None:
    page = open_as(manager)
    page.clock.install()
    place = make_bay()
    page.goto(f"/bays/?week={next_week(0, 7):%G-W%V}&wall")
    build = make_working_build()
    booked(build, place, manager)

    page.clock.fast_forward(61_000)
    expect(page.locator(".stay-number")).to_have_text([build.number])

    page.route("**/bays/**", lambda route: route.abort())
    page.clock.fast_forward(61_000)
    expect(page.locator("[data-wall-lost]")).to_contain_text("No connection")
