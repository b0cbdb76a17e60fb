"""Rendering a packet happens once, whoever tries and however often; it can be cancelled at any page."""

import hashlib
from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from builds.documents.progress import PageProgress, RenderCancelled
from builds.errors import GuardRefused
from builds.models import (
    Build,
    PacketIssue,
    Person,
    Photo,
    Role,
    StoredFile,
)
from builds.services import packet_rendering, packets
from builds.services.stored_files import open_stored
from tests.factories.builds import AT, make_person
from tests.factories.packets import (
    issue_packet,
    let_lease_run_out,
    make_packet_build,
    make_ready_packet,
)

pytestmark = pytest.mark.django_db

State = PacketIssue.State


@pytest.fixture
def writer() -> Person:
    return make_person(Role.SERVICE_WRITER)


@pytest.fixture
def build() -> Build:
    return make_packet_build()


# --- claiming ---


def test_claim_is_for_one_worker_at_a_time(build: Build, writer: Person) -> None:
    packet = issue_packet(build, writer)

    assert packet_rendering._claim(packet.pk) == 1
    assert packet_rendering._claim(packet.pk) is None


def test_claim_is_taken_over_when_the_lease_runs_out(build: Build, writer: Person) -> None:
    packet = issue_packet(build, writer)
    packet_rendering._claim(packet.pk)
    let_lease_run_out(packet)

    assert packet_rendering._claim(packet.pk) == 2


def test_finish_of_an_attempt_that_was_taken_over_changes_nothing(build: Build, writer: Person) -> None:
    packet = issue_packet(build, writer)
    packet_rendering._claim(packet.pk)
    let_lease_run_out(packet)
    packet_rendering._claim(packet.pk)

    assert packet_rendering._finish(packet.pk, 1, b"%PDF late") == "not ours"
    packet.refresh_from_db()
    assert (packet.state, packet.file) == (State.RENDERING, None)
    assert packet_rendering._finish(packet.pk, 2, b"%PDF in time") == "ready"


def test_progress_extends_the_lease(build: Build, writer: Person) -> None:
    packet = issue_packet(build, writer)
    packet_rendering._claim(packet.pk)
    let_lease_run_out(packet)

    packet_rendering._Teller(packet.pk, 1)(PageProgress(words="Laying out page 3", page=3, pages=None))

    packet.refresh_from_db()
    assert packet.lease_until is not None
    assert packet.lease_until > timezone.now()
    assert (packet.progress_words, packet.progress_page) == ("Laying out page 3", 3)


def test_progress_ends_a_render_that_lost_its_row(build: Build, writer: Person) -> None:
    packet = issue_packet(build, writer)
    packet_rendering._claim(packet.pk)
    let_lease_run_out(packet)
    packet_rendering._claim(packet.pk)

    with pytest.raises(RenderCancelled):
        packet_rendering._Teller(packet.pk, 1)(PageProgress(words="Laying out page 9", page=9, pages=None))


def test_a_worker_that_always_ends_gives_up_after_five_attempts(build: Build, writer: Person) -> None:
    packet = issue_packet(build, writer)
    for _ in range(packet_rendering.MOST_ATTEMPTS):
        assert packet_rendering._claim(packet.pk) is not None
        let_lease_run_out(packet)

    assert packet_rendering._claim(packet.pk) is None
    packet.refresh_from_db()
    assert packet.state == State.FAILED
    assert "ended 5 times" in packet.failure


def test_stale_packets_are_those_nobody_works_on(build: Build, writer: Person) -> None:
    packet = issue_packet(build, writer)
    PacketIssue.objects.filter(pk=packet.pk).update(issued_at=timezone.now())
    assert packet_rendering.stale_packets() == []

    PacketIssue.objects.filter(pk=packet.pk).update(issued_at=timezone.now() - timedelta(minutes=1))
    assert packet_rendering.stale_packets() == [packet.pk]

    packet_rendering._claim(packet.pk)
    assert packet_rendering.stale_packets() == []

    let_lease_run_out(packet)
    assert packet_rendering.stale_packets() == [packet.pk]


# --- rendering ---


def test_render_packet_stores_a_pdf_and_names_its_renderer(build: Build, writer: Person) -> None:
    packet = issue_packet(build, writer)

    assert packet_rendering.render_packet(pk=packet.pk) == "ready"
    packet.refresh_from_db()
    assert packet.state == State.READY
    assert packet.file is not None
    with open_stored(packet.file) as opened:
        content = opened.read()
    assert content.startswith(b"%PDF")
    assert hashlib.sha256(content).hexdigest() == packet.file.sha256
    assert packet.fingerprint is not None
    assert packet.fingerprint["weasyprint"] == "70.0"


def test_render_packet_a_second_time_does_nothing(build: Build, writer: Person) -> None:
    packet = issue_packet(build, writer)
    packet_rendering.render_packet(pk=packet.pk)
    stored = StoredFile.objects.count()

    assert packet_rendering.render_packet(pk=packet.pk) == "not ours"
    assert StoredFile.objects.count() == stored


def test_render_packet_says_which_photo_could_not_be_read(build: Build, writer: Person) -> None:
    lost = StoredFile.objects.create(
        sha256="c" * 64, name_in_store="cc/lost", content_type="image/jpeg", size_bytes=10, stored_at=AT
    )
    Photo.objects.create(
        event_id=uuid4(),
        build=build,
        kind=Photo.Kind.STEP,
        caption="Grommet",
        file=lost,
        width_px=10,
        height_px=10,
        by=writer,
        at=AT,
    )
    packet = issue_packet(build, writer)

    assert packet_rendering.render_packet(pk=packet.pk) == "failed"
    packet.refresh_from_db()
    assert packet.failure == "Photo 1 could not be read."
    assert packet.file is None


def test_render_packet_writes_a_fault_in_words_and_leaves_no_file(
    build: Build, writer: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    packet = issue_packet(build, writer)
    monkeypatch.setattr(packet_rendering, "render_packet_pdf", lambda *a, **k: 1 / 0)

    assert packet_rendering.render_packet(pk=packet.pk) == "failed"
    packet.refresh_from_db()
    assert "ZeroDivisionError" in packet.failure
    assert "Nothing else is lost" in packet.failure


# --- cancelling ---


def test_cancel_ends_a_waiting_packet_at_once_and_frees_the_build(build: Build, writer: Person) -> None:
    packet = packets.cancel(packet=issue_packet(build, writer), by=writer, at=AT)

    assert packet.state == State.CANCELLED
    assert packet_rendering.render_packet(pk=packet.pk) == "not ours"
    assert issue_packet(build, writer).number == 2


def test_cancel_of_a_rendering_packet_is_heard_at_the_next_page(
    build: Build, writer: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    packet = issue_packet(build, writer)
    monkeypatch.setattr(packet_rendering, "_TELL_EVERY_S", 0.0)
    heard: list[str] = []
    tell = packet_rendering._Teller.__call__

    def cancel_at_page_two(self: packet_rendering._Teller, progress: PageProgress) -> None:
        heard.append(progress.words)
        if progress.page == 2:
            packets.cancel(packet=packet, by=writer, at=AT)
        tell(self, progress)

    monkeypatch.setattr(packet_rendering._Teller, "__call__", cancel_at_page_two)

    assert packet_rendering.render_packet(pk=packet.pk) == "cancelled"
    packet.refresh_from_db()
    assert (packet.state, packet.file) == (State.CANCELLED, None)
    assert heard[-1] == "Laying out page 2"


def test_cancel_of_an_abandoned_render_is_at_once(build: Build, writer: Person) -> None:
    packet = issue_packet(build, writer)
    packet_rendering._claim(packet.pk)
    let_lease_run_out(packet)

    assert packets.cancel(packet=packet, by=writer, at=AT).state == State.CANCELLED


def test_cancel_of_a_ready_packet_is_refused(build: Build, writer: Person) -> None:
    with pytest.raises(GuardRefused, match="ready already"):
        packets.cancel(packet=make_ready_packet(build, writer), by=writer, at=AT)


def test_progress_tells_real_pages_of_both_parts(build: Build, writer: Person, monkeypatch: pytest.MonkeyPatch) -> None:
    packet = issue_packet(build, writer)
    monkeypatch.setattr(packet_rendering, "_TELL_EVERY_S", 0.0)
    said: list[PageProgress] = []
    tell = packet_rendering._Teller.__call__

    def listen(self: packet_rendering._Teller, progress: PageProgress) -> None:
        said.append(progress)
        tell(self, progress)

    monkeypatch.setattr(packet_rendering._Teller, "__call__", listen)

    packet_rendering.render_packet(pk=packet.pk)

    pages = said[-1].pages
    assert pages is not None
    assert said[-1] == PageProgress(words=f"Writing page {pages} of {pages}", page=pages, pages=pages)
    laid_out = {progress.page for progress in said if progress.words.startswith("Laying out")}
    assert laid_out == set(range(1, pages + 1))
    assert [progress.page for progress in said if progress.words.startswith("Writing")] == list(range(1, pages + 1))
