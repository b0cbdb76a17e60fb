"""Takes a page's request, checks its token, and keeps the connection open."""

from __future__ import annotations

import asyncio
import ssl
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import psycopg
import structlog

from builds.selectors.event_stream import TOKEN_SECONDS, token_opens
from config.events.channel import Change
from config.events.listener import Listener
from config.events.screens import Screens

log = structlog.get_logger(__name__)
HEAD_PATIENCE_S = 10.0
LONGEST_HEAD_BYTES = 16 * 1024
STILL_HERE_EVERY_S = 20.0
HANG_UP_PATIENCE_S = 2.0
# Any page may ask, because the token decides; no cookie is read here.
STREAM_HEAD = (
    b"HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\nCache-Control: no-store\r\n"
    b"Access-Control-Allow-Origin: *\r\nX-Accel-Buffering: no\r\nConnection: close\r\n\r\n"
    b"retry: 2000\n\n"
)


class EventServer:
    """Serves the streams of all open pages."""

    def __init__(self, listener: Listener) -> None:
        self.listener = listener
        self.screens = Screens()
        self._answering: set[asyncio.Task[None]] = set()

    async def run(self, *, host: str, port: int, tls: ssl.SSLContext | None = None) -> None:
        """Serve until cancelled."""
        server = await asyncio.start_server(self.answer, host, port, ssl=tls, limit=LONGEST_HEAD_BYTES, backlog=256)
        try:
            async with asyncio.TaskGroup() as tasks:
                tasks.create_task(self.listener.listen(tell=self.screens.tell, watched=self.screens.builds))
                tasks.create_task(self._say_still_here())
        finally:
            server.close()
            await self._let_pages_go()

    async def _let_pages_go(self) -> None:
        self.screens.hang_up()
        if self._answering:
            await asyncio.wait(self._answering, timeout=HANG_UP_PATIENCE_S)

    async def _say_still_here(self) -> None:
        while True:
            await asyncio.sleep(STILL_HERE_EVERY_S)
            self.screens.tell_all_still_here()

    async def answer(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Answer one connection, to its end."""
        task = asyncio.current_task()
        assert task is not None
        self._answering.add(task)
        task.add_done_callback(self._answering.discard)
        try:
            async with asyncio.timeout(HEAD_PATIENCE_S):
                head = await reader.readuntil(b"\r\n\r\n")
            await self._answer_request(head.decode("latin-1"), reader, writer)
        except (OSError, TimeoutError, asyncio.IncompleteReadError, asyncio.LimitOverrunError):
            pass  # a page that went away, or never asked properly
        finally:
            writer.close()

    async def _answer_request(self, head: str, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        method, target = [*head.split("\r\n", 1)[0].split(" "), "", ""][:2]
        address = urlsplit(target)
        query = parse_qs(address.query)
        build = query.get("build", [""])[0]
        if method != "GET" or address.path not in ("/events", "/health"):
            await refuse(writer, "404 Not Found")
        elif address.path == "/health":
            await refuse(writer, "200 OK")
        elif not build or not token_opens(query.get("token", [""])[0], build_number=build):
            await refuse(writer, "403 Forbidden")
        else:
            await self._keep_open(build, reader, writer)

    async def _keep_open(self, build: str, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(STREAM_HEAD)
        self.screens.add(build, writer)
        try:
            # The build may have changed after the page was made and before it listened.
            for change in await self._present(build):
                writer.write(change.as_event())
            await writer.drain()
            async with asyncio.timeout(TOKEN_SECONDS):
                await reader.read()  # a page sends nothing more: this ends when it goes away
        finally:
            self.screens.remove(build, writer)

    async def _present(self, build: str) -> list[Change]:
        try:
            return await self.listener.versions([build])
        except psycopg.OperationalError:  # told when the listener is back
            return []


async def refuse(writer: asyncio.StreamWriter, status: str) -> None:
    """Answer with a status line and nothing to read."""
    writer.write(
        f"HTTP/1.1 {status}\r\nContent-Length: 0\r\nAccess-Control-Allow-Origin: *\r\n"
        "Connection: close\r\n\r\n".encode()
    )
    await writer.drain()


def tls_context(certificate: Path, key: Path) -> ssl.SSLContext:
    """Return the context that serves with this certificate."""
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.load_cert_chain(certificate, key)
    return context
