"""
Takes one build of the demo shop from the order to the rendered packet, through the same services and worker as any other.

Every stop of the way looks first whether it is behind it already, so a walk that was cut off goes on where it stood.
"""

import hashlib
import io
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from hashlib import sha256
from pathlib import Path
from shutil import copyfile

from django.conf import settings
from django.utils import timezone
from PIL import Image, ImageDraw

from builds.engineering.assessment import Assessment
from builds.engineering.vocabulary import Phase
from builds.models import (
    Authorisation,
    BayPlace,
    Build,
    CheckIn,
    ChecklistStep,
    PacketIssue,
    Person,
    Photo,
    SerialNumber,
    Stage,
    StepResult,
)
from builds.services import (
    authorisations,
    bays,
    check_ins,
    checklists,
    design_edits,
    device_files,
    hold_points,
    locations,
    packets,
    photos,
    registers,
    reservations,
    revisions,
    stages,
    ticks,
)
from builds.services.assessments import assess_build
from builds.services.build_documents import import_build
from builds.tasks import nudge
from config.demo.shop import DEMO_DOCUMENTS, WALKED_BUILD, demo_event_id
from inventory.services import stock

__all__ = ["Walk", "WalkStopped"]

Say = Callable[[str], None]
_INSTRUMENTS = {"kg": "SCALE-02", "lb": "SCALE-02", "A": "CLAMP-01", "mA": "CLAMP-01"}
_METER = "DMM-04"
_FAR_ENOUGH = Decimal("0.7")  # how much of the way to a limit an invented reading goes at most
_SCATTER = Decimal("0.05")  # where there is no limit on a side
_PATIENCE = timedelta(minutes=5)


class WalkStopped(Exception):
    """The walk could not go on; says why."""


@dataclass(slots=True)
class Walk:
    """One walk: who does what, and where its progress is told."""

    people: dict[str, Person]
    say: Say
    found_wrong: str = ""

    def run(self) -> Path:
        """Walk, and return where the packet lies. Raises WalkStopped."""
        build = Build.objects.filter(number=WALKED_BUILD).first() or self.order()
        for stop in (
            self.design,
            self.quote,
            self.authorise,
            self.parts,
            self.arrive,
            self.work,
            self.check,
            self.packet,
        ):
            stop(build)
            build.refresh_from_db()
        issue = build.packets.filter(state=PacketIssue.State.READY).latest("number")
        assert issue.file is not None
        # The store names files by their content; a person looks for one they can open.
        copy = Path(settings.MEDIA_ROOT).parent / f"{build.number}-packet-{issue.number}.pdf"
        copyfile(Path(settings.MEDIA_ROOT) / issue.file.name_in_store, copy)
        return copy

    def order(self) -> Build:
        (document,) = DEMO_DOCUMENTS.glob(f"{WALKED_BUILD}-*.json")
        build = import_build(text=document.read_bytes(), by=self.people["writer"], at=_now(), invented=True)
        build.promised_on = _now().date() + timedelta(days=9)
        build.save(update_fields=["promised_on"])
        self.say(
            f"Order: build {build.number}, {build.title}, for {build.customer}; {build.circuits.count()} circuits."
        )
        return build

    def design(self, build: Build) -> None:
        """Press the repairs that the findings propose, until no blocking one is left."""
        if build.stage != Stage.INTAKE:
            return
        assessment = assess_build(build)
        self.say(_estimate(assessment))
        for _ in range(len(assessment.blocking) * 2):
            finding = next((item for item in assess_build(build).blocking if item.fix), None)
            if finding is None or finding.fix is None:
                break
            design_edits.apply_fix(
                build=build, changes=finding.fix.changes, label=finding.fix.label, by=self.people["designer"], at=_now()
            )
            self.say(f"Mended: {finding.message} {finding.fix.label}.")
        left = assess_build(build).blocking
        if left:
            raise WalkStopped(f"A blocking finding has no repair: {left[0].message}")

    def quote(self, build: Build) -> None:
        if build.stage != Stage.INTAKE:
            return
        revision = revisions.release(build=build, summary="As ordered", by=self.people["designer"], at=_now())
        stages.move(build=build, to=Stage.QUOTED, by=self.people["writer"], at=_now())
        self.say(
            f"Quote: revision {revision.letter}, {revision.price_total:,.2f} in all, {revision.crew_h:.1f} crew hours."
        )

    def authorise(self, build: Build) -> None:
        if build.stage != Stage.QUOTED:
            return
        revision = revisions.newest_revision(build)
        if revision is None:
            raise WalkStopped("A quoted build has no revision.")
        if not revision.authorisations.exists():
            authorisations.record(
                revision=revision, kind=Authorisation.Kind.PURCHASE_ORDER, authorised_by="P. Lund",
                reference=build.purchase_order, by=self.people["writer"], at=_now(),
            )  # fmt: skip
        stages.move(build=build, to=Stage.APPROVED, by=self.people["writer"], at=_now())
        self.say(f"Authorised by P. Lund, purchase order {build.purchase_order}.")

    def parts(self, build: Build) -> None:
        if build.stage != Stage.APPROVED:
            return
        short = reservations.shortages(build)
        for line in short:
            stock.receive(
                part=line.part, quantity=line.missing, unit_cost=line.part.unit_cost, reference="delivery note",
                by=self.people["parts"], at=_now(), event_id=demo_event_id("walk", build.number, line.part.number, line.missing),
            )  # fmt: skip
        reservations.reserve_parts(build=build, by=self.people["parts"], at=_now())
        made = checklists.make_steps(build=build, by=self.people["designer"], at=_now())
        stages.move(build=build, to=Stage.IN_WORK, by=self.people["manager"], at=_now())
        self.say(f"Parts: {len(short)} taken in, all reserved. Checklist: {made.steps} steps.")

    def arrive(self, build: Build) -> None:
        if CheckIn.objects.filter(build=build).exists():
            return
        technician = self.people["technician"]
        check_ins.record(
            build=build, direction="in",
            condition=check_ins.Condition(
                odometer_km=Decimal("341.0"), fuel_ratio=Decimal("0.75"), damage="none seen", loose_property="none",
            ),
            event_id=demo_event_id("walk", build.number, "in"), by=technician, at=_now(),
        )  # fmt: skip
        for gear in build.gear.filter(received_at__isnull=True):
            registers.receive_gear(
                gear=gear, condition="as new", row_version=gear.row_version, by=self.people["parts"], at=_now()
            )
        locations.hand_keys(build=build, count=2, hook="Hook 14", by=technician, at=_now(),
                            event_id=demo_event_id("walk", build.number, "keys"))  # fmt: skip
        place = BayPlace.objects.get(bay__name="Bay 2")
        bays.enter_bay(build=build, place=place, by=technician, at=_now(),
                       event_id=demo_event_id("walk", build.number, "bay"))  # fmt: skip
        self.say("Vehicle checked in, keys on hook 14, in bay 2.")

    def work(self, build: Build) -> None:
        if build.stage != Stage.IN_WORK:
            return
        self._registers(build)
        steps = list(build.steps.filter(retired=False).exclude(result__in=[StepResult.PASS, StepResult.NOT_APPLICABLE]))
        wire = [
            step.key
            for step in steps
            if step.phase == Phase.WIRE and not step.is_hold_point and not step.photo_required
        ]
        self.found_wrong = wire[len(wire) // 2] if wire else ""
        for number, step in enumerate(steps, start=1):
            if step.is_hold_point:
                self._sign(step)
            else:
                self._tick(step)
            if number % 20 == 0 or number == len(steps):
                self.say(f"Work: {number} of {len(steps)} steps done.")
        stages.move(build=build, to=Stage.FINAL_CHECK, by=self.people["inspector"], at=_now())

    def check(self, build: Build) -> None:
        signatures = [step.signatures.last() for step in build.steps.filter(is_hold_point=True, retired=False)]
        self.say(f"Hold points signed: {sum(item is not None for item in signatures)} of {len(signatures)}.")

    def packet(self, build: Build) -> None:
        """Ask for the packet and follow the worker's progress."""
        ready = build.packets.filter(state=PacketIssue.State.READY).last()
        if ready is not None:
            self.say(f"Packet {ready.number} was rendered before; it is the one that is served and signed.")
            return
        issue = build.packets.filter(state__in=[PacketIssue.State.QUEUED, PacketIssue.State.RENDERING]).last()
        if issue is None:
            issue = packets.issue_packet(build=build, by=self.people["writer"], at=_now())
        nudge("packet", issue.pk)
        for words in _progress(issue):
            self.say(words)
        if build.stage == Stage.FINAL_CHECK:
            stages.move(build=build, to=Stage.READY, by=self.people["inspector"], at=_now())
            self.say("Ready: the customer's link can be made, and the packet signed.")

    def _registers(self, build: Build) -> None:
        technician = self.people["technician"]
        if build.splices.exists():
            return
        for line in build.parts.filter(serial_required=True, removed=False):
            for number in range(1, int(line.quantity) + 1):
                registers.record_serial(part_line=line, serial=f"INV-{line.key}-{number:04d}", by=technician, at=_now())
        self._load_files(build)
        first = build.circuits.first()
        if first is not None:
            registers.write_splice(
                build=build, circuit_number=first.number, place="behind the centre console, left", by=technician, at=_now(),
                method="crimped, adhesive-lined sleeve",
            )  # fmt: skip
        registers.write_penetration(
            build=build, label="H1", place="roof, 40 cm behind the windscreen, left", diameter_mm=Decimal("19.0"),
            sealed_with="grommet and sealant", by=technician, at=_now(),
        )  # fmt: skip

    def _load_files(self, build: Build) -> None:
        """Load every programmable device with a file written from the schedule as it stands, and let another read it back."""
        for serial in SerialNumber.objects.filter(build=build, part_line__programmable=True):
            content = f"invented file of {serial.serial} for build {build.number}".encode()
            sha256 = hashlib.sha256(content).hexdigest()
            loading = device_files.record_loading(
                serial=serial, file_name=f"{build.number}-{serial.serial}.cfg", file_sha256=sha256, file_version="1",
                firmware="2.4", by=self.people["technician"], at=_now(),
            )  # fmt: skip
            device_files.record_read_back(loading=loading, file_sha256=sha256, by=self.people["designer"], at=_now())

    def _tick(self, step: ChecklistStep) -> None:
        if step.photo_required and not step.photos.exists():
            photos.add_photo(
                build=step.build, kind=Photo.Kind.STEP, content=_picture(step.title), step=step, caption=step.title[:160],
                event_id=demo_event_id("walk", step.build.number, step.key, "photo"), by=self.people["technician"], at=_now(),
            )  # fmt: skip
        reading = _reading(step)
        if step.key == self.found_wrong:
            self._find_wrong(step)
        ticks.record(
            step=step,
            found=ticks.Outcome(
                result=StepResult.PASS, reading=reading, instrument=_instrument(step, reading),
                reading_at_v=_battery_v(step, reading),
            ),
            event_id=demo_event_id("walk", step.build.number, step.key), by=self.people["technician"], at=_now(),
            received_at=_now(),
        )  # fmt: skip

    def _find_wrong(self, step: ChecklistStep) -> None:
        """One step is found wrong first and put right: an inspection record in which all passed at once is not believed."""
        ticks.record(
            step=step, found=ticks.Outcome(result=StepResult.DEFECTIVE, remark="One lug not tight; crimped again"),
            event_id=demo_event_id("walk", step.build.number, step.key, "wrong"), by=self.people["technician"], at=_now(),
            received_at=_now(),
        )  # fmt: skip

    def _sign(self, step: ChecklistStep) -> None:
        hold_points.sign(
            step=step, passed=True, basis=hold_points.signer_of(step.build), by=self.people["inspector"], at=_now(),
            event_id=demo_event_id("walk", step.build.number, step.key),
        )  # fmt: skip


def _now() -> datetime:
    return timezone.now()


def _estimate(assessment: Assessment) -> str:
    worst = max(assessment.circuits, key=lambda item: item.drop_ratio / item.drop_limit_ratio)
    load = max(assessment.conditions, key=lambda item: item.mean_a)
    return (
        f"Estimate: {load.mean_a:.1f} A in “{load.name}”, worst drop {100 * worst.drop_ratio:.1f} % on circuit {worst.number}, "
        f"{assessment.labour.crew_h:.1f} crew hours, {assessment.price.total:,.2f} in all, {len(assessment.findings)} findings."
    )


def _reading(step: ChecklistStep) -> Decimal | None:
    """A reading as a technician of an invented shop would find it: off what was calculated by a little, within the limits."""
    if not step.asks_reading:
        return None
    places = Decimal(1).scaleb(-step.reading_decimals)
    value = step.reading_calculated
    if value is None:
        ends = [end for end in (step.reading_min, step.reading_max) if end is not None]
        value = sum(ends, Decimal(0)) / len(ends) if ends else Decimal(0)
    value = _scattered(step, value).quantize(places)
    if step.reading_min is not None and value < step.reading_min:
        value = step.reading_min.quantize(places, rounding="ROUND_CEILING")
    if step.reading_max is not None and value > step.reading_max:
        value = step.reading_max.quantize(places, rounding="ROUND_FLOOR")
    return value


def _scattered(step: ChecklistStep, value: Decimal) -> Decimal:
    """The value moved up or down, the same way at every start: towards a limit by a part of the room, else by a few percent."""
    part = (
        Decimal(int(sha256(f"{step.build.number} {step.key}".encode()).hexdigest()[:6], 16)) / Decimal(0xFFFFFF) * 2 - 1
    )
    limit = step.reading_max if part > 0 else step.reading_min
    room = abs(value) * _SCATTER if limit is None else min(abs(limit - value) * _FAR_ENOUGH, abs(value) * _SCATTER)
    return value + part * room


def _instrument(step: ChecklistStep, reading: Decimal | None) -> str:
    return "" if reading is None else _INSTRUMENTS.get(step.reading_unit, _METER)


def _battery_v(step: ChecklistStep, reading: Decimal | None) -> Decimal | None:
    """The battery's volts beside a reading: above it by something less than may be lost, where that is asked."""
    if reading is not None and step.reading_lost_max_v is not None:
        return reading + (step.reading_lost_max_v * Decimal("0.6")).quantize(Decimal("0.01"))
    return Decimal("13.4") if step.reading_unit in ("A", "mA") else None


def _picture(words: str) -> bytes:
    """A drawn stand-in for a photo; it says that it is one."""
    image = Image.new("RGB", (640, 480), "#e4e8e5")
    pen = ImageDraw.Draw(image)
    pen.rectangle((40, 60, 600, 420), outline="#12181b", width=4)
    pen.text((60, 80), f"Invented photo\n{words}", fill="#12181b")
    content = io.BytesIO()
    image.save(content, "JPEG", quality=80)
    return content.getvalue()


def _progress(issue: PacketIssue) -> Iterator[str]:
    """Yield the words of the worker's progress until it is done. Raises WalkStopped."""
    told = ""
    until = _now() + _PATIENCE
    while _now() < until:
        issue.refresh_from_db()
        if issue.state == PacketIssue.State.READY:
            yield "Packet: rendered."
            return
        if issue.state in (PacketIssue.State.FAILED, PacketIssue.State.CANCELLED):
            raise WalkStopped(f"The packet did not render. {issue.failure}")
        of_all = f" of {issue.progress_pages}" if issue.progress_pages else ""
        words = f"{issue.progress_words or issue.get_state_display()}, page {issue.progress_page}{of_all}"
        if words != told:
            yield f"Packet: {words}"
            told = words
        time.sleep(0.5)
    raise WalkStopped("The packet is not rendered after five minutes; is the worker up?")
