"""
Four people take one build from the order to the signature, in a real browser, with a real worker.

The service writer opens it, the designer edits circuits and watches the figures move, the parts clerk takes in parts and
gear, the manager plans a bay, the technician checks the vehicle in and works on a phone, the inspector signs, the worker
renders, the customer signs. Only what would be the same a second time goes by the services behind the pages.
"""

import re
import tempfile
from collections.abc import Callable, Iterator
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect

from builds.models import Acceptance, Build, ChecklistStep, Person, Role, Stage
from builds.services import photos, registers, reservations, ticks
from config.demo.shop import DEMO_DOCUMENTS
from config.embedded.broker import Broker
from inventory.services import stock
from tests.factories.builds import make_person, make_shop
from tests.factories.floor import make_bay, make_photo_file
from tests.worker_process import Worker

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]

Open = Callable[..., Page]
DOCUMENT = DEMO_DOCUMENTS / "2609-escort-car.json"


@pytest.fixture
def people() -> dict[Role, Person]:
    make_shop(telephone="555-0100")
    return {role: make_person(role) for role in Role}


@pytest.fixture
def worker(settings: Any) -> Iterator[Worker]:
    with tempfile.TemporaryDirectory(prefix="bw-") as name:
        broker = Broker(data=Path(name) / "broker", sockets=Path(name), keep=False)
        settings.CELERY_BROKER_URL = broker.url
        broker.start(log=Path(name) / "broker.log")
        running = Worker(Path(name), broker.url, lease_s=60)
        yield running
        running.kill()
        broker.stop()


def test_order_to_signature_and_handover(
    open_as: Open, chromium: Browser, live_server: Any, people: dict[Role, Person], worker: Worker
) -> None:
    number = writer_opens(open_as(people[Role.SERVICE_WRITER]))
    designer_edits(open_as(people[Role.DESIGNER]), number)
    build = Build.objects.get(number=number)
    clerk_takes_in(open_as(people[Role.PARTS_CLERK]), build, people)
    designer_releases(open_as(people[Role.DESIGNER]), build)
    writer_records_the_order(open_as(people[Role.SERVICE_WRITER]), build)
    designer_makes_the_checklist(open_as(people[Role.DESIGNER]), build)
    technician_checks_in(open_as(people[Role.TECHNICIAN], width=390, height=844), build)
    manager_plans(open_as(people[Role.MANAGER]), build)
    clerk_receives_gear(open_as(people[Role.PARTS_CLERK], width=390, height=844), build)
    technician_works(open_as(people[Role.TECHNICIAN], width=390, height=844), build)
    finish_other_steps(build, people)
    inspector_signs(open_as(people[Role.INSPECTOR], width=390, height=844), build)
    moves_to(open_as(people[Role.INSPECTOR]), build, Stage.FINAL_CHECK)
    packet_is_rendered(open_as(people[Role.SERVICE_WRITER]), build)
    moves_to(open_as(people[Role.INSPECTOR]), build, Stage.READY)
    link = writer_makes_the_link(open_as(people[Role.SERVICE_WRITER]), build)
    customer_signs(chromium, live_server.url + link, build)
    moves_to(open_as(people[Role.SERVICE_WRITER]), build, Stage.DELIVERED)


def writer_opens(page: Page) -> str:
    """Open a build from a document, in the browser."""
    page.goto("/builds/open/?start=document")
    page.set_input_files("input[type=file]", str(DOCUMENT))
    page.click("button:has-text('Open the build')")
    page.wait_for_url(re.compile(r"/builds/\w+/(#.*)?$"))
    expect(page.locator(".title-number")).to_contain_text("2609")
    return "2609"


def designer_edits(page: Page, number: str) -> None:
    """Edit a circuit's length on the sheet: the row and the strip come back changed."""
    build = Build.objects.get(number=number)
    circuit = build.circuits.order_by("line").first()
    assert circuit is not None
    page.goto(f"/builds/{number}/")
    before = build.design_version
    page.locator(f"[data-row='circuit:{circuit.number}'] a[data-open]").click()
    field = page.locator("[name$=length_m]").first
    field.fill(str(Decimal(field.input_value()) + 3))
    page.locator("[data-keep]").first.click()
    expect(page.locator("[data-keep]")).to_have_count(0)
    build.refresh_from_db()
    assert build.design_version == before + 1


def clerk_takes_in(page: Page, build: Build, people: dict[Role, Person]) -> None:
    """Take the first delivery in over the page of its part, the rest by the same service."""
    first, *others = reservations.shortages(build)
    page.goto(f"/stores/parts/{first.part.number}/")
    page.fill("[name=quantity]", str(first.missing))
    page.fill("form[action$='/receive/'] [name=reference]", "DN-1")
    page.click("button:has-text('Take in')")
    expect(page.locator("td:has-text('DN-1')")).to_be_visible()
    for short in others:
        stock.receive(part=short.part, quantity=short.missing, unit_cost=None, reference="DN-1", at=timezone.now(),
                      by=people[Role.PARTS_CLERK], event_id=uuid4())  # fmt: skip


def designer_releases(page: Page, build: Build) -> None:
    """Fix what is quoted as revision A; it keeps the parts for the build."""
    page.goto(f"/builds/{build.number}/#changes")
    page.fill("#summary", "As ordered")
    page.click("button:has-text('Release revision A')")
    page.wait_for_load_state()
    assert build.revisions.get().letter == "A"


def writer_records_the_order(page: Page, build: Build) -> None:
    """Quote it, write down the purchase order that authorises revision A, and approve it."""
    moves_to(page, build, Stage.QUOTED)
    page.goto(f"/builds/{build.number}/revisions/A/authorise/")
    page.select_option("[name=kind]", "purchase_order")
    page.fill("[name=authorised_by]", "P. Lund")
    page.fill("[name=reference]", "PO-9")
    page.locator("main form button[type=submit]").click()
    page.wait_for_url(re.compile(rf"/builds/{build.number}/(#.*)?$"))
    moves_to(page, build, Stage.APPROVED)


def designer_makes_the_checklist(page: Page, build: Build) -> None:
    page.goto(f"/builds/{build.number}/checklist/")
    page.locator("form[action$='/checklist/make/'] button").first.click()
    expect(page.locator(f"a[href*='/builds/{build.number}/checklist/']").first).to_be_visible()
    assert build.steps.exists()


def technician_checks_in(page: Page, build: Build) -> None:
    """Walk around the vehicle with whoever brings it, on a phone."""
    page.goto(f"/yard/{build.number}/check-in/")
    for name, value in {"odometer": "12", "fuel": "50", "key_count": "2", "hook": "7", "spot": "Lot row C 4"}.items():
        page.fill(f"[name={name}]", value)
    page.locator("main form button[type=submit]").click()
    page.wait_for_url(re.compile(rf"/yard/{build.number}/$"))
    assert build.check_ins.get().direction == "in"


def manager_plans(page: Page, build: Build) -> None:
    """Book a bay, say that the vehicle is in it, and let the work begin."""
    place, tomorrow = make_bay(), timezone.localtime() + timedelta(days=1)
    page.goto("/bays/book/")
    page.select_option("[name=build]", build.number)
    page.select_option("[name=place]", str(place.pk))
    page.fill("[name=start]", f"{tomorrow:%Y-%m-%dT08:00}")
    page.fill("[name=end]", f"{tomorrow:%Y-%m-%dT16:00}")
    page.click("button:has-text('Book the stay')")
    page.wait_for_url(re.compile(r"/bays/"))
    moves_to(page, build, Stage.IN_WORK)
    page.goto(f"/yard/{build.number}/")
    page.select_option("[name=kind]", "bay")
    page.select_option("[name=bay_place]", str(place.pk))
    page.click("button:has-text('It is there now')")
    page.wait_for_load_state()
    page.goto("/bays/")
    expect(page.locator("main")).to_contain_text(build.number)
    assert build.occupancies.get().place == place


def clerk_receives_gear(page: Page, build: Build) -> None:
    """Take in what the customer sends, each with its condition."""
    for _ in range(build.gear.filter(received_at__isnull=True).count()):
        page.goto(f"/builds/{build.number}/floor-registers/")
        waiting = page.locator("section[aria-labelledby=gear] li:has-text('Missing')").first
        waiting.locator("summary").click()
        waiting.locator("[name=condition]").fill("as new")
        waiting.locator("button:has-text('It is here')").click()
        page.wait_for_load_state()
    assert not build.gear.filter(received_at__isnull=True).exists()


def moves_to(page: Page, build: Build, stage: Stage) -> None:
    """Move the build on the page that says where it can go."""
    page.goto(f"/builds/{build.number}/stages/")
    page.locator(f"form:has(input[name=to][value={stage.value}]) button[type=submit]").click()
    page.wait_for_load_state()
    build.refresh_from_db()
    assert build.stage == stage


def technician_works(page: Page, build: Build) -> None:
    """Pass a plain step, one with a photo and one with a reading with the thumb, on a phone."""
    steps = build.steps.filter(is_hold_point=False).order_by("line")
    plain = steps.filter(photo_required=False, reading_unit="").first()
    seen = steps.filter(photo_required=True, reading_unit="").first()
    read = steps.filter(photo_required=False, reading_min__isnull=False).first()
    assert plain and seen and read
    passes(page, plain)
    page.goto(f"/builds/{build.number}/checklist/{seen.pk}/")
    page.set_input_files("#photo-file", {"name": "seen.jpg", "mimeType": "image/jpeg", "buffer": make_photo_file()})
    expect(page.locator("img[src*='/files/']").first).to_be_visible()
    passes(page, seen)
    outcome = outcome_of(read)
    page.goto(f"/builds/{build.number}/checklist/{read.pk}/")
    page.fill("#id_reading", str(read.reading_min - 1))
    expect(page.locator("[data-reading-words]")).to_contain_text("short of")
    page.fill("#id_reading", str(outcome.reading))
    expect(page.locator("[data-reading-words]")).to_contain_text("Within")
    page.fill("#id_instrument", "DMM-1")
    passes(page, read, opened=True)


def passes(page: Page, step: ChecklistStep, *, opened: bool = False) -> None:
    """Pass a step; the page goes on to the next by itself."""
    if not opened:
        page.goto(f"/builds/{step.build.number}/checklist/{step.pk}/")
    page.locator(".foot button[value=pass]:visible").click()
    page.wait_for_url(lambda address: f"/checklist/{step.pk}/" not in address)
    step.refresh_from_db()
    assert step.result == "pass"


def finish_other_steps(build: Build, people: dict[Role, Person]) -> None:
    """The rest of the work, by the same service as the page."""
    technician = people[Role.TECHNICIAN]
    for line in build.parts.filter(serial_required=True, removed=False):
        for number in range(int(line.quantity)):
            registers.record_serial(part_line=line, serial=f"SN {line.key} {number}", by=technician, at=timezone.now())
    for step in build.steps.filter(is_hold_point=False, result=""):
        if step.photo_required:
            photos.add_photo(build=build, kind="step", content=make_photo_file(), step=step, event_id=uuid4(),
                             by=technician, at=timezone.now())  # fmt: skip
        ticks.record(step=step, found=outcome_of(step), event_id=uuid4(), by=technician, at=timezone.now(),
                     received_at=timezone.now())  # fmt: skip


def outcome_of(step: ChecklistStep) -> ticks.Outcome:
    """A pass, with a reading in the middle of what is allowed."""
    if not step.asks_reading:
        return ticks.Outcome(result="pass")  # type: ignore[arg-type]
    ends = [end for end in (step.reading_min, step.reading_max) if end is not None]
    reading = round(sum(ends, Decimal(0)) / max(1, len(ends)), step.reading_decimals)
    if step.reading_min is not None and reading < step.reading_min:
        reading = step.reading_min
    volts = Decimal("13.4") if step.reading_unit in ("A", "mA") else None
    if step.reading_lost_max_v is not None:
        volts = reading
    return ticks.Outcome(result="pass", reading=reading, reading_at_v=volts, instrument="DMM-1")  # type: ignore[arg-type]


def inspector_signs(page: Page, build: Build) -> None:
    """Sign each hold point on a phone."""
    for step in build.steps.filter(is_hold_point=True).order_by("line"):
        page.goto(f"/builds/{build.number}/checklist/{step.pk}/")
        page.locator(".foot button[value=yes]").click()
        page.wait_for_url(re.compile(r"\?kept="))
        step.refresh_from_db()
        assert step.result == "pass"


def packet_is_rendered(page: Page, build: Build) -> None:
    """Issue the packet and watch the worker render it: the page follows by itself until there is a file to save."""
    page.goto(f"/builds/{build.number}/packet/")
    page.locator("form[action$='/packet/issue/'] button").click()
    expect(page.locator("a[href*='/files/']").first).to_be_visible(timeout=120_000)


def writer_makes_the_link(page: Page, build: Build) -> str:
    """Make the customer's link; returns its path."""
    page.goto(f"/builds/{build.number}/packet/")
    page.fill("[name=made_for]", "P. Lund")
    page.locator("form[action$='/packet/links/'] button[type=submit]").click()
    shown = page.locator("#new-address")
    expect(shown).to_be_visible()
    return re.sub(r"^https?://[^/]+", "", shown.input_value())


def customer_signs(chromium: Browser, address: str, build: Build) -> None:
    """Read and sign, without an account."""
    context = chromium.new_context(viewport={"width": 390, "height": 844}, reduced_motion="reduce")
    page = context.new_page()
    page.goto(address)
    page.locator("a[href$='/packet/']").first.click()
    with page.expect_download() as saved:
        page.locator("a[href$='.pdf']").evaluate("link => { link.download = 'packet.pdf'; link.click() }")
    assert Path(saved.value.path()).read_bytes().startswith(b"%PDF-1.7")
    page.fill("[name=typed_name]", "P. Lund")
    page.check("[name=consents]")
    page.locator("button:has-text('Sign')").click()
    page.wait_for_url(address)
    context.close()
    signed = Acceptance.objects.get(packet__build=build)
    assert signed.packet.file is not None
    assert (signed.typed_name, signed.file_sha256) == ("P. Lund", signed.packet.file.sha256)
