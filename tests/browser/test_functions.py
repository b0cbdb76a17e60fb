"""The functions of a build in a browser: controls light lamps, a refuted claim is seen on the picture, faults lead to their place."""

from collections.abc import Callable
from statistics import median

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, expect

from builds.models import Build, Person, Role
from builds.selectors.engineering_inputs import design_of
from builds.services.customer_links import make_handover_link
from builds.services.design_edits import edit_row
from builds.services.function_schedules import replace_schedule
from builds.services.revisions import release
from tests.factories.builds import AT, make_designed_build, make_person, make_shop

pytestmark = pytest.mark.django_db(transaction=True)

Open = Callable[..., Page]

TEXT = """input mode: selector off, respond
input brake: signal meaning brake; wire C3-11
input hatch: signal meaning hatch; wire B1-2
channel rear-red: lamp; zone CAB; facing rear; colour red; load L101
channel work: lamp; zone CAB; facing rear; colour white; load L102
pattern beat: 300 ms on, 500 ms off
rule go (priority 10): rear-red flash beat when mode is respond; if lost, does not apply
rule cut (priority 5): rear-red off when brake; if lost, applies
rule load (priority 10): work steady when hatch for at least 3 s; if lost, does not apply
claim brake-alone: whenever brake then rear-red is off
"""


# What a thumb presses in the sheet and is under 44 px high; a tick is pressed by its label.
TOO_SMALL = """() => [...document.querySelectorAll("main .sheet :is(a.button, th > a, button, select, summary, textarea, input)")]
  .filter(one => one.type !== "hidden" && one.checkVisibility({ visibilityProperty: true }))
  .filter(one => (one.closest(".choice, .field-check") || one).getBoundingClientRect().height < 44)
  .map(one => one.id || one.textContent)"""
WORKED = "() => new URLSearchParams(new FormData(document.getElementById('play-form'))).toString()"
# Works one control back and forth; by each click, when the picture has changed and when its answer had come.
TOGGLED = """async times => {
  const shown = { until_shown_ms: [], answered_ms: [], sent_bytes: [] };
  for (let number = 0; number < times; number++) {
    performance.clearResourceTimings();
    const lit = document.querySelectorAll(".lamp-lit").length;
    const changed = new Promise(resolve => {
      const seen = new MutationObserver(() => {
        if (document.querySelectorAll(".lamp-lit").length !== lit) { seen.disconnect(); resolve(performance.now()); }
      });
      seen.observe(document.body, { childList: true, subtree: true });
    });
    const clicked = performance.now();
    document.getElementById(number % 2 ? "in-mode-0" : "in-mode-1").click();
    shown.until_shown_ms.push(await changed - clicked);
    await new Promise(resolve => setTimeout(resolve, 50));
    const [answer] = performance.getEntriesByType("resource").filter(one => one.name.includes("/play/"));
    shown.answered_ms.push(answer.responseEnd - answer.startTime);
    shown.sent_bytes.push(answer.encodedBodySize);
  }
  return shown;
}"""


@pytest.fixture
def designer() -> Person:
    make_shop()
    return make_person(Role.DESIGNER)


@pytest.fixture
def build(designer: Person) -> Build:
    build = make_designed_build(designer)
    replace_schedule(build=build, text=TEXT, row_version=0, by=designer, at=AT)
    return build


def opened(open_as: Open, person: Person, build: Build, **options: int) -> Page:
    page = open_as(person, **options)
    page.goto(f"/builds/{build.number}/functions/")
    return page


def test_a_refuted_claim_is_shown_on_the_picture_with_one_click(open_as: Open, designer: Person, build: Build) -> None:
    page = opened(open_as, designer, build)
    claim = page.locator("#claim-brake-alone")
    expect(claim).to_contain_text("Refuted")
    expect(claim).to_contain_text("from rest turn mode to respond and bring brake on: rear-red flashes beat by rule go")

    claim.get_by_role("link", name="Show it on the picture").click()

    expect(page.locator("#shown-claim")).to_contain_text("Claim brake-alone does not hold")
    expect(page.get_by_role("status").filter(has_text="Mode respond")).to_contain_text("brake on: 1 output on")
    expect(page.locator(".lamp-lit")).to_have_count(1)
    expect(page.locator(".table-outputs").first).to_contain_text("by rule go")
    expect(page.locator("#in-brake-1")).to_be_checked()


def test_controls_are_worked_by_keys_and_the_lamps_follow(open_as: Open, designer: Person, build: Build) -> None:
    page = opened(open_as, designer, build)
    expect(page.locator(".lamp-lit")).to_have_count(0)

    page.locator("#in-mode-0").focus()
    page.keyboard.press("ArrowRight")

    expect(page.locator(".lamp-lit")).to_have_count(1)
    expect(page.locator("#in-mode-1")).to_be_focused()
    page.keyboard.press("ArrowRight")
    expect(page.locator(".play-said")).to_contain_text("Mode lost")


def test_a_timer_is_waited_for_and_the_flashing_is_stepped_by_hand_under_reduced_motion(
    open_as: Open, designer: Person, build: Build
) -> None:
    page = opened(open_as, designer, build)
    page.locator("#in-hatch-1").check(force=True)
    page.get_by_role("button", name="Wait 3 s").click()
    expect(page.locator(".play-said")).to_contain_text("Hatch on: 1 output on.")
    page.locator("#in-mode-1").check(force=True)
    expect(page.locator(".lamp-lit")).to_have_count(2)

    expect(page.get_by_role("button", name="Play slowly")).to_be_hidden()
    page.get_by_role("button", name="Next moment").click()
    expect(page.locator(".play-buttons")).to_contain_text("moment 1 of")
    page.get_by_role("button", name="Next moment").click()

    expect(page.locator(".lamp-lit")).to_have_count(1)  # the flashing one is dark, the steady one lit
    expect(page.locator(".table-outputs").first).to_contain_text("dark now")


def test_time_runs_by_itself_but_stands_still_where_less_motion_is_asked_for(
    open_as: Open, designer: Person, build: Build
) -> None:
    moving, calm = open_as(designer), open_as(designer)
    moving.emulate_media(reduced_motion="no-preference")
    asked: list[str] = []
    calm.on("request", lambda request: asked.append(request.url))
    for page in (moving, calm):
        page.goto(f"/builds/{build.number}/functions/")
        page.locator("#in-hatch-1").check(force=True)
        expect(page.get_by_role("button", name="Wait 3 s")).to_be_visible()
    moving.get_by_role("button", name="Let time run").click()
    address = f"/builds/{build.number}/functions/?{calm.evaluate(WORKED)}&running=1"
    calm.goto(address)
    asked.clear()

    expect(moving.locator(".play-said")).to_contain_text("Hatch on: 1 output on.")
    moving.locator("#in-mode-1").check(force=True)
    moving.get_by_role("button", name="Play slowly").click()
    expect(moving.locator(".play-buttons")).to_contain_text("moment 2 of")  # by itself
    moving.get_by_role("button", name="Stop").click()
    expect(moving.get_by_role("button", name="Play slowly")).to_be_visible()

    expect(calm.get_by_text("time stands still: your device asks for less motion")).to_be_visible()
    expect(calm.locator(".play-said")).to_contain_text("A timer runs out in 3 s")
    assert [url for url in asked if "/play/" in url] == []
    calm.get_by_role("button", name="Wait 3 s").click()
    expect(calm.locator(".play-said")).to_contain_text("Hatch on: 1 output on.")


def test_a_toggle_is_one_small_request_and_little_more_than_the_answer_of_the_server(
    open_as: Open, designer: Person, build: Build, record_property: Callable[[str, object], None]
) -> None:
    page = opened(open_as, designer, build)
    asked: list[str] = []
    page.evaluate("window.sameDocument = true")
    page.on("request", lambda request: asked.append(request.url))

    shown = page.evaluate(TOGGLED, 9)

    assert len(asked) == 9 and all("/functions/play/" in url for url in asked)
    assert page.evaluate("window.sameDocument")  # nothing was loaded anew
    assert max(shown["sent_bytes"]) < 100_000
    until_shown_ms, answered_ms = median(shown["until_shown_ms"]), median(shown["answered_ms"])
    record_property("until_shown_ms", until_shown_ms)
    # the page adds its own swap and at most two frames of a screen, whatever the machine; no pause, no second question
    assert until_shown_ms < 1.5 * answered_ms + 50


def test_the_setting_of_the_picture_is_kept_as_a_condition_s(open_as: Open, designer: Person, build: Build) -> None:
    page = opened(open_as, designer, build)
    page.locator("#in-mode-1").check(force=True)
    expect(page.locator(".lamp-lit")).to_have_count(1)

    page.get_by_role("button", name="Keep this setting").click()

    expect(page.locator(".play-conditions")).to_be_visible()
    [setting] = design_of(build).conditions[0].input_settings
    assert (setting.input, setting.value) == ("mode", "respond")


def test_a_fault_leads_to_its_place_in_the_text(open_as: Open, designer: Person, build: Build) -> None:
    page = open_as(designer)
    page.goto(f"/builds/{build.number}/functions/text/")
    page.locator("#schedule-text").fill(TEXT.replace("when brake;", "when brak;"))
    page.get_by_role("button", name="Keep the schedule").click()
    expect(page.locator(".fault-list")).to_contain_text("1 fault; nothing was kept")

    page.get_by_role("button", name="Line 8, column").click()

    selected = "() => { const t = document.activeElement; return t.value.slice(t.selectionStart, t.selectionEnd); }"
    assert page.evaluate(selected) == "brak"
    page.keyboard.type("brake")
    page.get_by_role("button", name="Keep the schedule").click()
    expect(page.locator("#messages")).to_contain_text("1 claim of it does not hold")
    assert design_of(build).function_schedule == TEXT


def test_a_customer_plays_the_agreed_conditions_on_a_phone_before_signing(
    open_as: Open, designer: Person, build: Build
) -> None:
    quiet, condition = TEXT[: TEXT.index("claim ")], build.conditions.first()
    assert condition is not None
    replace_schedule(build=build, text=quiet, row_version=1, by=designer, at=AT)
    edit_row(build=build, family="condition", key=condition.key, row_version=condition.row_version, by=designer, at=AT,
             values={"input_settings": [{"input": "mode", "value": "respond"}]})  # fmt: skip
    release(build=build, summary="first", by=designer, at=AT)
    token = make_handover_link(build=build, made_for="P. Lund", by=make_person(Role.MANAGER), at=timezone.now()).token
    page = open_as(None, width=390, height=844)
    moving = open_as(None, width=390, height=844)
    moving.emulate_media(reduced_motion="no-preference")

    page.goto(f"/l/{token}/quote/")
    expect(page.get_by_role("heading", name="Sign here")).to_be_visible()
    page.get_by_role("link", name="See what the lights do").click()

    page.get_by_label("Agreed use").select_option(condition.key)
    page.get_by_role("button", name="Show").click()
    expect(page.locator(".play-said")).to_contain_text("1 thing on.")
    expect(page.locator("#lights")).to_contain_text("flash beat")
    page.get_by_role("link", name="Next moment").click()
    expect(page.locator(".play-said")).to_contain_text("Moment 1 of")
    page.get_by_role("link", name="Next moment").click()
    expect(page.locator(".lamp-lit")).to_have_count(0)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert Axe().run(page).violations_count == 0
    moving.goto(f"/l/{token}/lights/?use={condition.key}")
    moving.get_by_role("link", name="Play slowly").click()
    expect(moving.locator(".play-said")).to_contain_text("Moment 2 of")  # by itself
    moving.get_by_role("link", name="Stop").click()
    expect(moving.get_by_role("link", name="Play slowly")).to_be_visible()


@pytest.mark.parametrize("width", [390, 1440])
@pytest.mark.parametrize(
    "subject",
    ["input:mode", "channel:work", "head:new", "claim:brake-alone", "rule:go", "pattern:beat", "set:new", "given:new"],
)
def test_fields_of_a_statement_fit_the_page_and_readers_find_their_way(
    open_as: Open, designer: Person, build: Build, subject: str, width: int
) -> None:
    page = open_as(designer, width=width)

    page.goto(f"/builds/{build.number}/functions/statements/{subject}/")

    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    if width < 900:
        assert page.evaluate(TOO_SMALL) == []


def test_steps_of_a_pattern_are_worked_by_keys_and_the_figures_follow_before_anything_is_kept(
    open_as: Open, designer: Person, build: Build
) -> None:
    page = open_as(designer)
    page.goto(f"/builds/{build.number}/functions/statements/pattern:beat/")
    figures = page.locator("#pattern-figures")
    expect(figures).to_contain_text("75 a minute")
    page.get_by_label("Rates it has to keep to").select_option("sae-j845")
    expect(figures).to_contain_text("Within")

    page.locator("#id_step-1-duration_ms").fill("60")
    expect(figures).to_contain_text("none: each flash is one pulse")
    page.locator("#id_step-0-duration_ms").fill("100")
    expect(figures).to_contain_text("375 a minute")
    expect(figures).to_contain_text("SAE J845")
    page.get_by_role("button", name="Add step").press("Enter")
    expect(page.locator("#id_step-2-duration_ms")).to_be_focused()
    expect(figures).to_contain_text("No figures yet")
    page.keyboard.type("300")
    page.locator("#id_step-2-shows").select_option("dim")
    page.get_by_label("Dimmed to, in percent").and_(page.locator(":visible")).fill("30")
    page.get_by_role("button", name="Up, step 3").press("Enter")
    expect(page.get_by_role("button", name="Up, step 2")).to_be_focused()
    expect(figures).to_contain_text("130.4 a minute")
    assert design_of(build).function_schedule == TEXT
    page.get_by_role("button", name="Keep").click()

    expect(page.locator("#messages")).to_contain_text("The function schedule is kept.")
    kept = "pattern beat: 100 ms on, 300 ms at 30 %, 60 ms off; limit sae-j845"
    assert design_of(build).function_schedule == TEXT.replace("pattern beat: 300 ms on, 500 ms off", kept)


def test_outputs_of_a_set_are_ticked_on_a_phone(open_as: Open, designer: Person, build: Build) -> None:
    page = open_as(designer, width=390, height=844, has_touch=True)
    page.goto(f"/builds/{build.number}/functions/statements/set:new/")

    page.get_by_label("Name").fill("all lamps")
    page.get_by_label("work", exact=True).tap()
    page.get_by_role("button", name="Keep").tap()

    expect(page.locator("#messages")).to_contain_text("The function schedule is kept.")
    assert 'set "all lamps": work\n' in design_of(build).function_schedule


@pytest.mark.parametrize("width", [390, 1440])
def test_nothing_stands_out_of_the_page_and_readers_find_their_way(
    open_as: Open, designer: Person, build: Build, width: int
) -> None:
    page = opened(open_as, designer, build, width=width)

    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    assert width >= 900 or page.evaluate(TOO_SMALL) == []
