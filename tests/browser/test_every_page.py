"""
Every page of the site in a browser, at a phone's width and at a desk's: no serious fault for axe, no sideways scrolling.

The pages are those of the table of routes, so that a new one cannot be left out. Whatever people name is as long as it
may be, without a blank to break at, and everything that folds is open.
"""

from collections.abc import Callable, Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Page

from builds.models import BuyerProfile, Customer, Person, Role, Vehicle
from builds.permissions import Action, may
from tests.factories.two_builds import TwoBuilds, make_two_builds
from tests.rules_over_all_models.routes import ROUTES, Door
from tests.rules_over_all_models.strict_html import is_html

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]

FEWEST = 40  # pages there are at least: the walk has to find them
LONG = "Wm" * 30  # 60 letters, wide ones


def pages(shop: TwoBuilds) -> Iterator[tuple[Person | None, str]]:
    """Yield who opens a page and its address, for every route that shows one."""
    for name, route in ROUTES.items():
        guard = route.guards.get("GET")
        if guard is None or name.startswith("api-"):
            continue
        person = visitor(shop, guard)
        address = reverse(name, kwargs=route.fill(shop, person or shop.people[Role.MANAGER])) + route.queries[0]
        if is_page(person, address):
            yield person, address


def visitor(shop: TwoBuilds, guard: Action | Door) -> Person | None:
    """Return somebody who may: nobody signed in for what is open or asks for a link only."""
    if isinstance(guard, Door):
        return None
    roles = (Role.MANAGER, Role.TECHNICIAN, *shop.people)
    return next(shop.people[role] for role in roles if may(shop.people[role], guard, own=True))


def is_page(person: Person | None, address: str) -> bool:
    """Whether an address answers with a whole page, and not with a fragment, a file or another address."""
    client = Client()
    if person is not None:
        client.force_login(person)
    answer = client.get(address)
    if answer.streaming:
        answer.getvalue()  # read to its end, which closes its file
        return False
    return answer.status_code == 200 and is_html(answer) and b"</html>" in answer.content


def name_at_length(shop: TwoBuilds) -> None:
    """Give everything that a shop names itself a name as long as it may be."""
    for model in (Customer, BuyerProfile):
        for row in model.objects.all():
            model.objects.filter(pk=row.pk).update(name=f"{LONG}{row.pk}")
    Vehicle.objects.update(unit_number=LONG[: Vehicle._meta.get_field("unit_number").max_length])
    Person.objects.update(short_name=LONG[: Person._meta.get_field("short_name").max_length])
    for build in (shop.own.build, shop.other.build):
        build.title = build.purchase_order = LONG
        build.save(update_fields=["title", "purchase_order"])


def faults_of(page: Page, width: int) -> list[str]:
    found = [
        f"{fault['id']}: {node['html'][:120]}"
        for fault in Axe().run(page).response["violations"]
        if fault["impact"] in ("serious", "critical")
        for node in fault["nodes"]
    ]
    page.evaluate("document.querySelectorAll('details').forEach(fold => { fold.open = true; })")
    wide = page.evaluate("document.documentElement.scrollWidth")
    return found + ([f"{wide} px wide on a screen of {width}"] if wide > width else [])


@pytest.mark.parametrize("width", [390, 1440])
def test_no_page_has_a_serious_fault(open_as: Callable[..., Page], width: int) -> None:
    shop = make_two_builds()
    name_at_length(shop)
    todo = list(pages(shop))
    windows: dict[int | None, Page] = {}
    faults: dict[str, list[str]] = {}
    for person, address in todo:
        key = person.pk if person else None
        if key not in windows:
            windows[key] = open_as(person, width=width)
        windows[key].goto(address)
        if found := faults_of(windows[key], width):
            faults[address] = found

    assert faults == {}
    assert len(todo) >= FEWEST
