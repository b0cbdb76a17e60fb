"""The packet page at the desk: issue, watch real pages, cancel, render again, links shown once."""

import re

import pytest
from django.test import Client
from django.utils import timezone

from builds.models import Build, CustomerLink, PacketIssue, Person, Role
from builds.services import packets
from builds.views import packets as packet_views
from tests.factories.builds import AT, make_designed_build, make_person, make_shop
from tests.factories.packets import make_packet_build, make_ready_packet

pytestmark = pytest.mark.django_db

State = PacketIssue.State


@pytest.fixture
def build() -> Build:
    return make_packet_build()


@pytest.fixture
def nudged(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, int]]:
    sent: list[tuple[str, int]] = []
    monkeypatch.setattr(packet_views, "nudge", lambda kind, pk: sent.append((kind, pk)))
    return sent


def client_of(role: Role) -> tuple[Client, Person]:
    person = make_person(role)
    client = Client()
    client.force_login(person)
    return client, person


def test_packet_page_says_what_is_missing_before_a_revision() -> None:
    make_shop()
    client, writer = client_of(Role.SERVICE_WRITER)
    unreleased = make_designed_build(writer)

    html = client.get(f"/builds/{unreleased.number}/packet/").content.decode()

    assert "No revision to tell of." in html
    assert "Issue packet" not in html


def test_issue_queues_a_packet_and_nudges_a_worker(build: Build, nudged: list[tuple[str, int]]) -> None:
    client, writer = client_of(Role.SERVICE_WRITER)

    answer = client.post(f"/builds/{build.number}/packet/issue/")

    packet = PacketIssue.objects.get()
    assert answer.status_code == 302
    assert (packet.state, packet.issued_by) == (State.QUEUED, writer)
    assert nudged == [("packet", packet.pk)]


def test_issue_twice_is_refused_in_words(build: Build, nudged: list[tuple[str, int]]) -> None:
    client, _ = client_of(Role.SERVICE_WRITER)
    client.post(f"/builds/{build.number}/packet/issue/")

    answer = client.post(f"/builds/{build.number}/packet/issue/")

    assert answer.status_code == 409
    assert "Packet 1 is being made" in answer.content.decode()
    assert len(nudged) == 1


def test_page_watches_a_going_packet_every_second(build: Build, nudged: list[tuple[str, int]]) -> None:
    client, _ = client_of(Role.SERVICE_WRITER)
    client.post(f"/builds/{build.number}/packet/issue/")

    html = client.get(f"/builds/{build.number}/packet/").content.decode()

    assert f'hx-get="/builds/{build.number}/packet/1/state/" hx-trigger="every 1s"' in html
    assert "Waits for a worker" in html
    assert "Cancel packet 1" in html
    assert "Issue packet 2" not in html


def test_state_tells_the_page_a_render_is_at(build: Build) -> None:
    client, writer = client_of(Role.SERVICE_WRITER)
    packet = packets.issue_packet(build=build, by=writer, at=AT)
    PacketIssue.objects.filter(pk=packet.pk).update(
        state=State.RENDERING, attempt=1, progress_words="Writing page 14 of 24", progress_page=14, progress_pages=24
    )

    answer = client.get(f"/builds/{build.number}/packet/1/state/", headers={"HX-Request": "true"})

    assert "Writing page 14 of 24" in answer.content.decode()
    assert "HX-Refresh" not in answer
    assert "<html" not in answer.content.decode()


def test_state_asks_the_page_to_read_itself_again_when_done(build: Build) -> None:
    client, writer = client_of(Role.SERVICE_WRITER)
    make_ready_packet(build, writer)

    answer = client.get(f"/builds/{build.number}/packet/1/state/", headers={"HX-Request": "true"})

    assert answer["HX-Refresh"] == "true"


def test_failed_packet_says_what_failed_and_renders_again(build: Build, nudged: list[tuple[str, int]]) -> None:
    client, writer = client_of(Role.SERVICE_WRITER)
    packet = packets.issue_packet(build=build, by=writer, at=AT)
    PacketIssue.objects.filter(pk=packet.pk).update(
        state=State.FAILED, failure="Photo 7 could not be read.", finished_at=AT
    )

    html = client.get(f"/builds/{build.number}/packet/").content.decode()
    assert "Packet 1 did not render." in html
    assert "Photo 7 could not be read." in html

    client.post(f"/builds/{build.number}/packet/1/again/")
    packet.refresh_from_db()
    assert packet.state == State.QUEUED
    assert nudged == [("packet", packet.pk)]


def test_cancel_ends_a_waiting_packet(build: Build) -> None:
    client, writer = client_of(Role.SERVICE_WRITER)
    packet = packets.issue_packet(build=build, by=writer, at=AT)

    client.post(f"/builds/{build.number}/packet/1/cancel/")

    packet.refresh_from_db()
    assert packet.state == State.CANCELLED


def test_ready_packet_links_to_its_stored_file(build: Build) -> None:
    client, writer = client_of(Role.SERVICE_WRITER)
    packet = make_ready_packet(build, writer)

    html = client.get(f"/builds/{build.number}/packet/").content.decode()

    assert packet.file is not None
    assert f"/files/{packet.file.sha256}/" in html
    answer = client.get(f"/files/{packet.file.sha256}/")
    answer.close()
    assert answer.status_code == 200


@pytest.mark.parametrize("path", ["issue/", "1/cancel/", "1/again/", "links/"])
def test_changes_are_not_for_a_technician(build: Build, path: str) -> None:
    client, _ = client_of(Role.TECHNICIAN)
    make_ready_packet(build, make_person(Role.MANAGER))

    assert client.post(f"/builds/{build.number}/packet/{path}").status_code == 403
    assert "Issue packet" not in client.get(f"/builds/{build.number}/packet/").content.decode()


@pytest.mark.parametrize("path", ["", "9/state/"])
def test_what_is_not_there_is_said(build: Build, path: str) -> None:
    client, _ = client_of(Role.MANAGER)

    assert client.get("/builds/none/packet/" + path).status_code == 404
    if path:
        assert client.get(f"/builds/{build.number}/packet/{path}").status_code == 404


def test_link_is_shown_once_and_opens(build: Build) -> None:
    client, _ = client_of(Role.SERVICE_WRITER)

    answer = client.post(f"/builds/{build.number}/packet/links/", {"made_for": "P. Lund", "days": "14"})

    html = answer.content.decode()
    assert answer["Cache-Control"] == "no-store"
    assert "no mail leaves from here yet" in html
    found = re.search(r'value="http://testserver(/l/[\w-]{43}/)"', html)
    assert found is not None
    assert Client().get(found[1]).status_code == 200
    assert found[1] not in client.get(f"/builds/{build.number}/packet/").content.decode()
    days = (CustomerLink.objects.get().expires_at - timezone.now()).days  # type: ignore[operator]
    assert days == 13


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"made_for": "", "days": "30"}, "Say who gets the link."),
        ({"made_for": "P. Lund", "days": "0"}, "from 1 to 365 days"),
        ({"made_for": "P. Lund"}, "Write a number of days."),
        ({"made_for": "P. Lund", "days": "soon"}, "Write a number of days."),
        ({"made_for": "P. Lund", "days": "9999999"}, "at most 365 days"),
    ],
)
def test_link_form_names_the_field(build: Build, typed: dict[str, str], words: str) -> None:
    client, _ = client_of(Role.SERVICE_WRITER)

    answer = client.post(f"/builds/{build.number}/packet/links/", typed)

    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not CustomerLink.objects.exists()


def test_link_is_closed_and_says_by_whom(build: Build) -> None:
    client, _ = client_of(Role.SERVICE_WRITER)
    client.post(f"/builds/{build.number}/packet/links/", {"made_for": "P. Lund", "days": "30"})
    uid = CustomerLink.objects.get().uid

    client.post(f"/builds/{build.number}/packet/links/{uid}/revoke/")

    html = client.get(f"/builds/{build.number}/packet/").content.decode()
    assert "Closed" in html
    assert CustomerLink.objects.get().revoked_by is not None


def test_vehicle_link_is_closed_only_after_a_question_that_says_what_it_costs(build: Build) -> None:
    client, _ = client_of(Role.SERVICE_WRITER)
    made = client.post(f"/builds/{build.number}/packet/links/vehicle/")
    link = CustomerLink.objects.get(kind="vehicle")
    page = client.get(f"/builds/{build.number}/packet/").content.decode()

    asked = client.get(f"/builds/{build.number}/packet/links/{link.uid}/revoke/").content.decode()

    assert f'href="/builds/{build.number}/packet/links/{link.uid}/revoke/"' in page
    assert "Close the vehicle link?" in asked and "opens nothing any more" in asked
    link.refresh_from_db()
    assert link.revoked_at is None
    assert "Code of the vehicle link" in made.content.decode()


def test_new_vehicle_link_opens_the_record_without_another_packet(build: Build) -> None:
    client, _ = client_of(Role.SERVICE_WRITER)

    answer = client.post(f"/builds/{build.number}/packet/links/vehicle/")

    address = re.search(r'value="http://testserver(/v/[^"]+)"', answer.content.decode())
    assert address is not None
    assert (build.packets.count(), answer["Cache-Control"]) == (0, "no-store")
    assert Client().get(address[1]).status_code == 200
    assert address[1] not in client.get(f"/builds/{build.number}/packet/").content.decode()


def test_link_of_another_build_is_not_here(build: Build) -> None:
    client, _ = client_of(Role.SERVICE_WRITER)
    client.post(f"/builds/{build.number}/packet/links/", {"made_for": "P. Lund", "days": "30"})
    other = make_designed_build()

    answer = client.post(f"/builds/{other.number}/packet/links/{CustomerLink.objects.get().uid}/revoke/")

    assert answer.status_code == 404
    assert CustomerLink.objects.get().revoked_at is None
