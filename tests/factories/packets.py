"""
Packets for tests.

``sample_packet_input`` is a frozen input written by hand: some readings taken, some not, one step corrected, one hold
point open. The others are rows.
"""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.utils import timezone

from builds.documents.packet_input import (
    AuthorisationPart,
    CheckInPart,
    GearPart,
    IssuePart,
    OverridePart,
    PacketInput,
    PenetrationPart,
    PhotoPart,
    RemovedPart,
    RevisionPart,
    SerialPart,
    ShopPart,
    SignaturePart,
    SplicePart,
    StepPart,
    TickPart,
    read_packet_input,
)
from builds.engineering.design import Design
from builds.models import Build, CustomerLink, FrozenDocument, PacketIssue, Person, Role
from builds.services import authorisations, checklists, packets, revisions
from builds.services.frozen_documents import text_of
from builds.services.stored_files import store_bytes
from tests.factories.assessments import sample_assessment
from tests.factories.builds import AT, make_designed_build, make_person, make_shop

__all__ = [
    "issue_packet",
    "let_lease_run_out",
    "make_packet_build",
    "make_ready_packet",
    "rows_of_packets",
    "sample_packet_input",
    "token_of",
]

_DAY = datetime(2026, 12, 16, 15, 30, tzinfo=UTC)


def _revision(letter: str, summary: str, day: int) -> RevisionPart:
    at = datetime(2026, 11, day, 14, 0, tzinfo=UTC)
    allowed = AuthorisationPart(kind="signed by link", authorised_by="P. Lund", reference="", at=at)
    return RevisionPart(
        letter=letter, document_sha256=f"{day:02d}" * 32, summary=summary, released_at=at, released_by="M. Vale",
        price_total=Decimal("37965.00"), authorisations=(allowed,),
    )  # fmt: skip


def _tick(result: str, by: str = "T. Rook", hour: int = 9, **more: object) -> TickPart:
    values: dict[str, object] = {"reading": None, "reading_at_v": None, "instrument": "", "remark": ""}
    return TickPart(result=result, by=by, at=datetime(2026, 12, 8, hour, 5, tzinfo=UTC), **values | more)  # type: ignore[arg-type]


def _step(key: str, phase: str, title: str, *ticks: TickPart, **more: object) -> StepPart:
    values: dict[str, object] = {
        "place": "vehicle", "subject": "build", "is_hold_point": False, "covers": (), "reading_name": "", "reading_unit": "",
        "reading_min": None, "reading_max": None, "reading_calculated": None, "reading_decimals": 2, "signatures": (),
    }  # fmt: skip
    result = ticks[-1].result if ticks else ""
    return StepPart(key=key, phase=phase, title=title, ticks=ticks, result=result, **values | more)  # type: ignore[arg-type]


def _steps() -> tuple[StepPart, ...]:
    signed = SignaturePart(
        passed=True, basis="inspector", remark="", by="I. Crane", at=datetime(2026, 12, 9, 16, 0, tzinfo=UTC)
    )
    sealed = _tick("defective", remark="Hole H2 not sealed all round"), _tick("pass", hour=13, remark="Sealed again")
    return (
        _step("op/mount-panels", "mount", "Mount the panels", _tick("pass")),
        _step("seal", "wire", "Seal every body penetration", *sealed),
        _step("legend/P1", "wire", "Read the legends of P1", _tick("pass")),
        _step("hold/before-trim", "wire", "Sign before trim closes", is_hold_point=True, covers=("seal", "legend/P1"),
              signatures=(signed,)),
        _step("volts/101", "test", "Measure the voltage at the load of circuit 101",
              _tick("pass", reading=Decimal("12.71"), reading_at_v=Decimal("13.12"), instrument="voltmeter 2"),
              subject="circuit:101", reading_unit="V", reading_min=Decimal("12.60"), reading_calculated=Decimal("12.70")),
        _step("key-off", "test", "Measure the key-off draw", _tick("pass", reading=Decimal("33.0"), instrument="clamp 1"),
              reading_unit="mA", reading_max=Decimal("35"), reading_calculated=Decimal("31"), reading_decimals=0),
        _step("weigh/front", "close", "Weigh the front axle", reading_unit="kg", reading_max=Decimal("2360"),
              reading_calculated=Decimal("1990"), reading_decimals=1),
        _step("weigh/rear", "close", "Weigh the rear axle", reading_unit="kg", reading_max=Decimal("3100"),
              reading_calculated=Decimal("2190"), reading_decimals=1),
        _step("hold/final", "close", "Sign the final check", is_hold_point=True, covers=("key-off",)),
    )  # fmt: skip


def sample_packet_input(design: Design, *, photos: tuple[PhotoPart, ...] = (), issue: int = 1) -> PacketInput:
    """Return an input for ``design``."""
    return PacketInput(
        shop=ShopPart(name="Tern Point Vehicle Works", address="4 Slip Road\nTern Point", telephone="555 0142",
                      time_zone="America/New_York", currency="USD", invented=True),
        issue=IssuePart(number=issue, issued_at=_DAY, issued_by="M. Vale", vehicle_address="https://shop.example/v/" + "Ab3" * 14,
                        corrects=issue - 1 if issue > 1 else None, promised_on=date(2026, 12, 18), contact="P. Lund"),
        revisions=(_revision("A", "As ordered", 9), _revision("B", "Change 1: second scene lamp", 23)),
        check_ins=(CheckInPart(direction="in", odometer_km=Decimal("341.2"), fuel_ratio=Decimal("0.5"), warning_lamps="", damage="",
                               plate="WR 7", by="S. Heron", at=datetime(2026, 12, 4, 14, 0, tzinfo=UTC)),),
        serials=(SerialPart(part="1", serial="RB-88121", note="", replaced_by="RB-88140"),
                 SerialPart(part="1", serial="RB-88140", note="", replaced_by="")),
        gear=(GearPart(description="Land mobile radio", due_on=date(2026, 12, 1), received_at=datetime(2026, 12, 2, 15, 0, tzinfo=UTC),
                       condition="boxed, unused", photo_sha256=""),),
        removed=(RemovedPart(description="Rear seat", kept_at="Rack 4", disposition="back to the buyer"),),
        splices=(SplicePart(circuit="204", place="Behind locker 2, 3 ft from the panel", method="crimp, sealed sleeve", by="T. Rook",
                            at=_DAY),),
        penetrations=(PenetrationPart(label="H1", place="Roof, 12 in behind the windscreen", diameter_mm=Decimal("19.0"),
                                      sealed_with="gland and sealer", photo_sha256=photos[0].sha256 if photos else "", by="T. Rook",
                                      at=_DAY),),
        steps=_steps(),
        overrides=(OverridePart(finding_id="drop-over-limit", subject="circuit:103", message="Drops 5.5 %. This buyer allows 5.0 %.",
                                reason="Lamp works to 10 V; the buyer agreed by letter.", by="M. Vale", at=_DAY),),
        photos=photos,
        changed=("circuit:103", "circuit:205"),
        assessment=sample_assessment(design),
    )  # fmt: skip


def make_packet_build(by: Person | None = None, **more: Any) -> Build:
    """Return a build with a shop, a released and authorised revision, and steps made from it."""
    make_shop()
    by = by or make_person(Role.MANAGER)
    build = make_designed_build(by, **more)
    revision = revisions.release(build=build, summary="As ordered", by=by, at=AT)
    authorisations.record(
        revision=revision, kind="purchase_order", authorised_by="P. Lund", reference="PO-1", by=by, at=AT
    )
    checklists.make_steps(build=build, by=by, at=AT)
    return build


def make_ready_packet(
    build: Build, by: Person, *, content: bytes = b"%PDF-1.7 invented", site: str = ""
) -> PacketIssue:
    """Return an issued packet marked rendered with an invented file: for tests of what comes after the render."""
    packet = packets.issue_packet(build=build, by=by, at=AT, site_address=site)
    file = store_bytes(content=content + str(packet.number).encode(), content_type="application/pdf", at=AT)
    PacketIssue.objects.filter(pk=packet.pk).update(state=PacketIssue.State.READY, file=file, finished_at=AT)
    packet.refresh_from_db()
    return packet


def issue_packet(build: Build, by: Person) -> PacketIssue:
    """Issue a packet of a build."""
    return packets.issue_packet(build=build, by=by, at=AT, site_address="https://shop.example")


def token_of(packet: PacketIssue) -> str:
    """Return the token of the vehicle's link that a packet prints."""
    address = read_packet_input(text_of(packet.as_built)).issue.vehicle_address
    return address.rstrip("/").rsplit("/", 1)[-1]


def rows_of_packets() -> tuple[int, int, int]:
    """Count the rows that issuing a packet writes."""
    return PacketIssue.objects.count(), CustomerLink.objects.count(), FrozenDocument.objects.count()


def let_lease_run_out(packet: PacketIssue) -> None:
    """Put a packet's lease in the past, as if its worker had died."""
    PacketIssue.objects.filter(pk=packet.pk).update(lease_until=timezone.now() - timedelta(seconds=1))
