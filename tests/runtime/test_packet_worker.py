"""The packet through a real broker and a real worker: killed half-way, broker gone, cancelled; it arrives once or not at all."""

import os
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.utils import timezone

from builds import tasks
from builds.models import Build, PacketIssue, Person, Role, StoredFile
from builds.services import packets, revisions
from builds.services.build_documents import import_build
from config.embedded.broker import Broker
from tests.factories.builds import make_person, make_shop
from tests.worker_process import Worker

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]

CHECKOUT = Path(__file__).resolve().parents[2]
DOCUMENT = CHECKOUT / "demo" / "2614-crew-cab-truck.json"
PATIENCE_S = 150.0
LEASE_S = 3
State = PacketIssue.State


@pytest.fixture
def broker(folder: Path, settings: Any) -> Iterator[Broker]:
    """A broker of this test's own, and the settings pointing at it; started by the test."""
    own = Broker(data=folder / "broker-data", sockets=folder, keep=True)
    settings.CELERY_BROKER_URL = own.url
    settings.PACKET_LEASE_SECONDS = LEASE_S
    yield own
    own.stop()


@pytest.fixture
def start_worker(folder: Path, broker: Broker) -> Iterator[Callable[[], Worker]]:
    started: list[Worker] = []

    def start() -> Worker:
        started.append(Worker(folder, broker.url, lease_s=LEASE_S))
        return started[-1]

    yield start
    for worker in started:
        worker.kill()


@pytest.fixture
def writer() -> Person:
    return make_person(Role.SERVICE_WRITER)


@pytest.fixture
def build(writer: Person) -> Build:
    """The demo's largest build: its render takes seconds, so there is a middle to be killed in."""
    make_shop()
    build = import_build(text=DOCUMENT.read_bytes(), by=writer, at=timezone.now())
    revisions.release(build=build, summary="As ordered", by=writer, at=timezone.now())
    return build


def wait_for(packet: PacketIssue, wanted: Callable[[PacketIssue], bool], *, sweeping: bool = False) -> PacketIssue:
    """Look at the row until it is as wanted; ``sweeping`` does meanwhile what the clock does."""
    deadline = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline:
        packet.refresh_from_db()
        if wanted(packet):
            return packet
        if sweeping:
            tasks.sweep()
        time.sleep(0.25)
    raise AssertionError(f"packet is {packet.state}, attempt {packet.attempt}, {packet.progress_words!r}")


def is_under_way(packet: PacketIssue) -> bool:
    return packet.state == State.RENDERING and packet.progress_page >= 3


def is_ready(packet: PacketIssue) -> bool:
    return packet.state == State.READY


def test_worker_killed_half_way_and_the_packet_arrives_once(
    build: Build, writer: Person, broker: Broker, start_worker: Callable[[], Worker], folder: Path
) -> None:
    broker.start(log=folder / "broker.log")
    first = start_worker()
    packet = packets.issue_packet(build=build, by=writer, at=timezone.now())
    tasks.nudge("packet", packet.pk)
    wait_for(packet, is_under_way)

    first.kill()
    packet.refresh_from_db()
    assert (packet.state, packet.attempt, packet.file) == (State.RENDERING, 1, None)

    start_worker()
    wait_for(packet, is_ready, sweeping=True)

    assert packet.attempt == 2
    assert StoredFile.objects.filter(content_type="application/pdf").count() == 1
    assert PacketIssue.objects.count() == 1
    time.sleep(1)  # the sweeps left more than one nudge in the queue: they find nothing to do
    packet.refresh_from_db()
    assert packet.attempt == 2


def test_worker_that_slept_past_its_lease_does_not_finish_what_another_took_over(
    build: Build, writer: Person, broker: Broker, start_worker: Callable[[], Worker], folder: Path
) -> None:
    broker.start(log=folder / "broker.log")
    sleeper = start_worker()
    packet = packets.issue_packet(build=build, by=writer, at=timezone.now())
    tasks.nudge("packet", packet.pk)
    wait_for(packet, is_under_way)
    os.killpg(sleeper.process.pid, signal.SIGSTOP)
    try:
        start_worker()
        wait_for(packet, is_ready, sweeping=True)
        finished_at, file = packet.finished_at, packet.file
        given_up = (folder / "worker.log").read_text().count("not ours")
    finally:
        os.killpg(sleeper.process.pid, signal.SIGCONT)

    deadline = time.monotonic() + PATIENCE_S
    while (folder / "worker.log").read_text().count("not ours") == given_up:
        assert time.monotonic() < deadline, "the sleeper says nothing"
        time.sleep(0.25)
    packet.refresh_from_db()
    assert (packet.state, packet.attempt, packet.finished_at, packet.file) == (State.READY, 2, finished_at, file)
    assert StoredFile.objects.filter(content_type="application/pdf").count() == 1


def test_broker_gone_at_enqueue_is_no_error_and_the_packet_arrives_later(
    build: Build, writer: Person, broker: Broker, start_worker: Callable[[], Worker], folder: Path
) -> None:
    client = Client()
    client.force_login(writer)
    begun = time.monotonic()

    answer = client.post(f"/builds/{build.number}/packet/issue/")

    assert answer.status_code == 302
    assert time.monotonic() - begun < 10
    packet = PacketIssue.objects.get()
    assert packet.state == State.QUEUED

    broker.start(log=folder / "broker.log")
    start_worker()
    wait_for(packet, is_ready, sweeping=True)
    assert packet.attempt == 1


def test_nudge_to_a_broker_that_is_gone_gives_up_within_two_seconds(broker: Broker) -> None:
    begun = time.monotonic()

    tasks.nudge("packet", 1)

    assert time.monotonic() - begun < 2


def test_nudge_to_a_broker_that_does_not_answer_gives_up_within_three_seconds(broker: Broker, folder: Path) -> None:
    broker.start(log=folder / "broker.log")
    assert broker.process is not None
    broker.process.send_signal(signal.SIGSTOP)
    begun = time.monotonic()
    try:
        tasks.nudge("packet", 1)
        took_s = time.monotonic() - begun
    finally:
        broker.process.send_signal(signal.SIGCONT)

    assert took_s < 3


def test_cancel_stops_a_real_worker_and_leaves_no_file(
    build: Build, writer: Person, broker: Broker, start_worker: Callable[[], Worker], folder: Path
) -> None:
    broker.start(log=folder / "broker.log")
    start_worker()
    packet = packets.issue_packet(build=build, by=writer, at=timezone.now())
    tasks.nudge("packet", packet.pk)
    wait_for(packet, is_under_way)

    packets.cancel(packet=packet, by=writer, at=timezone.now())

    wait_for(packet, lambda row: row.state == State.CANCELLED)
    assert packet.file is None
    assert not StoredFile.objects.filter(content_type="application/pdf").exists()


def test_nudge_of_a_transaction_that_is_rolled_back_is_never_sent(
    broker: Broker, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent: list[int] = []
    monkeypatch.setattr(tasks, "_send", lambda kind, pk: sent.append(pk))

    with transaction.atomic():
        tasks.nudge("packet", 7)
        transaction.set_rollback(True)
    with transaction.atomic():
        tasks.nudge("packet", 8)
        assert sent == []
    assert sent == [8]
