"""Signing over a link: bound to the hash of what was read, once, by name and with consent, and only for the newest."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import DatabaseError, transaction

from builds.errors import BadInput, GuardRefused, NotHere, Taken
from builds.models import Acceptance, Authorisation, Build, Circuit, CustomerLink, PacketIssue, Person, Role, Stage
from builds.services import acceptances, customer_links, overrides, packets, revisions, stages
from builds.services.acceptances import PACKET_CONSENT, Signature
from builds.services.assessments import assess_build
from tests.factories.builds import AT, make_designed_build, make_person, make_shop
from tests.factories.packets import make_packet_build, make_ready_packet

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager() -> Person:
    return make_person(Role.MANAGER)


@pytest.fixture
def build(manager: Person) -> Build:
    build = make_packet_build(manager)
    Build.objects.filter(pk=build.pk).update(stage=Stage.READY)
    build.refresh_from_db()
    return build


@pytest.fixture
def link(build: Build, manager: Person) -> CustomerLink:
    return customer_links.make_handover_link(build=build, made_for="P. Lund", by=manager, at=AT).link


@pytest.fixture
def packet(build: Build, manager: Person) -> PacketIssue:
    return make_ready_packet(build, manager)


@pytest.fixture
def signature(packet: PacketIssue) -> Signature:
    assert packet.file is not None
    return Signature(
        sha256=packet.file.sha256, typed_name="P. Lund", consents=True, capacity="fleet manager", address="192.0.2.7"
    )


def test_sign_packet_binds_name_consent_and_hash(link: CustomerLink, packet: PacketIssue, signature: Signature) -> None:
    acceptance = acceptances.sign_packet(link=link, packet=packet, signature=signature, at=AT)

    assert acceptance.file_sha256 == packet.file.sha256  # type: ignore[union-attr]
    assert (acceptance.typed_name, acceptance.capacity, acceptance.address) == ("P. Lund", "fleet manager", "192.0.2.7")
    assert acceptance.consent_words == PACKET_CONSENT


def test_sign_packet_moves_nothing_but_opens_the_way(
    build: Build, link: CustomerLink, packet: PacketIssue, signature: Signature, manager: Person
) -> None:
    assert "packet-signed" in stages.missing_guards(build, Stage.DELIVERED)

    acceptances.sign_packet(link=link, packet=packet, signature=signature, at=AT)

    build.refresh_from_db()
    assert build.stage == Stage.READY
    assert stages.missing_guards(build, Stage.DELIVERED) == ()


def test_sign_packet_a_second_time_is_refused_in_words(
    link: CustomerLink, packet: PacketIssue, signature: Signature
) -> None:
    acceptances.sign_packet(link=link, packet=packet, signature=signature, at=AT)

    with pytest.raises(Taken, match="signed already"):
        acceptances.sign_packet(link=link, packet=packet, signature=signature, at=AT)
    assert Acceptance.objects.count() == 1


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"typed_name": ""}, "typed_name"),
        ({"typed_name": "   "}, "typed_name"),
        ({"typed_name": "x" * 121}, "typed_name"),
        ({"consents": False}, "consents"),
        ({"sha256": "0" * 64}, "sha256"),
        ({"sha256": ""}, "sha256"),
    ],
)
def test_sign_packet_names_the_field_and_writes_nothing(
    link: CustomerLink, packet: PacketIssue, signature: Signature, wrong: dict[str, Any], field: str
) -> None:
    with pytest.raises(BadInput) as refused:
        acceptances.sign_packet(link=link, packet=packet, signature=replace(signature, **wrong), at=AT)
    assert list(refused.value.fields) == [field]
    assert not Acceptance.objects.exists()


def test_sign_packet_is_refused_once_a_newer_one_is_being_made(
    build: Build, link: CustomerLink, packet: PacketIssue, signature: Signature, manager: Person
) -> None:
    packets.issue_packet(build=build, by=manager, at=AT)

    with pytest.raises(GuardRefused, match="not the one to sign"):
        acceptances.sign_packet(link=link, packet=packet, signature=signature, at=AT)


def test_sign_packet_still_works_after_a_newer_one_was_cancelled(
    build: Build, link: CustomerLink, packet: PacketIssue, signature: Signature, manager: Person
) -> None:
    packets.cancel(packet=packets.issue_packet(build=build, by=manager, at=AT), by=manager, at=AT)

    assert acceptances.sign_packet(link=link, packet=packet, signature=signature, at=AT).packet == packet


def test_sign_packet_is_refused_after_a_newer_revision(
    build: Build, link: CustomerLink, packet: PacketIssue, signature: Signature, manager: Person
) -> None:
    Circuit.objects.filter(build=build, number="101").update(legend="OTHER")
    revisions.release(build=build, summary="Legend", by=manager, at=AT)

    with pytest.raises(GuardRefused):
        acceptances.sign_packet(link=link, packet=packet, signature=signature, at=AT)


def test_sign_packet_is_refused_while_the_design_has_moved_on(
    build: Build, link: CustomerLink, packet: PacketIssue, signature: Signature
) -> None:
    before = Circuit.objects.get(build=build, number="101").legend
    Circuit.objects.filter(build=build, number="101").update(legend="OTHER")

    assert acceptances.packet_to_sign(build) is None
    with pytest.raises(GuardRefused):
        acceptances.sign_packet(link=link, packet=packet, signature=signature, at=AT)

    Circuit.objects.filter(build=build, number="101").update(legend=before)
    assert acceptances.packet_to_sign(build) == packet


@pytest.mark.parametrize("stage", [Stage.IN_WORK, Stage.FINAL_CHECK, Stage.CLOSED])
def test_sign_packet_waits_until_the_vehicle_is_ready(
    build: Build, link: CustomerLink, packet: PacketIssue, signature: Signature, stage: Stage
) -> None:
    Build.objects.filter(pk=build.pk).update(stage=stage)

    with pytest.raises(GuardRefused):
        acceptances.sign_packet(link=link, packet=packet, signature=signature, at=AT)


def test_sign_packet_refuses_a_file_that_is_not_as_it_was_stored(
    link: CustomerLink, packet: PacketIssue, signature: Signature
) -> None:
    assert packet.file is not None
    path = Path(settings.MEDIA_ROOT) / packet.file.name_in_store
    path.chmod(0o640)
    path.write_bytes(b"%PDF other")

    with pytest.raises(GuardRefused, match="nothing was signed"):
        acceptances.sign_packet(link=link, packet=packet, signature=signature, at=AT)
    path.unlink()
    with pytest.raises(GuardRefused, match="nothing was signed"):
        acceptances.sign_packet(link=link, packet=packet, signature=signature, at=AT)


def test_sign_packet_of_another_build_is_not_here(
    link: CustomerLink, signature: Signature, packet: PacketIssue, manager: Person
) -> None:
    other = make_ready_packet(make_packet_build(manager), manager, content=b"%PDF other build")

    with pytest.raises(NotHere):
        acceptances.sign_packet(link=link, packet=other, signature=signature, at=AT)


def test_sign_packet_over_a_closed_or_expired_link_is_refused(
    link: CustomerLink, packet: PacketIssue, signature: Signature, manager: Person
) -> None:
    with pytest.raises(NotHere, match="Ask the shop"):
        acceptances.sign_packet(link=link, packet=packet, signature=signature, at=AT + timedelta(days=31))
    customer_links.revoke(link=link, by=manager, at=AT)
    with pytest.raises(NotHere):
        acceptances.sign_packet(link=link, packet=packet, signature=signature, at=AT)


def test_sign_packet_over_the_vehicle_link_is_refused(
    build: Build, packet: PacketIssue, signature: Signature, manager: Person
) -> None:
    vehicle = customer_links.make_vehicle_link(build=build, made_for="", by=manager, at=AT).link

    with pytest.raises(NotHere):
        acceptances.sign_packet(link=vehicle, packet=packet, signature=signature, at=AT)


def test_an_acceptance_can_be_neither_changed_nor_removed(
    link: CustomerLink, packet: PacketIssue, signature: Signature
) -> None:
    acceptances.sign_packet(link=link, packet=packet, signature=signature, at=AT)

    for change in (
        lambda: Acceptance.objects.update(typed_name="Someone else"),
        lambda: Acceptance.objects.all().delete(),
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()


# --- the quote ---


@pytest.fixture
def quoted(manager: Person) -> Build:
    make_shop()
    build = make_designed_build(manager)
    revisions.release(build=build, summary="As ordered", by=manager, at=AT)
    Build.objects.filter(pk=build.pk).update(stage=Stage.QUOTED)
    build.refresh_from_db()
    return build


@pytest.fixture
def quote_link(quoted: Build, manager: Person) -> CustomerLink:
    return customer_links.make_handover_link(build=quoted, made_for="P. Lund", by=manager, at=AT).link


def quote_signature(build: Build) -> Signature:
    revision = revisions.newest_revision(build)
    assert revision is not None
    return Signature(sha256=revision.document_id, typed_name="P. Lund", consents=True)


def test_sign_quote_authorises_the_revision_by_its_hash(quoted: Build, quote_link: CustomerLink) -> None:
    authorisation = acceptances.sign_quote(link=quote_link, signature=quote_signature(quoted), at=AT)

    assert authorisation.kind == Authorisation.Kind.LINK
    assert authorisation.document_sha256 == authorisation.revision.document_id
    assert authorisation.authorised_by == "P. Lund"
    assert stages.missing_guards(quoted, Stage.APPROVED) == ()


def test_sign_quote_that_changed_meanwhile_is_refused(quoted: Build, quote_link: CustomerLink, manager: Person) -> None:
    read = quote_signature(quoted)
    Circuit.objects.filter(build=quoted, number="101").update(legend="OTHER")
    revisions.release(build=quoted, summary="Changed", by=manager, at=AT)

    with pytest.raises(BadInput, match="has changed since you read it"):
        acceptances.sign_quote(link=quote_link, signature=read, at=AT)
    assert not Authorisation.objects.exists()


def test_sign_quote_twice_is_refused(quoted: Build, quote_link: CustomerLink) -> None:
    acceptances.sign_quote(link=quote_link, signature=quote_signature(quoted), at=AT)

    with pytest.raises(GuardRefused, match="no quote to sign"):
        acceptances.sign_quote(link=quote_link, signature=quote_signature(quoted), at=AT)


@pytest.mark.parametrize(("wrong", "field"), [({"typed_name": ""}, "typed_name"), ({"consents": False}, "consents")])
def test_sign_quote_names_the_field(quoted: Build, quote_link: CustomerLink, wrong: dict[str, Any], field: str) -> None:
    with pytest.raises(BadInput) as refused:
        acceptances.sign_quote(link=quote_link, signature=replace(quote_signature(quoted), **wrong), at=AT)
    assert list(refused.value.fields) == [field]


# --- a quote of nothing, or with a blocking finding ---


def worth_nothing(build: Build) -> None:
    build.parts.update(unit_price=0)
    build.operations.update(standard_h=0)


def test_link_that_would_offer_a_quote_of_nothing_asks_first(manager: Person) -> None:
    build = make_designed_build(manager)
    worth_nothing(build)
    revisions.release(build=build, summary="As ordered", by=manager, at=AT)

    with pytest.raises(BadInput) as refused:
        customer_links.make_handover_link(build=build, made_for="P. Lund", by=manager, at=AT)

    assert list(refused.value.fields) == ["for_nothing"]
    link = customer_links.make_handover_link(build=build, made_for="P. Lund", by=manager, at=AT, for_nothing=True).link
    assert acceptances.quote_to_offer(link) is not None


def test_link_with_a_blocking_finding_waits_for_its_override(manager: Person) -> None:
    build = make_designed_build(manager)
    build.circuits.filter(number="101").update(gauge="20", device_rating_a=30)
    revisions.release(build=build, summary="As ordered", by=manager, at=AT)
    with pytest.raises(GuardRefused, match="blocking finding that nobody overrode"):
        customer_links.make_handover_link(build=build, made_for="P. Lund", by=manager, at=AT)

    for finding in assess_build(build).blocking:
        overrides.record(
            build=build, finding_id=finding.id, subject=finding.subject, reason="Proved on the bench", by=manager, at=AT
        )

    assert customer_links.make_handover_link(build=build, made_for="P. Lund", by=manager, at=AT).token


def test_revision_of_nothing_released_after_the_link_is_not_offered(
    quoted: Build, quote_link: CustomerLink, manager: Person
) -> None:
    worth_nothing(quoted)
    revisions.release(build=quoted, summary="Emptied", by=manager, at=AT + timedelta(hours=1))
    quote_link.refresh_from_db()

    assert acceptances.quote_to_offer(quote_link) is None
    with pytest.raises(GuardRefused, match="no quote to sign"):
        acceptances.sign_quote(link=quote_link, signature=quote_signature(quoted), at=AT)
