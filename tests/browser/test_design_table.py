"""The table of circuits in a browser: keys, a block pasted from a spreadsheet, fill down, faults at their cells, undo."""

import re
import time
from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Locator, Page, expect

from builds.models import Build, EditBatch, Person, Role
from builds.services import design_edits
from tests.factories.builds import AT, make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db(transaction=True)

Open = Callable[..., Page]

_PASTE = """([place, text]) => {
  const data = new DataTransfer();
  data.setData("text/plain", text);
  place.dispatchEvent(new ClipboardEvent("paste", { clipboardData: data, bubbles: true, cancelable: true }));
}"""
_COPY = """(place) => {
  const data = new DataTransfer();
  place.dispatchEvent(new ClipboardEvent("copy", { clipboardData: data, bubbles: true, cancelable: true }));
  return data.getData("text/plain");
}"""


@pytest.fixture
def manager() -> Person:
    make_shop()
    return make_person(Role.MANAGER)


@pytest.fixture
def build(manager: Person) -> Build:
    return make_designed_build(manager, circuits=5)


def table(open_as: Open, person: Person, build: Build, family: str = "circuit", **options: Any) -> Page:
    page = open_as(person, **options)
    page.goto(f"/builds/{build.number}/table/{family}/")
    page.wait_for_selector("[data-ready]")
    return page


def cell(page: Page, key: str, field: str) -> Locator:
    columns = page.locator("table.grid thead th").evaluate_all("all => all.map(one => one.dataset.field || '')")
    return page.locator(f'tr[data-key="{key}"] > :nth-child({columns.index(field) + 1})')


def paste(page: Page, text: str) -> None:
    page.evaluate(_PASTE, [page.locator("td.here").element_handle(), text])


def test_cell_is_typed_with_keys_alone_and_kept(open_as: Open, manager: Person, build: Build) -> None:
    page = table(open_as, manager, build)
    cell(page, "101", "device_rating_a").click()
    page.keyboard.press("ArrowRight")
    expect(cell(page, "101", "gauge")).to_be_focused()

    page.keyboard.type("12")
    page.keyboard.press("Enter")
    expect(cell(page, "102", "gauge")).to_be_focused()
    expect(page.locator("[data-says]")).to_contain_text("1 cell in 1 row changed, not kept yet")
    expect(page.locator("[data-says-words]")).to_contain_text("If you keep it")
    assert not EditBatch.objects.exists()
    page.keyboard.press("Control+Enter")

    expect(page.locator("[data-says]")).to_be_hidden()
    assert build.circuits.get(number="101").gauge == "12"
    expect(cell(page, "102", "gauge")).to_be_focused()


def test_escape_leaves_a_cell_as_it_was(open_as: Open, manager: Person, build: Build) -> None:
    page = table(open_as, manager, build)
    cell(page, "102", "legend").click()

    page.keyboard.type("NOT THIS")
    page.keyboard.press("Escape")

    expect(cell(page, "102", "legend")).to_have_text("LAMP 2")
    expect(page.locator("[data-says]")).to_be_hidden()


def test_block_is_pasted_checked_at_its_cells_mended_and_kept_as_one_edit(
    open_as: Open, manager: Person, build: Build
) -> None:
    page = table(open_as, manager, build)
    cell(page, "101", "gauge").click()

    paste(page, "12\tRD\t20\n99\tBU\t21\n14\tWH/RD\t22,5\n")
    expect(cell(page, "102", "gauge")).to_have_class(re.compile("refused"))
    expect(page.locator("[data-says-faults]")).to_contain_text("102, Gauge: Choose one of the list")
    expect(page.locator("[data-says-faults]")).to_contain_text("103, Length: Write the number with a point")
    expect(page.locator("[data-keep-cells]")).to_be_hidden()

    page.get_by_role("button", name="102, Gauge").click()
    page.keyboard.type("10")
    page.keyboard.press("Enter")
    cell(page, "103", "length_m").click()
    page.keyboard.type("22.5")
    page.keyboard.press("Enter")
    page.locator("[data-keep-cells]").click()

    expect(page.locator("[data-says]")).to_be_hidden()
    rows = {row.number: row for row in build.circuits.all()}
    assert [rows[number].gauge for number in ("101", "102", "103")] == ["12", "10", "14"]
    assert rows["103"].colour == "WH/RD" and f"{rows['103'].length_m}" == "6.858"
    assert EditBatch.objects.count() == 1


def test_block_that_does_not_fit_is_refused_in_words(open_as: Open, manager: Person, build: Build) -> None:
    page = table(open_as, manager, build)
    cell(page, "104", "zones").click()

    paste(page, "CAB\tmore\nCAB\tmore")

    expect(page.locator("#messages")).to_contain_text("2 of its cells would lie outside the table")
    expect(page.locator(".pending")).to_have_count(0)


def test_rows_pasted_below_the_last_are_shown_kept_and_undone_as_one_edit(
    open_as: Open, manager: Person, build: Build
) -> None:
    page = table(open_as, manager, build)
    cell(page, "105", "legend").click()

    paste(page, "LAST\t10\t14\tWH\t20\nPUMP\t15\t12\tRD\t21\nHORN\t10\tbad\tBU\t22")
    expect(page.locator("[data-says-head]")).to_contain_text("2 new rows, 5 cells in 1 row changed")
    expect(page.locator("[data-says-faults]")).to_contain_text("New row 2, Gauge: Choose one of the list")
    page.get_by_role("button", name="New row 2, Gauge").click()
    page.keyboard.type("14")
    page.keyboard.press("Enter")
    expect(page.locator('tr[data-key="+1"] .grid-key')).to_have_text("106")  # as it would be numbered
    expect(cell(page, "+2", "position")).to_have_text("7")
    page.locator("[data-keep-cells]").click()

    expect(page.locator('tr[data-key="107"]')).to_have_count(1)
    assert list(build.circuits.order_by("line").values_list("legend", "gauge"))[4:] == [
        ("LAST", "14"), ("PUMP", "12"), ("HORN", "14"),
    ]  # fmt: skip
    assert EditBatch.objects.count() == 1

    page.wait_for_selector("[data-ready]")
    page.locator("[data-undo]").click()
    expect(page.locator('tr[data-key="106"]')).to_have_count(0)
    assert build.circuits.count() == 5 and build.circuits.get(number="105").legend != "LAST"


def test_block_with_a_line_of_heads_goes_by_its_heads(open_as: Open, manager: Person, build: Build) -> None:
    page = table(open_as, manager, build)
    cell(page, "103", "gauge").click()

    paste(page, "No.\tGauge\tLegend on wire\tLength, ft\tFuse\n102\t10\tSECOND\t30\t\n900\t12\tNINTH\t31\t10")
    expect(page.locator('tr[data-key="+1"] .grid-key')).to_have_text("900")
    page.locator("[data-says-faults] button").first.wait_for()  # 102 was given no fuse: said at its cell
    expect(page.locator("[data-says-faults]")).to_contain_text("102, Fuse")
    page.keyboard.press("Control+z")
    expect(page.locator(".pending")).to_have_count(0)

    paste(page, "No.\tGauge\tLegend on wire\tLength, ft\tFuse\n102\t10\tSECOND\t30\t15\n900\t12\tNINTH\t31\t10")
    page.locator("[data-keep-cells]").click()

    expect(page.locator('tr[data-key="900"]')).to_have_count(1)
    rows = {row.number: row for row in build.circuits.all()}
    assert (rows["102"].legend, rows["102"].gauge, f"{rows['102'].length_m}") == ("SECOND", "10", "9.144")
    assert (rows["900"].legend, rows["900"].gauge, rows["103"].gauge) == ("NINTH", "12", "16")


def test_a_head_that_no_column_has_is_refused_in_words(open_as: Open, manager: Person, build: Build) -> None:
    page = table(open_as, manager, build)
    cell(page, "103", "gauge").click()

    paste(page, "Legend\tGauge\tLength\tWeather\nA\t12\t30\twet")

    expect(page.locator("#messages")).to_contain_text("Nothing was pasted: no column here is called “Weather”.")
    expect(page.locator(".pending")).to_have_count(0)


def test_two_hundred_rows_pasted_at_the_new_row_are_kept_in_seconds(
    open_as: Open, manager: Person, build: Build
) -> None:
    page = table(open_as, manager, build)
    cell(page, "+1", "legend").click()
    block = "\n".join(f"LAMP {place}\t10\t14\tWH\t20" for place in range(200))

    paste(page, "Legend\tFuse\tGauge\tColour\tLength\n" + block)
    expect(page.locator('tr[data-key="+200"] .grid-key')).to_have_text("305", timeout=10_000)
    began = time.monotonic()
    page.locator("[data-keep-cells]").click()
    expect(page.locator('tr[data-key="305"]')).to_have_count(1, timeout=20_000)
    took_s = time.monotonic() - began

    assert build.circuits.count() == 205 and EditBatch.objects.count() == 1
    assert took_s < 10  # a person waits that long without doubting; the database alone takes well under a second


def test_fill_down_take_back_and_undo(open_as: Open, manager: Person, build: Build) -> None:
    page = table(open_as, manager, build)
    cell(page, "101", "colour").click()
    page.keyboard.type("OG")
    page.keyboard.press("Enter")
    page.keyboard.press("ArrowUp")
    for _ in range(3):
        page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Control+d")
    expect(page.locator(".pending")).to_have_count(4)
    page.keyboard.press("Control+z")
    expect(page.locator(".pending")).to_have_count(1)
    page.keyboard.press("Control+d")
    page.keyboard.press("Control+Enter")
    expect(page.locator("[data-says]")).to_be_hidden()
    assert list(build.circuits.filter(colour="OG").values_list("number", flat=True)) == ["101", "102", "103", "104"]

    page.keyboard.press("Control+z")

    expect(page.locator("#said")).to_contain_text("Undone")
    assert not build.circuits.filter(colour="OG").exists()


def test_moving_and_choosing_ask_nothing_of_the_server(open_as: Open, manager: Person, build: Build) -> None:
    page = table(open_as, manager, build)
    cell(page, "101", "legend").click()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url) if "/table/" in request.url else None)

    for key in ("ArrowDown", "ArrowRight", "Shift+ArrowDown", "PageDown", "Control+Home", "Control+End", "Control+a"):
        page.keyboard.press(key)
    cell(page, "103", "gauge").click()

    expect(cell(page, "103", "gauge")).to_be_focused()
    assert asked == []


def test_nothing_left_to_undo_is_said_in_words(open_as: Open, manager: Person, build: Build) -> None:
    page = table(open_as, manager, build)

    page.get_by_role("button", name="Undo the last edit").click()

    expect(page.locator("#messages")).to_contain_text("Nothing is left to undo.")


def test_what_is_copied_can_be_pasted(open_as: Open, manager: Person, build: Build) -> None:
    page = table(open_as, manager, build)
    cell(page, "101", "legend").click()
    page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Shift+ArrowRight")

    text = page.evaluate(_COPY, page.locator("td.here").element_handle())

    assert text == "LAMP 1\t5\nLAMP 2\t5"


def test_others_edits_come_in_and_a_typed_row_says_so_when_kept(open_as: Open, manager: Person, build: Build) -> None:
    page = table(open_as, manager, build)
    cell(page, "101", "gauge").click()
    page.keyboard.type("12")
    page.keyboard.press("Enter")
    for key in ("101", "102"):
        design_edits.edit_row(
            build=build, family="circuit", key=key, values={"gauge": "10"}, row_version=1, by=manager, at=AT
        )
    page.evaluate("document.body.dispatchEvent(new CustomEvent('design-changed', {bubbles: true}))")
    expect(cell(page, "102", "gauge")).to_have_text("10")
    expect(cell(page, "101", "gauge")).to_have_text("12")

    page.keyboard.press("Control+Enter")
    expect(page.locator("[data-says-faults]")).to_contain_text("Someone else changed this too; here is 10 now.")
    page.locator("[data-keep-cells]").click()

    expect(page.locator("[data-says]")).to_be_hidden()
    assert build.circuits.get(number="101").gauge == "12"


@pytest.mark.parametrize("width", [390, 1440])
@pytest.mark.parametrize("family", ["circuit", "run", "load"])
def test_table_has_no_serious_fault_and_only_its_frame_scrolls(
    open_as: Open, manager: Person, build: Build, family: str, width: int
) -> None:
    page = table(open_as, manager, build, family, width=width, color_scheme="dark")

    faults = [
        (fault["id"], node["html"][:160])
        for fault in Axe().run(page).response["violations"]
        if fault["impact"] in ("serious", "critical")
        for node in fault["nodes"]
    ]

    assert faults == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
