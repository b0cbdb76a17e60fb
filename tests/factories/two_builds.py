"""
A shop with two builds that have everything, a third with a blocking finding, and one person per role.

What one build has the other has too, so that an address can name a thing of the other one. Every name is invented.
"""

from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

from django.utils import timezone

from builds.models import (
    BayPlace,
    BodyPenetration,
    Booking,
    Build,
    ChecklistStep,
    Circuit,
    CustomerGear,
    CustomerLink,
    DutyProfile,
    DutySegment,
    LoadedFile,
    PacketIssue,
    Person,
    Photo,
    RemovedPart,
    Revision,
    Role,
    SerialNumber,
    ShedStep,
    Splice,
    Stage,
    TimeEntry,
)
from builds.services import assessments, authorisations, bays, checklists, customer_links, photos, registers, revisions
from builds.services.device_files import record_loading
from builds.services.function_schedules import replace_schedule
from inventory.models import Part
from tests.factories.builds import AT, make_designed_build, make_person, make_shop
from tests.factories.floor import check_in, make_bay, make_photo_file
from tests.factories.inventory import make_part, put_in_stock
from tests.factories.packets import make_ready_packet

__all__ = ["FullBuild", "TwoBuilds", "make_two_builds"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FullBuild:
    """A build in work with one of everything that hangs on a build."""

    build: Build
    revision: Revision
    step: ChecklistStep
    hold: ChecklistStep
    photo: Photo
    packet: PacketIssue
    booking: Booking
    serial: SerialNumber
    splice: Splice
    penetration: BodyPenetration
    gear: CustomerGear
    loading: LoadedFile
    removed: RemovedPart
    handover: CustomerLink
    handover_token: str
    vehicle_link: CustomerLink
    vehicle_token: str

    @property
    def number(self) -> str:
        """Its number."""
        return self.build.number


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoBuilds:
    """The whole shop."""

    people: dict[Role, Person]
    own: FullBuild
    other: FullBuild
    faulty: Build
    place: BayPlace
    part: Part
    entries: dict[Role, TimeEntry] = field(default_factory=dict)

    def entry_of_another(self, role: Role) -> TimeEntry:
        """Return a clock entry of someone with another role."""
        return next(entry for held_by, entry in self.entries.items() if held_by is not role)


def make_two_builds() -> TwoBuilds:
    """Return the shop; takes about a second."""
    make_shop()
    people = {role: make_person(role) for role in Role}
    manager = people[Role.MANAGER]
    place, other_place = make_bay(), make_bay()
    part = make_part(number="INV/7 A")
    put_in_stock(part, 10, manager)
    own = _full_build(manager, place, "101")
    return TwoBuilds(
        people=people,
        own=own,
        other=_full_build(manager, other_place, "777", number=7),
        faulty=_faulty_build(manager),
        place=place,
        part=part,
        entries={role: _entry(person, own) for role, person in people.items()},
    )


_SCHEDULE = """input mode: selector off, respond
channel lamp: lamp; facing front; zone CAB
pattern beat: 300 ms on, 300 ms off
rule go (priority 10): lamp flash beat when mode is respond; if lost, does not apply
claim quiet: whenever mode is off and mode is not lost then lamp is off
"""


def _full_build(by: Person, place: BayPlace, first_circuit: str, *, number: int = 0) -> FullBuild:
    """A build whose first circuit has that number, and whose packet has that one."""
    build = make_designed_build(by)
    Circuit.objects.filter(build=build, number="101").update(number=first_circuit)
    replace_schedule(build=build, text=_SCHEDULE, row_version=0, by=by, at=AT)
    profile = DutyProfile.objects.create(build=build, line=1, key="D1", name="A shift")
    condition = build.conditions.get(key="idle")
    DutySegment.objects.create(build=build, line=1, key="T1", profile=profile, condition=condition, duration_min=30)
    ShedStep.objects.create(build=build, line=1, key="S1", name="Outlets", off_below_v=12, on_above_v=13)
    revision = revisions.release(build=build, summary="As ordered", by=by, at=AT)
    authorisations.record(
        revision=revision, kind="purchase_order", authorised_by="P. Lund", reference="PO-1", by=by, at=AT
    )
    checklists.make_steps(build=build, by=by, at=AT)
    packet = make_ready_packet(build, by, content=b"%PDF-1.7 of " + build.number.encode())
    if number:
        PacketIssue.objects.filter(pk=packet.pk).update(number=number)
        packet.refresh_from_db()
    check_in(build, by)
    Build.objects.filter(pk=build.pk).update(stage=Stage.IN_WORK)
    build.refresh_from_db()
    assessments.assess_build(build)
    return FullBuild(
        build=build, revision=revision, packet=packet,
        step=build.steps.filter(is_hold_point=False, retired=False, reading_unit="").order_by("line")[0],
        hold=build.steps.filter(is_hold_point=True, retired=False).order_by("line")[0],
        booking=_booking(build, place, by), **_registers(build, by), **_links(build, by),
    )  # fmt: skip


def _booking(build: Build, place: BayPlace, by: Person) -> Booking:
    start = timezone.now() + timedelta(days=2)
    return bays.book(
        build=build,
        place=place,
        start=start,
        end=start + timedelta(days=1),
        purpose="Install",
        by=by,
        at=timezone.now(),
    )


def _registers(build: Build, by: Person) -> dict[str, Any]:
    step = build.steps.filter(is_hold_point=False).order_by("line")[0]
    colour = int(build.pk) % 200
    picture = make_photo_file(size=(64 + colour, 48))
    serial = registers.record_serial(part_line=build.parts.all()[0], serial="SN 1", by=by, at=AT)
    return {
        "photo": photos.add_photo(
            build=build, step=step, kind=Photo.Kind.STEP, content=picture, event_id=uuid4(), by=by, at=AT, caption="Panel"
        ),
        "serial": serial,
        "loading": record_loading(
            serial=serial, file_name="lamps.cfg", file_sha256="0" * 64, file_version="1", firmware="2.0", by=by, at=AT
        ),
        "splice": registers.write_splice(
            build=build, circuit_number="102", place="Behind locker 2", method="crimp", by=by, at=AT
        ),
        "penetration": registers.write_penetration(
            build=build, label="H1", place="Roof", diameter_mm=Decimal(19), by=by, at=AT
        ),
        "gear": registers.expect_gear(build=build, description="Land mobile radio", by=by, at=AT),
        "removed": registers.write_removed_part(
            build=build, description="Rear seat", kept_at="Rack 4", disposition="back to the buyer", by=by, at=AT
        ),
    }  # fmt: skip


def _links(build: Build, by: Person) -> dict[str, Any]:
    now = timezone.now()
    handover = customer_links.make_handover_link(build=build, made_for="P. Lund", by=by, at=now)
    vehicle = customer_links.make_vehicle_link(build=build, made_for="main disconnect", by=by, at=now)
    return {
        "handover": handover.link, "handover_token": handover.token, "vehicle_link": vehicle.link,
        "vehicle_token": vehicle.token,
    }  # fmt: skip


def _faulty_build(by: Person) -> Build:
    """A fuse far above what its conductor carries: blocking, with a repair proposed."""
    build = make_designed_build(by)
    Circuit.objects.filter(build=build, number="102").update(device_rating_a=40)
    assessments.assess_build(build)
    return build


def _entry(person: Person, own: FullBuild) -> TimeEntry:
    start = AT - timedelta(days=400)
    return TimeEntry.objects.create(
        event_id=uuid4(), person=person, build=own.build, operation_key="inspection", started_at=start,
        ended_at=start + timedelta(hours=1),
    )  # fmt: skip
