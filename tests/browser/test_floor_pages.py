"""The step on a phone: what is said while typing, what is kept without signal, how large and how clear it all is."""

from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, Route, expect

from builds.models import Build, ChecklistStep, Person, Photo, Role, StepResult, Tick
from builds.selectors.readings import judge
from tests.factories.builds import make_person, make_shop
from tests.factories.floor import make_photo_file, make_step, make_working_build, tick

pytestmark = pytest.mark.django_db(transaction=True)

Open = Callable[..., Page]


@pytest.fixture
def technician() -> Person:
    make_shop()
    return make_person(Role.TECHNICIAN)


@pytest.fixture
def build() -> Build:
    return make_working_build()


def path_of(step: ChecklistStep) -> str:
    return f"/builds/{step.build.number}/checklist/{step.pk}/"


def phone(open_as: Open, person: Person, step: ChecklistStep, **options: Any) -> Page:
    page = open_as(person, width=390, height=844, **options)
    page.goto(path_of(step))
    return page


def drafts(page: Page) -> int:
    return int(page.evaluate("Object.keys(localStorage).filter(key => key.startsWith('baywright:draft:')).length"))


LIMITS = {
    "at most": {"reading_min": None, "reading_max": Decimal("0.1")},
    "at least": {"reading_min": Decimal("12.6"), "reading_max": None},
    "between": {"reading_min": Decimal("11.8"), "reading_max": Decimal("14.4")},
    "none": {"reading_min": None, "reading_max": None},
}


@pytest.mark.parametrize("limits", LIMITS)
def test_words_while_typing_are_the_servers_own(open_as: Open, technician: Person, build: Build, limits: str) -> None:
    step = make_step(build, reading="V", reading_decimals=2, **LIMITS[limits])
    page = phone(open_as, technician, step)

    for typed in ("0", "0.06", "0.1", "0.1001", "0.134", "12.59", "12.6", "12.60", "14.4", "15", "-2", ".5", "7."):
        page.fill("[name=reading]", typed)
        verdict = judge(step, Decimal(typed))
        said = page.inner_text("[data-reading-words]").strip()
        assert said == verdict.words + ("" if verdict.within else ": it cannot pass")
        assert page.locator(".foot button[value=pass]").is_visible() is verdict.within
    for typed in ("", "abc", "0,06", "1e3"):
        page.fill("[name=reading]", typed)
        assert page.locator(".foot button[value=pass]").is_visible()


def test_amount_below_nothing_is_refused_in_the_servers_own_words_as_it_is_typed(
    open_as: Open, technician: Person, build: Build
) -> None:
    step = make_step(build, reading="mA", reading_max=Decimal(40))
    page = phone(open_as, technician, step)

    for typed in ("-400", "-0.01", "0", "40"):
        page.fill("[name=reading]", typed)
        verdict = judge(step, Decimal(typed))
        said = page.inner_text("[data-reading-words]").strip()
        assert said == verdict.words + ("" if verdict.within else ": it cannot pass")
        assert page.locator(".foot button[value=pass]").is_visible() is verdict.within


def test_loss_is_judged_in_the_servers_own_words_while_either_voltage_is_typed(
    open_as: Open, technician: Person, build: Build
) -> None:
    step = make_step(
        build, reading="V", reading_min=Decimal(6), reading_max=Decimal("14.98"), reading_lost_max_v=Decimal("0.5")
    )
    page = phone(open_as, technician, step)

    for typed, battery in (("12.8", "13.4"), ("11.6", "12"), ("11.6", "12.1"), ("13.4", "12.8"), ("12.9", "12.8"), ("128", "128.1"),
                           ("0.1", "0.3"), ("12.801", "13.4")):  # fmt: skip
        page.fill("[name=reading]", typed)
        page.fill("[name=reading_at_v]", battery)
        verdict = judge(step, Decimal(typed), Decimal(battery))
        said = page.inner_text("[data-reading-words]").strip()
        assert said == verdict.words + ("" if verdict.within else ": it cannot pass")
        assert page.locator(".foot button[value=pass]").is_visible() is verdict.within
    page.fill("[name=reading_at_v]", "")
    assert "source's volts too" in page.inner_text("[data-reading-words]")


def test_reading_out_of_tolerance_replaces_pass_with_defective(open_as: Open, technician: Person, build: Build) -> None:
    step = make_step(build, reading="V")
    page = phone(open_as, technician, step)
    widest = page.locator(".foot .button-filled:visible")
    expect(widest).to_have_text("Pass")

    page.fill("[name=reading]", "0.134")

    expect(widest).to_have_text("Defective")
    widest.click()
    page.wait_for_url("**/checklist/?kept=*")
    assert Tick.objects.get().result == StepResult.DEFECTIVE


def test_what_is_typed_survives_a_reload_and_belongs_to_one_person(
    open_as: Open, technician: Person, build: Build
) -> None:
    step = make_step(build, reading="V")
    page = phone(open_as, technician, step)
    page.type("[name=reading]", "0.06")
    page.click("[data-remark] > summary")
    page.type("[name=remark]", "left stud")
    event_id = page.input_value("#entry [name=event_id]")

    page.reload()

    assert page.input_value("[name=reading]") == "0.06"
    assert page.input_value("[name=remark]") == "left stud"
    assert page.input_value("#entry [name=event_id]") == event_id
    assert "Within" in page.inner_text("[data-reading-words]")
    other = phone(open_as, make_person(Role.TECHNICIAN), step, storage_state=page.context.storage_state())
    assert other.input_value("[name=reading]") == ""


def test_draft_is_let_go_once_the_server_has_answered(open_as: Open, technician: Person, build: Build) -> None:
    step, following = make_step(build, reading="V"), make_step(build)
    page = phone(open_as, technician, step)
    page.type("[name=reading]", "0.06")
    assert drafts(page) == 1

    page.click(".foot button[value=pass]:visible")

    page.wait_for_url(f"**{path_of(following)}*")
    assert drafts(page) == 0
    kept = Tick.objects.get()
    assert (kept.reading, kept.device_sequence) == (Decimal("0.06"), 1)
    assert kept.device


def test_entry_without_signal_is_kept_and_sent_later_once(open_as: Open, technician: Person, build: Build) -> None:
    step = make_step(build, reading="V", title="Measure G2")
    page = phone(open_as, technician, step)
    page.route("**/tick/", lambda route: route.abort())
    page.type("[name=reading]", "0.06")

    page.click(".foot button[value=pass]:visible")

    expect(page.locator("[data-not-sent]")).to_contain_text("kept on this phone")
    expect(page.locator("[data-net-words]")).to_contain_text("1 entry kept on this phone")
    page.goto(f"/builds/{build.number}/checklist/")
    expect(page.locator("[data-kept-list] a")).to_have_text([f"{build.number}: Measure G2"])
    assert not Tick.objects.exists()

    page.unroute("**/tick/")
    page.click("[data-kept-list] a")
    page.click(".foot button[value=pass]:visible")
    page.wait_for_url("**/checklist/?kept=*")
    expect(page.locator("[data-kept-list]")).to_be_hidden()
    assert Tick.objects.get().reading == Decimal("0.06")


def test_entry_whose_answer_was_lost_is_one_entry_when_sent_again(
    open_as: Open, technician: Person, build: Build
) -> None:
    step = make_step(build)
    page = phone(open_as, technician, step)

    def lose_the_answer(route: Route) -> None:
        route.fetch(max_redirects=0)
        route.abort()

    page.route("**/tick/", lose_the_answer)
    page.click(".foot button[value=pass]:visible")
    expect(page.locator("[data-not-sent]")).to_be_visible()
    assert Tick.objects.count() == 1

    page.unroute("**/tick/")
    page.click(".foot button[value=pass]:visible")
    page.wait_for_url("**/checklist/?kept=*")
    assert Tick.objects.count() == 1 and drafts(page) == 0


def test_refusal_comes_back_at_its_field_and_keeps_what_was_typed(
    open_as: Open, technician: Person, build: Build
) -> None:
    step = make_step(build, reading="V")
    page = phone(open_as, technician, step)
    page.type("[name=reading]", "0.06")

    page.click(".foot button[value=defective]:visible")

    expect(page.locator("#remark-error")).to_contain_text("Say what is wrong")
    assert page.input_value("[name=reading]") == "0.06"
    assert page.evaluate("document.activeElement.name") == "remark"
    page.type("[name=remark]", "cracked")
    page.click(".foot button[value=defective]:visible")
    page.wait_for_url("**/checklist/?kept=*")
    assert Tick.objects.get().remark == "cracked"


def test_step_works_without_script(open_as: Open, technician: Person, build: Build) -> None:
    step, following = make_step(build, reading="V"), make_step(build)
    page = phone(open_as, technician, step, java_script_enabled=False)
    page.fill("[name=reading]", "0.06")

    page.click(".foot button[value=pass]")

    page.wait_for_url(f"**{path_of(following)}*")
    assert Tick.objects.get().reading == Decimal("0.06")


def test_photo_is_sent_at_once_and_leaves_what_is_typed(
    open_as: Open, technician: Person, build: Build, tmp_path: Path
) -> None:
    step = make_step(build, reading="V", photo_required=True)
    picture = tmp_path / "hole.jpg"
    picture.write_bytes(make_photo_file(size=(300, 200)))
    page = phone(open_as, technician, step)
    page.type("[name=reading]", "0.06")

    for count in (1, 2):
        page.set_input_files("[data-photo-input]", picture)
        expect(page.locator(".photo-list img")).to_have_count(count)

    assert page.input_value("[name=reading]") == "0.06"
    assert page.evaluate("document.querySelector('.photo-list img').complete")
    assert Photo.objects.count() == 2
    page.set_input_files("[data-photo-input]", {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": b"no photo"})
    expect(page.locator("[data-photo-words]")).to_contain_text("This is not a photo")


def test_reading_and_foot_share_one_screen(open_as: Open, technician: Person, build: Build) -> None:
    step = make_step(
        build, reading="V", key="stud/G2", subject="node:G2", title="Measure the voltage at ground G2", why="The return.",
        instructions=["Turn on everything.", "Meter between the stud and the post.", "Write down the battery."],
    )  # fmt: skip
    page = phone(open_as, technician, step)

    top = page.locator(".foot").bounding_box()["y"]  # type: ignore[index]
    box = page.locator("[data-reading-words]").bounding_box()
    assert box is not None and box["y"] + box["height"] <= top
    assert page.evaluate("document.documentElement.scrollWidth") == 390


TARGETS = "a, button, input:not([type=hidden]), textarea, summary, label.button"


def phone_pages(build: Build, technician: Person) -> list[str]:
    done, reading = (
        make_step(build, phase="mount"),
        make_step(build, reading="mA", key="key-off", reading_max=Decimal(50)),
    )
    hold = make_step(build, phase="close", is_hold_point=True, covers=[done, reading])
    tick(done, technician)
    return [
        f"/builds/{build.number}/checklist/", path_of(done), path_of(reading), path_of(hold),
        f"/builds/{build.number}/floor-registers/", "/clock/",
    ]  # fmt: skip


def test_every_target_is_large_enough_for_a_glove(open_as: Open, technician: Person, build: Build) -> None:
    page = open_as(technician, width=390, height=844)
    small = []
    for path in phone_pages(build, technician):
        page.goto(path)
        for target in page.locator(TARGETS).all():
            box = target.bounding_box()
            if (
                not box
                or not target.is_visible()
                or "unseen" in (target.get_attribute("class") or "")
                or "skip" in (target.get_attribute("class") or "")
            ):
                continue
            if box["height"] < 48:
                small.append(f"{path} {target.evaluate('node => node.outerHTML')[:120]} {box['height']:.0f} px")
    assert small == []


@pytest.mark.parametrize("theme", ["light", "dark", "glare"])
def test_floor_pages_are_clear_and_accessible(open_as: Open, technician: Person, build: Build, theme: str) -> None:
    page = open_as(technician, width=390, height=844)
    for path in phone_pages(build, technician):
        page.goto(path)
        page.evaluate("theme => document.documentElement.dataset.theme = theme", theme)
        serious = (
            Axe().run(page, options={"rules": {"color-contrast-enhanced": {"enabled": True}}}).response["violations"]
        )
        assert [(fault["id"], node["html"][:120]) for fault in serious for node in fault["nodes"]] == [], path
