"""
A job opened by hand in an empty shop: its power tree, a circuit with a load, a condition, the quote and its signature.

Nothing is there but people and a platform; whatever the vehicle gets is typed into the pages.
"""

import re
from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from builds.engineering.assess import assess
from builds.models import Build, Role, Stage
from builds.selectors.engineering_inputs import design_of
from tests.factories.builds import make_person, make_platform, make_shop

pytestmark = pytest.mark.django_db(transaction=True)

Open = Callable[..., Page]
VIN = "1M8GDM9AXKP042788"  # 49 CFR 565.15's own worked check digit

NODES: tuple[dict[str, str], ...] = (
    {
        "key": "BAT", "name": "Start battery", "kind": "battery", "zone": "ENG", "battery.capacity_ah": "95", "battery.rated_hours": "20",
        "battery.peukert_exponent": "1.15", "battery.internal_mohm": "4", "battery.open_circuit_v": "12.8", "battery.usable_ratio": "50",
    },
    {
        "key": "ALT", "name": "Alternator", "kind": "alternator", "zone": "ENG", "alternator.rated_a": "220",
        "alternator.idle_ratio": "45", "alternator.speed_ratio": "80",
    },
    {"key": "MD", "name": "Main disconnect", "kind": "disconnect", "zone": "ENG", "rating_a": "200"},
    {"key": "P1", "name": "Cab panel", "kind": "panel", "zone": "CAB", "rating_a": "100", "panel.positions": "8", "panel.columns": "4"},
    {"key": "CH", "name": "Body", "kind": "chassis", "zone": "CAB"},
    {"key": "G1", "name": "Cab stud", "kind": "ground", "zone": "CAB", "chassis": "CH"},
)  # fmt: skip
RUNS: tuple[dict[str, str], ...] = (
    {"key": "R0", "from_node": "BAT", "to_node": "ALT", "gauge": "4/0", "length_m": "1.2", "device_rating_a": "250", "device_family": "class-T"},
    {"key": "R1", "from_node": "BAT", "to_node": "MD", "gauge": "6", "length_m": "0.5", "device_rating_a": "40", "device_family": "MRBF"},
    {"key": "R2", "from_node": "MD", "to_node": "P1", "gauge": "10", "length_m": "5"},
    {"key": "R3", "from_node": "BAT", "to_node": "CH", "side": "return", "gauge": "2/0", "length_m": "0.6"},
)  # fmt: skip
CIRCUIT = {
    "number": "101", "legend": "CAB LAMP", "device_rating_a": "5", "gauge": "16", "length_m": "3", "panel": "P1", "position": "1",
    "device_family": "ATO", "return_node": "G1", "return_length_m": "0.5", "colour": "WH/RD",
}  # fmt: skip
LOAD = {"key": "L1", "circuit": "101", "name": "Cab lamp", "zone": "CAB", "current_a": "2.5", "at_v": "12.8"}
CONDITION = {
    "key": "scene",
    "name": "On scene",
    "source_state": "idle",
    "source_low_v": "12.6",
    "source_high_v": "14.4",
}
PART = {
    "key": "B01",
    "part_number": "TP-LAMP-1",
    "description": "Cab lamp, white",
    "quantity": "1",
    "unit_price": "62.50",
    "mass_kg": "0.4",
}
OPERATION = {
    "key": "lamp",
    "name": "Fit the cab lamp",
    "phase": "mount",
    "place": "vehicle",
    "skill": "electrical",
    "standard_h": "1.5",
}


def test_from_an_empty_shop_to_a_signed_quote(open_as: Open, chromium: Browser, live_server: Any) -> None:
    make_shop(telephone="555-0100")
    platform = make_platform()
    writer = open_as(make_person(Role.SERVICE_WRITER))
    build = opened(writer, platform.pk)
    designer = open_as(make_person(Role.DESIGNER))
    for node in NODES:
        adds(designer, build, "node", node)
    for run in RUNS:
        adds(designer, build, "run", run)
    adds(designer, build, "circuit", CIRCUIT)
    adds(designer, build, "load", LOAD)
    adds(designer, build, "condition", CONDITION)
    lights_what_is_on(designer, build)
    adds(designer, build, "part", PART)
    adds(designer, build, "operation", OPERATION)

    watches_the_drop(designer, build)
    assert [finding.message for finding in assess(design_of(build)).blocking] == []
    link = quoted(designer, writer, build)

    signs_the_quote(chromium, live_server.url + link)
    build.refresh_from_db()
    authorisation = build.revisions.get().authorisations.get()
    assert (authorisation.kind, authorisation.authorised_by) == ("link", "P. Lund")


def opened(page: Page, platform: int) -> Build:
    """Open a build of a new customer's vehicle."""
    page.goto("/builds/open/")
    page.fill("[name=new_customer]", "Ridgeway Roads (invented)")
    page.fill("[name=vin]", VIN)
    expect(page.locator("#vin-says")).to_contain_text("Check digit fits")
    page.fill("[name=unit_number]", "RR-40")
    page.select_option("[name=platform]", str(platform))
    page.fill("[name=title]", "Patrol pickup, one cab lamp")
    page.select_option("[name=units]", "metric")
    page.click("main button:has-text('Open the build')")
    page.wait_for_url(re.compile(r"/builds/\w+/(#.*)?$"))
    return Build.objects.get()


def adds(page: Page, build: Build, family: str, row_values: dict[str, str]) -> None:
    """Type a new row into the sheet and keep it."""
    values = dict(row_values)
    asked = {name: values.pop(name) for name in ("kind", "circuit") if name in values}
    page.goto(f"/builds/{build.number}/?{urlencode({'add': family, **asked})}")
    row = page.locator(".new-row[data-edit]")
    more = row.locator("details.more:not([open]) > summary")
    if more.count():
        more.click()
    for name, value in values.items():
        field = row.locator(f"[name='{name.replace('.', '__')}']")
        if field.evaluate("field => field.tagName") == "SELECT":
            field.select_option(value)
        else:
            field.fill(value)
    row.locator("[data-keep]").click()
    expect(page.locator(f"[data-row='{family}:{next(iter(values.values()))}']").first).to_be_attached()


def lights_what_is_on(page: Page, build: Build) -> None:
    """Say that the lamp is lit in the condition."""
    page.goto(f"/builds/{build.number}/loads-on/{CONDITION['key']}/")
    page.locator("input[type=checkbox]").first.check()
    page.locator("main form button[type=submit]").first.click()
    page.wait_for_load_state()
    assert build.conditions.get().uses.count() == 1


def watches_the_drop(page: Page, build: Build) -> None:
    """A longer wire loses more, and the strip says so at once."""
    page.goto(f"/builds/{build.number}/")
    drop = page.locator("[data-figure=drop] .strip-value")
    before = drop.inner_text()
    page.locator("#circuit-101 [data-cell=length_m]").click()
    page.locator("#circuit-101 [name=length_m]").fill("4")
    page.keyboard.press("Enter")
    expect(page.locator("#circuit-101:not([data-edit])")).to_contain_text("4")
    expect(drop).not_to_have_text(before)
    assert percent(drop.inner_text()) > percent(before)


def percent(words: str) -> float:
    return float(words.removesuffix("%"))


def quoted(designer: Page, writer: Page, build: Build) -> str:
    """Release the revision, quote it and make the customer's link; returns its path."""
    designer.goto(f"/builds/{build.number}/#changes")
    designer.fill("#summary", "As asked")
    designer.click("button:has-text('Release revision A')")
    designer.wait_for_load_state()
    writer.goto(f"/builds/{build.number}/stages/")
    writer.locator(f"form:has(input[name=to][value={Stage.QUOTED.value}]) button[type=submit]").click()
    writer.goto(f"/builds/{build.number}/packet/")
    writer.fill("[name=made_for]", "P. Lund")
    writer.locator("form[action$='/packet/links/'] button[type=submit]").click()
    shown = writer.locator("#new-address")
    expect(shown).to_be_visible()
    return re.sub(r"^https?://[^/]+", "", shown.input_value())


def signs_the_quote(chromium: Browser, address: str) -> None:
    """Read the quote and sign it on a phone, without an account; the page has no serious fault."""
    context = chromium.new_context(viewport={"width": 390, "height": 844}, reduced_motion="reduce")
    page = context.new_page()
    page.goto(address)
    page.locator("a[href$='/quote/']").first.click()
    expect(page.locator("main")).to_contain_text("62.50")
    assert serious_faults(page) == []
    page.fill("[name=typed_name]", "P. Lund")
    page.check("[name=consents]")
    page.locator("button:has-text('Sign')").click()
    page.wait_for_url(address)
    context.close()


def serious_faults(page: Page) -> list[str]:
    return [
        f"{fault['id']}: {node['html'][:120]}"
        for fault in Axe().run(page).response["violations"]
        if fault["impact"] in ("serious", "critical")
        for node in fault["nodes"]
    ]
