"""The power tree in a browser: fed from elsewhere by keys and by dragging, split, added to, taken out, refused in words."""

from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from builds.models import Build, Person, Role
from builds.services import design_edits
from tests.factories.builds import make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db(transaction=True)

Open = Callable[..., Page]


@pytest.fixture
def manager() -> Person:
    make_shop()
    return make_person(Role.MANAGER)


@pytest.fixture
def build(manager: Person) -> Build:
    build = make_designed_build(manager, circuits=3)
    for family, values in (
        ("node", {"key": "B1", "kind": "bus", "name": "Sub-bus", "zone": "CAB"}),
        (
            "run",
            {"key": "R8", "from_node": "MD", "to_node": "B1", "side": "supply", "gauge": "2", "length_m": 1},
        ),
    ):
        design_edits.add_row(build=build, family=family, values=values, by=manager, at=timezone.now())
    return build


def tree(open_as: Open, person: Person, build: Build, query: str = "", **options: Any) -> Page:
    page = open_as(person, **options)
    page.goto(f"/builds/{build.number}/tree/{query}")
    page.wait_for_selector("[data-ready]")
    return page


def line(page: Page, subject: str) -> Locator:
    return page.locator(f'.tree-line[data-subject="{subject}"]')


def feed_of(build: Build, key: str) -> str:
    return str(build.runs.select_related("from_node").get(key=key).from_node.key)


def test_panel_is_fed_from_elsewhere_by_keys_alone(open_as: Open, manager: Person, build: Build) -> None:
    page = tree(open_as, manager, build)
    line(page, "node:BAT1").first.focus()
    for _ in range(3):
        page.keyboard.press("ArrowDown")
    expect(line(page, "run:R2")).to_be_focused()
    page.keyboard.press("m")
    expect(page.locator("[data-tree-said]")).to_contain_text("P1 is picked up")
    page.keyboard.press("ArrowDown")
    expect(line(page, "run:R8")).to_be_focused()

    page.keyboard.press("Enter")
    expect(page.locator("#feed-source")).to_have_value("B1")
    expect(page.locator("details[open] .tree-says")).to_contain_text("If you keep it")
    expect(page.locator("details[open] [data-keep]")).to_be_focused()
    assert feed_of(build, "R2") == "MD"
    page.keyboard.press("Enter")

    expect(page.locator("[data-tree-said]")).to_contain_text("P1 fed from B1 by run R2.")
    assert feed_of(build, "R2") == "B1"
    expect(line(page, "run:R2")).to_be_focused()
    expect(line(page, "run:R2")).to_have_attribute("aria-level", "4")
    page.keyboard.press("Control+z")
    expect(line(page, "run:R2")).to_have_attribute("aria-level", "3")
    assert feed_of(build, "R2") == "MD"


def drag(page: Page, start: Locator, end: Locator) -> None:
    for place, then in ((start, page.mouse.down), (end, page.mouse.up)):
        box = place.bounding_box()
        assert box is not None
        page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2, steps=6)
        then()


def test_panel_is_fed_from_elsewhere_by_dragging_its_line(open_as: Open, manager: Person, build: Build) -> None:
    page = tree(open_as, manager, build)

    drag(page, line(page, "run:R2"), line(page, "run:R8"))
    expect(page.locator("#feed-source")).to_have_value("B1")
    page.get_by_role("button", name="Feed it from there").click()

    expect(page.locator("[data-tree-said]")).to_contain_text("P1 fed from B1")
    assert feed_of(build, "R2") == "B1"


def test_box_of_the_drawing_is_dragged_and_chosen(open_as: Open, manager: Person, build: Build) -> None:
    page = tree(open_as, manager, build, height=1500)
    box = page.locator('.tree-drawing [data-subject="run:R2"]')
    box.scroll_into_view_if_needed()

    box.click()
    expect(page.locator("#tree-chosen")).to_contain_text("P1")
    page.locator(".tree-drawing").scroll_into_view_if_needed()
    drag(page, box, page.locator('.tree-drawing [data-subject="run:R8"]'))

    expect(page.locator("#feed-source")).to_have_value("B1")


def test_ring_is_refused_where_it_was_asked_for(open_as: Open, manager: Person, build: Build) -> None:
    page = tree(open_as, manager, build)

    drag(page, line(page, "run:R1"), line(page, "run:R8"))
    page.get_by_role("button", name="Feed it from there").click()

    expect(page.locator("details[open] .field-error")).to_contain_text("B1 hangs below MD")
    assert feed_of(build, "R1") == "BAT1"


def test_feed_is_split_and_something_is_added_by_keys(open_as: Open, manager: Person, build: Build) -> None:
    page = tree(open_as, manager, build)
    line(page, "run:R2").focus()
    page.keyboard.press("s")
    expect(page.locator("#split-kind")).to_be_focused()
    page.locator("#split-at_m").fill("4")
    page.locator("#split-node-name").fill("Roof bus")
    page.keyboard.press("Enter")
    expect(page.locator("[data-tree-said]")).to_contain_text("Feed R2 split by BUS1")
    expect(line(page, "run:R2")).to_be_focused()

    page.keyboard.press("a")
    expect(page.locator("details[open] [name=kind]")).to_be_visible()
    page.locator("details[open] [name=kind]").select_option("panel")
    page.locator("#add-node-panel__positions").fill("6")
    page.locator("#add-node-panel__columns").fill("3")
    page.locator("#add-node-name").fill("Roof panel")
    page.locator("#add-run-gauge").select_option("8")
    page.locator("#add-run-length_m").fill("3")
    page.get_by_role("button", name="Add it", exact=True).click()

    expect(page.locator("#tree-chosen")).to_contain_text("P2 Roof panel")
    assert feed_of(build, build.runs.get(to_node__key="P2").key) == "BUS1"


def test_circuit_is_taken_out_and_comes_back_with_undo(open_as: Open, manager: Person, build: Build) -> None:
    page = tree(open_as, manager, build, "?at=circuit:101")
    line(page, "circuit:101").focus()

    page.keyboard.press("Delete")
    expect(page.locator("details[open]")).to_contain_text("Its 1 load goes with it")
    page.get_by_role("button", name="Take out circuit 101").click()
    expect(line(page, "circuit:101")).to_have_count(0)
    page.get_by_role("button", name="Undo the last edit").click()

    expect(line(page, "circuit:101")).to_have_count(1)
    assert build.loads.filter(circuit__number="101").count() == 1


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1440, "dark")])
def test_tree_has_no_serious_fault_and_does_not_scroll_sideways(
    open_as: Open, manager: Person, build: Build, width: int, scheme: str
) -> None:
    page = tree(open_as, manager, build, "?at=run:R2&do=split", width=width, color_scheme=scheme)

    faults = [
        (fault["id"], node["html"][:200])
        for fault in Axe().run(page).response["violations"]
        if fault["impact"] in ("serious", "critical")
        for node in fault["nodes"]
    ]

    assert faults == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
