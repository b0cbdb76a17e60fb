"""How a figure came about and the proposed sizes in a browser: opened, tried and applied by keys, at a phone's width and a desk's."""

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from builds.models import Build, EditBatch, Role
from tests.factories.builds import make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def build() -> Build:
    make_shop()
    return make_designed_build(make_person(Role.MANAGER), circuits=3)


def serious(page: Page) -> list[str]:
    return [
        f"{fault['id']}: {node['html'][:120]}"
        for fault in Axe().run(page).response["violations"]
        if fault["impact"] in ("serious", "critical")
        for node in fault["nodes"]
    ]


def test_figure_opens_its_working_and_gets_the_focus_back(open_as: Callable[..., Page], build: Build) -> None:
    page = open_as(make_person(Role.DESIGNER))
    page.goto(f"/builds/{build.number}/")
    figure = page.locator('a.worked[href*="circuit-drop/101/"]').last

    figure.focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("dialog")).to_contain_text("Drop of circuit 101")
    expect(page.locator("#working-title")).to_be_focused()
    page.get_by_role("link", name="Ampacity").press("Enter")
    expect(page.get_by_role("dialog")).to_contain_text("33 CFR 183.425")
    page.keyboard.press("Escape")

    expect(page.get_by_role("dialog")).to_have_count(0)
    expect(figure).to_be_focused()


@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (1440, "light")])
def test_open_working_is_readable(open_as: Callable[..., Page], build: Build, width: int, scheme: str) -> None:
    page = open_as(make_person(Role.DESIGNER), width=width, color_scheme=scheme)
    page.goto(f"/builds/{build.number}/")

    page.locator('.strip a.worked[href*="circuit-drop"]').press("Enter")
    expect(page.get_by_role("dialog")).to_be_visible()

    assert serious(page) == []
    assert page.evaluate("document.querySelector('dialog').scrollWidth <= document.querySelector('dialog').clientWidth")


@pytest.mark.parametrize("width", [390, 1440])
def test_sizes_are_tried_and_applied(open_as: Callable[..., Page], build: Build, width: int) -> None:
    page = open_as(make_person(Role.DESIGNER), width=width)
    page.goto(f"/builds/{build.number}/sizes/")
    assert serious(page) == []

    page.get_by_role("checkbox", name="Choose 101").check()
    page.get_by_role("button", name="Say what it would do").click()
    expect(page.locator("#sizes-says")).to_contain_text("chosen would do this")
    assert not EditBatch.objects.exists()
    page.get_by_role("button", name="Apply chosen").click()

    expect(page.locator("#messages")).to_contain_text("applied")
    assert "101" in {entry.key for entry in EditBatch.objects.get().entries.all()}
    expect(page.locator("#sizes-same")).to_contain_text("101")
