"""The process that tells open screens of changes."""

from __future__ import annotations

import asyncio
import contextlib
import json
import time
from collections.abc import AsyncIterator, Callable, Coroutine, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any, ClassVar

import psycopg
import pytest
from django.db import connection
from django.test import Client, RequestFactory, override_settings

from builds.errors import NotHere
from builds.models import Role
from builds.selectors import event_stream
from builds.selectors.event_stream import CHANNEL, event_stream_url, event_token, token_opens
from builds.services.open_rows import tell_open_row
from config.events.channel import Change, OpenRow, read_notification
from config.events.listener import Listener, connection_parameters
from config.events.server import EventServer
from config.middleware import events_origin
from tests.factories.builds import make_designed_build, make_person

PATIENCE_S = 5


class KnownVersions(Listener):
    """The real listener on the real database, with builds that need no rows."""

    async def versions(self, builds: Sequence[str]) -> list[Change]:
        return [Change(build=build, design_version=3) for build in builds]


class Page:
    """An open page: one connection. All are closed when the server of the test is."""

    opened: ClassVar[list[Page]] = []

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.reader, self.writer = reader, writer
        Page.opened.append(self)

    @classmethod
    async def open(cls, port: int, target: str) -> Page:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(f"GET {target} HTTP/1.1\r\nHost: x\r\n\r\n".encode())
        return cls(reader, writer)

    async def status(self) -> int:
        async with asyncio.timeout(PATIENCE_S):
            return int((await self.reader.readline()).split()[1])

    async def next_change(self) -> dict[str, object]:
        async with asyncio.timeout(PATIENCE_S):
            while not (line := await self.reader.readline()).startswith(b"data: "):
                assert line, "the stream ended"
        data: dict[str, object] = json.loads(line.removeprefix(b"data: "))
        return data

    async def hear(self, version: int) -> None:
        """Wait for this version. The present one may be told twice: at the opening, and when the server listens."""
        while (heard := await self.next_change())["design_version"] != version:
            assert heard == {"build": "2614", "design_version": 3}


@contextlib.asynccontextmanager
async def serving(port: int, parameters: dict[str, object]) -> AsyncIterator[EventServer]:
    server = EventServer(KnownVersions(parameters))
    task = asyncio.create_task(server.run(host="127.0.0.1", port=port))
    try:
        async with asyncio.timeout(PATIENCE_S):
            while True:
                with contextlib.suppress(OSError):
                    await Page.open(port, "/health")
                    break
                await asyncio.sleep(0.02)
        yield server
    finally:
        while Page.opened:
            Page.opened.pop().writer.close()
        task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await task


async def notify(parameters: dict[str, object], payload: str) -> None:
    async with await psycopg.AsyncConnection.connect(**parameters, autocommit=True) as link:
        await link.execute("select pg_notify(%s, %s)", [CHANNEL, payload])


@pytest.fixture
def parameters(transactional_db: None) -> dict[str, object]:
    return connection_parameters(connection.settings_dict)


def target(build: str) -> str:
    return f"/events?build={build}&token={event_token(build)}"


def test_open_page_hears_the_present_version_and_each_change(
    parameters: dict[str, object], free_port: Callable[[], int]
) -> None:
    async def scene() -> None:
        port = free_port()
        async with serving(port, parameters):
            page = await Page.open(port, target("2614"))
            assert await page.status() == 200
            assert await page.next_change() == {"build": "2614", "design_version": 3}
            await listening(parameters)
            await notify(parameters, '{"build": "9999", "design_version": 8}')
            await notify(parameters, "not one of ours")
            await notify(parameters, '{"build": "2614", "design_version": 9}')
            await page.hear(9)
            page.writer.close()

    run(scene())


def run(scene: Coroutine[Any, Any, Any]) -> Any:
    """Run a scene in a thread of its own: a browser of another test may keep a loop in this one."""
    with ThreadPoolExecutor(max_workers=1) as thread:
        return thread.submit(asyncio.run, scene).result()


async def listening(parameters: dict[str, object]) -> None:
    """Return when the server's own connection listens."""
    asked = "select 1 from pg_stat_activity where query like 'LISTEN%%' and datname = current_database()"
    async with (
        asyncio.timeout(PATIENCE_S),
        await psycopg.AsyncConnection.connect(**parameters, autocommit=True) as link,
    ):
        while not await (await link.execute(asked)).fetchone():
            await asyncio.sleep(0.02)


def test_page_is_told_anew_after_the_database_connection_was_lost(
    parameters: dict[str, object], free_port: Callable[[], int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("config.events.listener.COME_BACK_AFTER_S", 0.1)
    end = "select pg_terminate_backend(pid) from pg_stat_activity where query like 'LISTEN%%'"

    async def scene() -> None:
        port = free_port()
        async with serving(port, parameters):
            page = await Page.open(port, target("2614"))
            await page.next_change()
            await listening(parameters)
            async with await psycopg.AsyncConnection.connect(**parameters, autocommit=True) as link:
                await link.execute(end)
            assert await page.next_change() == {"build": "2614", "design_version": 3}
            await listening(parameters)
            await notify(parameters, '{"build": "2614", "design_version": 4}')
            await page.hear(4)

    run(scene())


@pytest.mark.parametrize(
    ("path", "status"),
    [
        pytest.param("/events?build=2614&token=guess", 403, id="wrong-token"),
        pytest.param(lambda: f"/events?build=2615&token={event_token('2614')}", 403, id="token-of-another-build"),
        pytest.param("/events", 403, id="no-build"),
        pytest.param("/", 404, id="another-path"),
        pytest.param("/health", 200, id="health"),
    ],
)
def test_only_a_pages_own_token_opens_a_stream(
    parameters: dict[str, object], free_port: Callable[[], int], path: str | Callable[[], str], status: int
) -> None:
    async def scene() -> None:
        port = free_port()
        async with serving(port, parameters) as server:
            page = await Page.open(port, path if isinstance(path, str) else path())
            assert await page.status() == status
            assert server.screens.builds() == []

    run(scene())


def test_page_that_goes_away_is_forgotten(parameters: dict[str, object], free_port: Callable[[], int]) -> None:
    async def scene() -> None:
        port = free_port()
        async with serving(port, parameters) as server:
            page = await Page.open(port, target("2614"))
            await page.next_change()
            assert server.screens.builds() == ["2614"]
            page.writer.close()
            async with asyncio.timeout(PATIENCE_S):
                while server.screens.builds():
                    await asyncio.sleep(0.02)

    run(scene())


@pytest.mark.slow
def test_two_hundred_idle_screens_cost_next_to_nothing(
    parameters: dict[str, object], free_port: Callable[[], int]
) -> None:
    """Pages and server share this process, so the figure counts both."""

    async def scene() -> float:
        port = free_port()
        async with serving(port, parameters):
            pages = [await Page.open(port, target("2614")) for _ in range(200)]
            for page in pages:
                await page.next_change()
            await listening(parameters)
            used, began = time.process_time(), time.monotonic()
            for version in range(10, 14):
                await asyncio.sleep(0.5)
                await notify(parameters, json.dumps({"build": "2614", "design_version": version}))
                for page in pages:
                    await page.hear(version)
            return (time.process_time() - used) / (time.monotonic() - began)

    assert run(scene()) < 0.25


def test_token_runs_out(monkeypatch: pytest.MonkeyPatch) -> None:
    token = event_token("2614")
    assert token_opens(token, build_number="2614")

    monkeypatch.setattr(event_stream, "TOKEN_SECONDS", -1)

    assert not token_opens(token, build_number="2614")


@pytest.mark.parametrize("payload", ["", "[]", "{}", '{"build": "1"}', '{"build": "1", "design_version": "x"}'])
def test_notification_that_is_not_ours_is_passed_over(payload: str) -> None:
    assert read_notification(payload) is None


@pytest.mark.parametrize(
    ("host", "origin"),
    [("127.0.0.1:8000", "http://127.0.0.1:8001"), ("[::1]:8000", "http://[::1]:8001"), ("[::1]", "http://[::1]:8001")],
)
@override_settings(EVENTS_PORT=8001, EVENTS_ORIGIN="", ALLOWED_HOSTS=["*"])
def test_stream_is_reached_under_the_name_the_browser_used(host: str, origin: str) -> None:
    request = RequestFactory().get("/", HTTP_HOST=host)

    assert events_origin(request) == origin


@override_settings(EVENTS_PORT=0, EVENTS_ORIGIN="https://events.example")
def test_named_origin_wins_and_none_means_no_stream() -> None:
    request = RequestFactory().get("/")

    assert events_origin(request) == "https://events.example"
    assert event_stream_url(build_number="2614", origin="") == ""


@pytest.mark.django_db
def test_policy_lets_a_page_listen_there_and_nowhere_else() -> None:
    with override_settings(EVENTS_PORT=8001):
        listening_page = Client().get("/health/", headers={"host": "127.0.0.1:8000"})
    silent_page = Client().get("/health/")

    assert "connect-src 'self' http://127.0.0.1:8001" in listening_page["Content-Security-Policy"]
    assert "connect-src 'self';" in silent_page["Content-Security-Policy"] + ";"


@pytest.mark.django_db
@pytest.mark.parametrize("directive", ["unsafe-inline", "unsafe-eval", "http:", "*"])
def test_policy_allows_nothing_inline_and_nobody_else(directive: str) -> None:
    assert directive not in Client().get("/health/")["Content-Security-Policy"]


@pytest.mark.django_db(transaction=True)
def test_row_that_somebody_has_open_is_told_by_name_and_kept_nowhere() -> None:
    build = make_designed_build(make_person(Role.DESIGNER), circuits=1)
    by = make_person(Role.DESIGNER, short_name="M. Vale")
    heard: list[Change | OpenRow | None] = []
    with psycopg.connect(**connection_parameters(connection.settings_dict), autocommit=True) as ear:
        ear.execute(f"LISTEN {CHANNEL}")

        tell_open_row(build=build, family="circuit", key="101", is_open=True, by=by)
        tell_open_row(build=build, family="circuit", key="101", is_open=False, by=by)

        heard += [read_notification(news.payload) for news in ear.notifies(timeout=PATIENCE_S, stop_after=2)]

    number = build.number
    assert heard == [
        OpenRow(build=number, row="circuit:101", by="M. Vale", is_open=True),
        OpenRow(build=number, row="circuit:101", by="M. Vale", is_open=False),
    ]
    event = heard[0].as_event().decode() if isinstance(heard[0], OpenRow) else ""
    assert event.startswith("event: row\ndata: {") and event.endswith("\n\n")


@pytest.mark.django_db
def test_row_that_is_not_there_is_not_told() -> None:
    build = make_designed_build(make_person(Role.DESIGNER), circuits=1)

    with pytest.raises(NotHere):
        tell_open_row(build=build, family="circuit", key="999", is_open=True, by=make_person(Role.DESIGNER))
