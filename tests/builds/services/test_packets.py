"""Issuing a packet freezes its whole input."""

import hashlib
import json
import zlib
from decimal import Decimal
from uuid import uuid4

import pytest

from builds.documents.packet_input import read_packet_input
from builds.engineering.document import content_sha256
from builds.errors import GuardRefused, NotAllowed, NotHere, Taken
from builds.models import (
    Build,
    Circuit,
    CustomerLink,
    FrozenDocument,
    PacketIssue,
    Person,
    Revision,
    Role,
    Shop,
    Tick,
)
from builds.selectors.links import LinkState, find_link
from builds.services import customer_links, packet_rendering, packets, registers, revisions
from builds.services.frozen_documents import text_of
from tests.factories.builds import AT, make_designed_build, make_person, make_shop
from tests.factories.packets import (
    issue_packet,
    make_packet_build,
    make_ready_packet,
    rows_of_packets,
    token_of,
)

pytestmark = pytest.mark.django_db

State = PacketIssue.State


@pytest.fixture
def writer() -> Person:
    return make_person(Role.SERVICE_WRITER)


@pytest.fixture
def build() -> Build:
    return make_packet_build()


# --- issuing ---


def test_issue_packet_freezes_what_was_recorded(build: Build, writer: Person) -> None:
    technician = make_person(Role.TECHNICIAN, short_name="T. Rook")
    step = build.steps.get(key="key-off")
    Tick.objects.create(
        event_id=uuid4(), step=step, result="pass", reading=Decimal("12.5"), reading_at_v=Decimal("12.6"), instrument="clamp 1",
        by=technician, at=AT, received_at=AT,
    )  # fmt: skip
    registers.write_splice(
        build=build, circuit_number="101", place="behind the seat", method="crimp", by=technician, at=AT
    )

    frozen = read_packet_input(text_of(issue_packet(build, writer).as_built))

    assert frozen.revision.letter == "A"
    assert frozen.revision.authorisations[0].authorised_by == "P. Lund"
    assert frozen.splices[0].place == "behind the seat"
    (reading,) = [item for item in frozen.steps if item.key == "key-off"]
    assert reading.ticks[0].reading == Decimal("12.5")
    assert reading.ticks[0].by == "T. Rook"
    assert frozen.shop.time_zone == "America/New_York"
    assert {result.number for result in frozen.assessment.circuits} == {"101", "102"}


def test_issue_packet_is_queued_and_numbered_from_one(build: Build, writer: Person) -> None:
    packet = issue_packet(build, writer)

    assert (packet.state, packet.number, packet.attempt) == (State.QUEUED, 1, 0)


def test_issue_packet_refuses_a_second_while_one_is_open(build: Build, writer: Person) -> None:
    issue_packet(build, writer)
    before = rows_of_packets()

    with pytest.raises(Taken, match="Packet 1 is being made"):
        issue_packet(build, writer)
    assert rows_of_packets() == before


def test_issue_packet_after_a_ready_one_is_a_correction(build: Build, writer: Person) -> None:
    make_ready_packet(build, writer)

    second = issue_packet(build, writer)

    assert second.number == 2
    assert read_packet_input(text_of(second.as_built)).issue.corrects == 1


def test_issue_packet_refuses_without_a_revision(writer: Person) -> None:
    make_shop()
    unreleased = make_designed_build(writer)

    with pytest.raises(GuardRefused, match="No revision"):
        issue_packet(unreleased, writer)
    assert rows_of_packets() == (0, 0, 0)


def test_issue_packet_refuses_a_design_edited_since_the_revision(build: Build, writer: Person) -> None:
    Circuit.objects.filter(build=build, number="101").update(legend="OTHER LAMP")

    with pytest.raises(GuardRefused, match="has changed since revision A"):
        issue_packet(build, writer)


def test_issue_packet_names_what_changed_since_the_revision_before(build: Build, writer: Person) -> None:
    Circuit.objects.filter(build=build, number="101").update(legend="OTHER LAMP")
    revisions.release(build=build, summary="Legend", by=writer, at=AT)

    frozen = read_packet_input(text_of(issue_packet(build, writer).as_built))

    assert frozen.changed == ("circuit:101",)
    assert [item.letter for item in frozen.revisions] == ["A", "B"]


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.PARTS_CLERK])
def test_issue_packet_is_not_for_everyone(build: Build, role: Role) -> None:
    with pytest.raises(NotAllowed):
        issue_packet(build, make_person(role))


def test_issue_packet_that_fails_half_way_writes_nothing(
    build: Build, writer: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = rows_of_packets()
    monkeypatch.setattr(packets, "_insert", lambda packet: (_ for _ in ()).throw(RuntimeError("power cut")))

    with pytest.raises(RuntimeError):
        issue_packet(build, writer)
    assert rows_of_packets() == before


def test_issue_packet_needs_the_shop_s_own_row(build: Build, writer: Person) -> None:
    Shop.objects.all().delete()

    with pytest.raises(NotHere):
        issue_packet(build, writer)


# --- the address in the QR code ---


def test_qr_code_opens_the_vehicle_and_only_its_hash_is_kept(build: Build, writer: Person) -> None:
    token = token_of(issue_packet(build, writer))

    assert len(token) == 43  # 32 bytes in base64 without padding: 256 bits
    assert find_link(token, kind=CustomerLink.Kind.VEHICLE, at=AT).state is LinkState.OPEN
    assert CustomerLink.objects.get().token_sha256 == hashlib.sha256(token.encode()).hexdigest()


def test_qr_code_stays_the_same_over_issues_until_it_is_revoked(build: Build, writer: Person) -> None:
    first = make_ready_packet(build, writer, site="https://shop.example")
    second = make_ready_packet(build, writer, site="https://shop.example")
    customer_links.revoke(link=CustomerLink.objects.get(), by=writer, at=AT)
    third = issue_packet(build, writer)

    assert token_of(first) == token_of(second) != token_of(third)


def test_qr_code_prefers_the_address_of_the_settings(build: Build, writer: Person, settings: object) -> None:
    settings.SITE_ADDRESS = "https://tern.example/"  # type: ignore[attr-defined]

    address = read_packet_input(text_of(issue_packet(build, writer).as_built)).issue.vehicle_address

    assert address.startswith("https://tern.example/v/")


def test_render_again_uses_the_same_frozen_input(build: Build, writer: Person) -> None:
    packet = issue_packet(build, writer)
    PacketIssue.objects.filter(pk=packet.pk).update(state=State.FAILED, failure="A photo", finished_at=AT, attempt=5)

    again = packets.render_again(packet=packet, by=writer, at=AT)

    assert (again.state, again.number, again.as_built_id, again.failure) == (State.QUEUED, 1, packet.as_built_id, "")
    assert packet_rendering._claim(packet.pk) == 1


@pytest.mark.parametrize("state", [State.QUEUED, State.CANCELLED])
def test_render_again_is_only_for_failed_ones(build: Build, writer: Person, state: PacketIssue.State) -> None:
    packet = issue_packet(build, writer)
    PacketIssue.objects.filter(pk=packet.pk).update(state=state)

    with pytest.raises(GuardRefused):
        packets.render_again(packet=packet, by=writer, at=AT)


def test_an_issue_without_workings_freezes_no_word_of_them(build: Build, writer: Person) -> None:
    text = text_of(issue_packet(build, writer).as_built)

    assert '"workings"' not in text
    assert read_packet_input(text).workings == ()


def test_an_issue_that_asks_freezes_how_figures_came_about(build: Build, writer: Person) -> None:
    issued = packets.issue_packet(build=build, by=writer, at=AT, with_workings=True)

    frozen = read_packet_input(text_of(issued.as_built))

    kinds = {working.key.partition(":")[0] for working in frozen.workings}
    assert {"circuit-drop", "circuit-loading", "condition-mean", "payload", "key-off"} <= kinds
    drop = next(working for working in frozen.workings if working.key.startswith("circuit-drop:"))
    assert any(step.put_in for step in drop.steps) and drop.rule and drop.sources


# --- a program newer than the revision ---


def test_revision_released_before_the_documents_form_grew_still_tells_the_same_design(
    build: Build, writer: Person
) -> None:
    now = text_of(build.revisions.get().document)
    older = json.loads(now)
    for node in older["build"]["nodes"]:
        if not node["chassis"]:
            del node["chassis"]  # as if documents had no such member then: it reads as its default
    text = json.dumps(older, sort_keys=True)
    document = FrozenDocument.objects.create(sha256=content_sha256(text), compressed=zlib.compress(text.encode()))
    revision = Revision.objects.create(
        build=build, letter="B", sequence=2, document=document, design_version=build.design_version, summary="older",
        price_total=0, crew_h=0, released_by=writer, released_at=AT,
    )  # fmt: skip

    with pytest.raises(GuardRefused, match="Nothing has changed since revision B"):
        revisions.release(build=build, summary="the same again", by=make_person(Role.DESIGNER), at=AT)
    packet = packets.issue_packet(build=build, by=writer, at=AT)

    assert '"chassis"' in now and text != now
    assert packet.revision == revision
