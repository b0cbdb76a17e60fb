"""
Four people take one build from the order to the signature, in a real browser, with a real worker.

The service writer opens it, the designer edits circuits and watches the figures move, the technician ticks steps on a
phone, the inspector signs, the worker renders, the customer signs.
"""

import re
import tempfile
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect

from builds.models import Acceptance, Build, ChecklistStep, Person, Role, Stage
from builds.services import (
    authorisations,
    check_ins,
    checklists,
    photos,
    registers,
    reservations,
    revisions,
    stages,
    ticks,
)
from config.demo.shop import DEMO_DOCUMENTS
from config.embedded.broker import Broker
from inventory.services import stock
from tests.factories.builds import make_person, make_shop
from tests.factories.floor import make_photo_file
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


def test_order_to_signature(
    open_as: Open, chromium: Browser, live_server: Any, people: dict[Role, Person], worker: Worker
) -> None:
    number = writer_opens(open_as(people[Role.SERVICE_WRITER]))
    designer_edits(open_as(people[Role.DESIGNER]), number)
    build = bring_into_work(number, people)
    technician_ticks(open_as(people[Role.TECHNICIAN], width=390, height=844), build)
    finish_other_steps(build, people)
    inspector_signs(open_as(people[Role.INSPECTOR], width=390, height=844), build)
    link = packet_is_issued(open_as(people[Role.SERVICE_WRITER]), build, people)
    customer_signs(chromium, live_server.url + link, build)


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


def bring_into_work(number: str, people: dict[Role, Person]) -> Build:
    """What stands between the sheet and the bay, by the same services as its pages."""
    build, at = Build.objects.get(number=number), timezone.now()
    revision = revisions.release(build=build, summary="As ordered", by=people[Role.DESIGNER], at=at)
    stages.move(build=build, to=Stage.QUOTED, by=people[Role.SERVICE_WRITER], at=at)
    authorisations.record(revision=revision, kind="purchase_order", authorised_by="P. Lund", reference="PO-9",
                          by=people[Role.SERVICE_WRITER], at=at)  # fmt: skip
    stages.move(build=build, to=Stage.APPROVED, by=people[Role.SERVICE_WRITER], at=at)
    for short in reservations.shortages(build):
        stock.receive(part=short.part, quantity=short.missing, unit_cost=None, reference="note", at=at,
                      by=people[Role.PARTS_CLERK], event_id=uuid4())  # fmt: skip
    reservations.reserve_parts(build=build, by=people[Role.PARTS_CLERK], at=at)
    checklists.make_steps(build=build, by=people[Role.DESIGNER], at=at)
    stages.move(build=build, to=Stage.IN_WORK, by=people[Role.MANAGER], at=at)
    check_ins.record(build=build, direction="in", event_id=uuid4(), by=people[Role.TECHNICIAN], at=at,
                     condition=check_ins.Condition(odometer_km=Decimal(12), fuel_ratio=Decimal("0.5")))  # fmt: skip
    for gear in build.gear.filter(received_at__isnull=True):
        registers.receive_gear(gear=gear, condition="as new", row_version=gear.row_version,
                               by=people[Role.PARTS_CLERK], at=at)  # fmt: skip
    return build


def technician_ticks(page: Page, build: Build) -> None:
    """Pass the first open step with the thumb, on a phone."""
    step = build.steps.filter(is_hold_point=False, photo_required=False, reading_unit="").order_by("line").first()
    assert step is not None
    page.goto(f"/builds/{build.number}/checklist/{step.pk}/")
    page.locator(".foot button[value=pass]:visible").click()
    page.wait_for_url(lambda address: f"/checklist/{step.pk}/" not in address)
    step.refresh_from_db()
    assert step.result == "pass"


def finish_other_steps(build: Build, people: dict[Role, Person]) -> None:
    """The rest of the work, by the same service as the page."""
    technician = people[Role.TECHNICIAN]
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
    return ticks.Outcome(result="pass", reading=reading, reading_at_v=volts, instrument="DMM-1")  # type: ignore[arg-type]


def inspector_signs(page: Page, build: Build) -> None:
    """Sign each hold point on a phone."""
    for step in build.steps.filter(is_hold_point=True).order_by("line"):
        page.goto(f"/builds/{build.number}/checklist/{step.pk}/")
        page.locator(".foot button[value=yes]").click()
        page.wait_for_url(re.compile(r"\?kept="))
        step.refresh_from_db()
        assert step.result == "pass"


def packet_is_issued(page: Page, build: Build, people: dict[Role, Person]) -> str:
    """Issue the packet, watch the worker render it, make the customer's link; returns its path."""
    build.refresh_from_db()
    stages.move(build=build, to=Stage.FINAL_CHECK, by=people[Role.INSPECTOR], at=timezone.now())
    page.goto(f"/builds/{build.number}/packet/")
    page.locator("form[action$='/packet/issue/'] button").click()
    # The page follows the worker by itself until there is a file to save.
    expect(page.locator("a[href*='/files/']").first).to_be_visible(timeout=120_000)
    stages.move(build=build, to=Stage.READY, by=people[Role.INSPECTOR], at=timezone.now())
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
