"""The look in Chromium: every page, width and theme under the real content policy; keys, themes and live changes."""

import threading
from collections.abc import Iterator
from socketserver import ThreadingMixIn
from wsgiref.simple_server import WSGIRequestHandler, WSGIServer, make_server

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.core.handlers.wsgi import WSGIHandler
from django.test import override_settings
from look_routes import PAGES
from playwright.sync_api import Browser, Page, expect

pytestmark = pytest.mark.browser

WIDTHS = (390, 901, 1024, 1061, 1181, 1440)


class _Server(ThreadingMixIn, WSGIServer):
    daemon_threads = True


class _Quiet(WSGIRequestHandler):
    def log_message(self, format: str, *args: object) -> None:  # noqa: A002  the base class names it so
        pass


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with override_settings(ROOT_URLCONF="look_routes", EVENTS_PORT=0, EVENTS_ORIGIN=""):
        server = make_server(
            "127.0.0.1", 0, StaticFilesHandler(WSGIHandler()), server_class=_Server, handler_class=_Quiet
        )
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()
        server.server_close()
        thread.join()


@pytest.fixture(scope="module")
def browser(chromium: Browser) -> Browser:
    return chromium


@pytest.fixture
def faults() -> list[str]:
    return []


def open_page(
    browser: Browser, address: str, path: str, faults: list[str], *, width: int = 1440, theme: str = "light"
) -> Page:
    context = browser.new_context(
        viewport={"width": width, "height": 844}, has_touch=width < 500, is_mobile=width < 500
    )
    if theme != "light":
        context.add_cookies([{"name": "theme", "value": theme, "url": address}])
    page = context.new_page()
    page.on("console", lambda message: faults.append(message.text) if message.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: faults.append(str(error)))
    answer = page.goto(f"{address}{path}")
    assert answer is not None and "default-src 'none'" in answer.headers["content-security-policy"]
    page.evaluate("document.fonts.ready")
    return page


@pytest.mark.parametrize("name", PAGES)
def test_page_breaks_no_policy_and_never_scrolls_sideways(
    browser: Browser, address: str, faults: list[str], name: str
) -> None:
    page = open_page(browser, address, f"/{name}/", faults, width=WIDTHS[0])
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 844})
        assert (width, page.evaluate("document.documentElement.scrollWidth")) == (width, width)
    assert faults == []
    page.context.close()


@pytest.mark.parametrize(
    ("name", "theme"), [*((name, "light") for name in PAGES), ("styleguide", "dark"), ("styleguide_floor", "glare")]
)
def test_axe_finds_nothing_serious(browser: Browser, address: str, faults: list[str], name: str, theme: str) -> None:
    page = open_page(browser, address, f"/{name}/", faults, width=390 if theme == "glare" else 1440, theme=theme)

    found = Axe().run(page).response["violations"]

    assert [(v["id"], v["nodes"][0]["html"][:160]) for v in found if v["impact"] in ("serious", "critical")] == []
    page.context.close()


def test_floor_targets_fit_a_gloved_thumb(browser: Browser, address: str, faults: list[str]) -> None:
    page = open_page(browser, address, "/styleguide_floor/", faults, width=390)

    sizes = page.evaluate("""[...document.querySelectorAll('main button, main a, main input, .foot button, .floor-head a')]
        .map(e => [e.textContent.trim() || e.id, e.getBoundingClientRect().width, e.getBoundingClientRect().height])""")

    assert len(sizes) >= 7
    assert [size for size in sizes if size[1] < 48 or size[2] < 48] == []
    assert (
        page.evaluate(
            "Math.min(...[...document.querySelectorAll('.foot button')].map(e => e.getBoundingClientRect().height))"
        )
        >= 84
    )
    page.context.close()


def test_reading_and_foot_share_one_phone_screen(browser: Browser, address: str, faults: list[str]) -> None:
    page = open_page(browser, address, "/styleguide_floor/", faults, width=390)

    reading = page.evaluate("document.querySelector('.reading').getBoundingClientRect().bottom")
    foot = page.evaluate("document.querySelector('.foot').getBoundingClientRect().top")

    assert reading <= foot <= 844
    page.context.close()


def test_theme_choice_is_kept(browser: Browser, address: str, faults: list[str]) -> None:
    page = open_page(browser, address, "/styleguide/", faults)
    page.locator(".person > summary").click()

    page.get_by_label("Glare").check()
    assert page.locator("html").get_attribute("data-theme") == "glare"
    page.reload()
    assert page.locator("html").get_attribute("data-theme") == "glare"  # drawn by the server
    page.locator(".person > summary").click()
    page.get_by_label("As the system says").check()
    assert page.locator("html").get_attribute("data-theme") is None
    page.reload()
    assert page.locator("html").get_attribute("data-theme") is None
    page.context.close()


def test_system_wish_for_dark_is_followed(browser: Browser, address: str) -> None:
    context = browser.new_context(color_scheme="dark")
    page = context.new_page()
    page.goto(f"{address}/styleguide/")

    assert page.evaluate("getComputedStyle(document.querySelector('.sheet')).backgroundColor") == "rgb(22, 28, 31)"
    context.close()


def test_every_control_shows_where_the_focus_is(browser: Browser, address: str, faults: list[str]) -> None:
    page = open_page(browser, address, "/styleguide/", faults)
    seen = 0
    for _ in range(40):
        page.keyboard.press("Tab")
        width = page.evaluate("parseFloat(getComputedStyle(document.activeElement).outlineWidth)")
        if page.evaluate("document.activeElement !== document.body"):
            assert width >= 3
            seen += 1
    assert seen >= 30
    page.context.close()


def test_enter_keeps_and_the_figure_follows(browser: Browser, address: str, faults: list[str]) -> None:
    page = open_page(browser, address, "/try/", faults)
    page.get_by_role("button", name="3.8").click()
    field = page.get_by_label("Load, A")
    expect(field).to_be_focused()

    field.fill("5.0")
    field.press("Enter")

    expect(page.locator("#row")).to_have_text("5.0")
    expect(page.get_by_role("button", name="5.0")).to_be_focused()
    expect(page.locator("#said")).to_have_text("Load now 5.0 A.")
    expect(page.locator("[data-figure=load]")).to_have_class("strip-figure wash")
    expect(page.locator("[data-figure=load]")).to_have_class("strip-figure")  # the wash ends
    assert faults == []
    page.context.close()


def test_escape_puts_back(browser: Browser, address: str, faults: list[str]) -> None:
    page = open_page(browser, address, "/try/", faults)
    page.get_by_role("button", name="3.8").click()

    expect(page.locator(".htmx-added, .htmx-settling")).to_have_count(
        0
    )  # the row is alive some 20 ms after it is shown
    page.get_by_label("Load, A").fill("9")
    page.get_by_label("Load, A").press("Escape")

    expect(page.get_by_role("button", name="3.8")).to_be_focused()
    assert faults == []
    page.context.close()


def test_an_answer_that_fails_is_said_and_stays(browser: Browser, address: str, faults: list[str]) -> None:
    page = open_page(browser, address, "/try/", faults)

    page.locator("#fails").click()

    expect(page.get_by_role("alert")).to_contain_text("Nothing was kept")
    expect(page.locator("#others")).to_have_text("as it was")
    page.locator("#refused").click()
    expect(page.locator("#others")).to_have_text("Type a figure.")  # 422 swaps
    expect(page.get_by_role("alert")).to_have_count(0)
    page.context.close()


def test_someone_elses_change_arrives_by_the_stream(browser: Browser, address: str, faults: list[str]) -> None:
    page = open_page(browser, address, "/try/?events=/events/", faults)

    expect(page.locator("#others")).to_have_text("as someone else left it")
    page.context.close()


def test_without_a_stream_the_version_is_asked_for(browser: Browser, address: str) -> None:
    page = browser.new_page()
    page.clock.install()
    page.goto(f"{address}/try/")
    expect(page.locator("[data-live-words]")).to_have_text("Asking every 10 seconds for others' changes.")
    expect(page.locator("#others")).to_have_text("as it was")

    page.context.add_cookies([{"name": "version", "value": "7", "url": address}])
    page.clock.run_for(10_500)
    page.clock.resume()

    expect(page.locator("#others")).to_have_text("as someone else left it")
    page.context.close()


def test_an_open_row_is_not_swept_away(browser: Browser, address: str, faults: list[str]) -> None:
    """Somebody else's change waits until the row that is open here is kept or put back."""
    page = open_page(browser, address, "/try/", faults)
    page.evaluate("document.getElementById('others').append(document.querySelector('.sheet'))")
    page.get_by_role("button", name="3.8").click()
    expect(page.get_by_label("Load, A")).to_be_focused()

    page.evaluate("htmx.trigger(document.body, 'design-changed')")

    expect(page.locator("[data-live-words]")).to_contain_text("when you keep your open row or put it back")
    expect(page.get_by_label("Load, A")).to_be_visible()
    page.get_by_label("Load, A").press("Escape")
    expect(page.locator("#others")).to_have_text("as someone else left it")
    page.context.close()


def test_lost_connection_is_said_in_words(browser: Browser, address: str, faults: list[str]) -> None:
    page = open_page(browser, address, "/styleguide_floor/", faults, width=390)
    expect(page.locator("#net")).to_contain_text("On the shop's network.")

    page.context.set_offline(True)

    expect(page.locator("#net")).to_contain_text("No signal.")
    page.context.close()


def test_printed_sheet_is_white_and_keeps_no_buttons(browser: Browser, address: str, faults: list[str]) -> None:
    page = open_page(browser, address, "/styleguide/", faults)

    page.emulate_media(media="print")

    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert page.evaluate("getComputedStyle(document.querySelector('.rail')).display") == "none"
    assert page.evaluate("getComputedStyle(document.querySelector('.table thead')).display") == "table-header-group"
    page.context.close()
