"""What if in a browser: assumed by keys, seen, taken away, kept or left."""

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from builds.models import EditBatch, Role
from tests.factories.builds import make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db(transaction=True)


def test_figure_is_assumed_seen_and_kept(open_as: Callable[..., Page]) -> None:
    make_shop()
    manager = make_person(Role.MANAGER)
    build = make_designed_build(manager, circuits=3)
    page = open_as(manager)
    page.goto(f"/builds/{build.number}/")
    page.get_by_role("link", name="What if").click()

    page.get_by_label("What if the").select_option("length")
    page.get_by_label("Of", exact=True).fill("102")
    page.get_by_label("Were", exact=True).fill("300")
    page.keyboard.press("Enter")
    expect(page.locator(".if-moved")).to_contain_text(["Worst drop"])
    expect(page.locator("#if-new")).to_contain_text("new")
    page.get_by_label("Of", exact=True).fill("nobody")
    page.get_by_label("Were", exact=True).fill("4")
    page.keyboard.press("Enter")
    expect(page.locator(".field-error")).to_contain_text("This build has no nobody.")
    page.get_by_role("link", name="Take away").click()
    expect(page.locator(".if-moved")).to_have_count(0)
    page.go_back()
    expect(page.locator(".if-list")).to_contain_text("circuit 102: length 9.84 → 300 ft")
    assert not EditBatch.objects.exists()

    page.get_by_role("button", name="Keep this").click()

    expect(page.locator("#history")).to_contain_text("circuit 102: length")
    assert f"{build.circuits.get(number='102').length_m}" == "91.440"


@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (1440, "light")])
def test_what_if_has_no_serious_fault_and_does_not_scroll_sideways(
    open_as: Callable[..., Page], width: int, scheme: str
) -> None:
    make_shop()
    manager = make_person(Role.MANAGER)
    build = make_designed_build(manager, circuits=3)
    page = open_as(manager, width=width, color_scheme=scheme)
    page.goto(f"/builds/{build.number}/what-if/?if=circuit:102+length+300&if=node:ALT+alternator+90&if=nonsense")

    faults = [
        (fault["id"], node["html"][:200])
        for fault in Axe().run(page).response["violations"]
        if fault["impact"] in ("serious", "critical")
        for node in fault["nodes"]
    ]

    assert faults == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
