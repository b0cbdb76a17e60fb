"""The desk in a browser: rows edited in place, other people's edits around an open row, a phone's width, axe."""

from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, expect

from builds.models import Build, Person, Role
from builds.services import design_edits
from tests.factories.builds import make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db(transaction=True)

PAGES = (
    "/builds/",
    "/builds/open/",
    "/builds/open/?start=build",
    "/builds/open/?start=document",
    "/builds/{number}/",
    "/builds/{number}/?edit=circuit:101",
    "/builds/{number}/?add=circuit",
    "/builds/{number}/stages/",
    "/builds/{number}/facts/",
    "/builds/{number}/loads-on/idle/",
    "/builds/{number}/registers/splice/add/",
    "/customers/",
    "/customers/{customer}/",
    "/profiles/{profile}/",
    "/profiles/{profile}/rules/key-off-limit/",
)


@pytest.fixture
def manager() -> Person:
    make_shop()
    return make_person(Role.MANAGER, short_name="S. Brandt")


@pytest.fixture
def build(manager: Person) -> Build:
    return make_designed_build(manager, circuits=4)


def sheet(open_as: Callable[..., Page], person: Person, build: Build, **options: Any) -> Page:
    page = open_as(person, **options)
    page.goto(f"/builds/{build.number}/")
    return page


def open_cell(page: Page, subject: str, cell: str) -> None:
    page.locator(f"#{subject} [data-cell={cell}]").click()
    page.wait_for_selector(f"#{subject}[data-edit]")


def test_row_is_edited_where_it_stands_and_the_strip_follows(
    open_as: Callable[..., Page], manager: Person, build: Build
) -> None:
    page = sheet(open_as, manager, build)
    drop = page.locator("[data-figure=drop] .strip-value")
    before = drop.inner_text()
    open_cell(page, "circuit-101", "length_m")
    expect(page.locator("#circuit-101 [name=length_m]")).to_be_focused()

    page.keyboard.type("90")
    expect(page.locator("#says-circuit-101")).to_contain_text("If you keep it: drop")
    assert drop.inner_text() == before  # until kept, the strip speaks of the kept design
    page.keyboard.press("Enter")

    expect(page.locator("#circuit-101:not([data-edit])")).to_contain_text("90")
    expect(drop).not_to_have_text(before)
    expect(page.locator("#circuit-101 a[data-open]")).to_be_focused()


def test_escape_puts_a_row_back(open_as: Callable[..., Page], manager: Person, build: Build) -> None:
    page = sheet(open_as, manager, build)
    open_cell(page, "circuit-101", "gauge")

    page.locator("#circuit-101 [name=legend]").fill("NOT THIS")
    page.keyboard.press("Escape")

    expect(page.locator("#circuit-101:not([data-edit])")).to_contain_text("LAMP 1")
    expect(page.locator("#circuit-101 a[data-open]")).to_be_focused()


def test_fault_is_said_under_the_row_and_the_field_has_the_focus(
    open_as: Callable[..., Page], manager: Person, build: Build
) -> None:
    page = sheet(open_as, manager, build)
    open_cell(page, "circuit-101", "length_m")

    page.locator("#circuit-101 [name=length_m]").fill("12,5")
    page.keyboard.press("Enter")

    expect(page.locator("#circuit-101 .field-error")).to_contain_text("Write the number with a point")
    expect(page.locator("#circuit-101 [name=length_m]")).to_be_focused()


def test_others_edits_come_in_around_a_row_that_is_open(
    open_as: Callable[..., Page], manager: Person, build: Build
) -> None:
    page = sheet(open_as, manager, build)
    open_cell(page, "circuit-102", "legend")
    page.locator("#circuit-102 [name=legend]").fill("HALF TYPED")
    for key in ("101", "102"):
        design_edits.edit_row(
            build=build, family="circuit", key=key, values={"legend": f"THEIRS {key}"}, row_version=1, by=manager,
            at=timezone.now(),
        )  # fmt: skip

    page.evaluate(
        "document.body.dispatchEvent(new CustomEvent('design-changed', {bubbles: true, detail: {design_version: 3}}))"
    )

    expect(page.locator("#circuit-101")).to_contain_text("THEIRS 101")
    expect(page.locator("#circuit-102 [name=legend]")).to_have_value("HALF TYPED")

    page.locator("#circuit-102 [data-keep]").click()
    expect(page.locator("#circuit-102 .merge")).to_contain_text("THEIRS 102")
    page.get_by_label("Take theirs").check()
    page.locator("#circuit-102 [data-keep]").click()
    expect(page.locator("#circuit-102:not([data-edit])")).to_contain_text("THEIRS 102")


def test_row_that_another_has_open_shows_their_name_in_its_margin_and_stays_readable(
    open_as: Callable[..., Page], manager: Person, build: Build
) -> None:
    page = sheet(open_as, manager, build)
    told = """([row, by, open]) => document.body.dispatchEvent(
        new CustomEvent("row-open", { bubbles: true, detail: { row, by, open } }))"""

    page.evaluate(told, ["circuit:102", "M. Vale <i>", True])
    expect(page.locator("#circuit-102 .open-by")).to_contain_text("M. Vale <i> has this row open")
    expect(page.locator("#circuit-102")).to_contain_text("LAMP 2")
    page.evaluate(told, ["circuit:102", "M. Vale <i>", False])

    expect(page.locator(".open-by")).to_have_count(0)


def test_screen_says_which_row_it_has_open_and_when_it_has_left_it(
    open_as: Callable[..., Page], manager: Person, build: Build
) -> None:
    page = sheet(open_as, manager, build)
    sent: list[str] = []
    page.on("request", lambda request: sent.append(request.post_data or "") if "row-open" in request.url else None)

    open_cell(page, "circuit-101", "gauge")
    page.keyboard.press("Escape")
    expect(page.locator("#circuit-101:not([data-edit])")).to_be_visible()
    expect(page.locator("#circuit-101 a[data-open]")).to_be_focused()

    said = [("circuit:101" in body, body.count("\r\n1\r\n"), body.count("\r\n0\r\n")) for body in sent]
    assert said == [(True, 1, 0), (True, 0, 1)]


def test_circuit_is_added_gets_a_load_and_is_removed(
    open_as: Callable[..., Page], manager: Person, build: Build
) -> None:
    page = sheet(open_as, manager, build)
    page.get_by_role("link", name="Add circuit").click()
    for name, typed in (
        ("legend", "SPARE LAMP"),
        ("device_rating_a", "5"),
        ("length_m", "10"),
        ("return_length_m", "1"),
    ):
        page.locator(f"#new-circuit [name={name}]").fill(typed)
    page.locator("#new-circuit [name=gauge]").select_option("16")
    page.locator("#new-circuit [data-keep]").click()
    expect(page.locator("#circuit-105")).to_contain_text("SPARE LAMP")
    expect(page.locator("#new-circuit [data-keep]")).to_have_count(0)

    page.locator("#circuit-105 a[data-open]").click()
    page.get_by_role("link", name="Add load").click()
    page.locator("#new-load-circuit-105 [name=name]").fill("Spare lamp")
    page.locator("#new-load-circuit-105 [name=current_a]").fill("1.5")
    page.locator("#new-load-circuit-105 [data-keep]").click()
    expect(page.locator("#circuit-105 .table-loads")).to_contain_text("Spare lamp")

    page.get_by_role("button", name="Remove circuit 105").click()
    expect(page.locator("#circuit-105")).to_have_count(0)
    page.get_by_role("button", name="Undo the last edit").click()
    expect(page.locator("#circuit-105")).to_contain_text("SPARE LAMP")


def test_vin_is_checked_while_it_is_typed(open_as: Callable[..., Page], manager: Person) -> None:
    page = open_as(manager)
    page.goto("/builds/open/")

    page.locator("#id_vin").press_sequentially("1M8GDM9A0KP042788")

    expect(page.locator("#vin-says")).to_contain_text("the other characters give X")
    expect(page.get_by_label("Keep it and say why")).to_be_visible()


def test_list_follows_the_search_and_keeps_it_in_the_address(
    open_as: Callable[..., Page], manager: Person, build: Build
) -> None:
    page = open_as(manager)
    page.goto("/builds/")

    page.get_by_label("Find").fill("nothing like it")
    expect(page.locator("#build-table")).to_contain_text("No build fits this search.")
    page.get_by_label("Find").fill(build.number)

    expect(page.locator("#build-table")).to_contain_text(build.title)
    assert f"q={build.number}" in page.url


def test_phone_shows_the_least_margin_first_and_two_lines_a_row(
    open_as: Callable[..., Page], manager: Person, build: Build
) -> None:
    build.circuits.filter(number="103").update(length_m=60, gauge="18")
    page = sheet(open_as, manager, build, width=390, height=844)

    lefts = page.eval_on_selector_all(
        ".strip-figure", "all => all.map(one => [one.getBoundingClientRect().left, one.dataset.figure])"
    )
    row = page.locator("#circuit-101 tr").bounding_box()

    assert min(lefts)[1] == "drop"
    assert row is not None and 48 <= row["height"] <= 90
    expect(page.locator(".bottom-bar")).to_be_visible()


@pytest.mark.parametrize("width", [390, 768, 1024, 1440])
def test_no_page_scrolls_sideways(open_as: Callable[..., Page], manager: Person, build: Build, width: int) -> None:
    page = open_as(manager, width=width)
    wide = {}
    for address in addresses(build):
        page.goto(address)
        wide[address] = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")

    assert {address: over for address, over in wide.items() if over > 0} == {}


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_nothing_serious(open_as: Callable[..., Page], manager: Person, build: Build, theme: str) -> None:
    build.circuits.filter(number="103").update(length_m=60, gauge="18")
    page = open_as(manager, color_scheme=theme)
    found = {}
    # every page in the light, as it first stands, is looked at in test_every_page.py
    for address in [item for item in addresses(build) if theme == "dark" or "?" in item]:
        page.goto(address)
        violations = Axe().run(page).response["violations"]
        serious = [
            f"{item['id']}: {item['nodes'][0]['html'][:160]}"
            for item in violations
            if item["impact"] in ("serious", "critical")
        ]
        found[address] = serious

    assert {address: serious for address, serious in found.items() if serious} == {}


def addresses(build: Build) -> list[str]:
    values = {"number": build.number, "customer": build.customer_id, "profile": build.profile_id}
    return [address.format(**values) for address in PAGES]
