"""`events`: the process that tells open screens of changes."""

from __future__ import annotations

import asyncio
import contextlib
import signal
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from config.events.listener import Listener, connection_parameters
from config.events.server import EventServer, tls_context


class Command(BaseCommand):
    """Serves one stream of changes per open page."""

    help = "Tell open screens of changes to their build (server-sent events)."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        """Where to listen."""
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=settings.EVENTS_PORT or 8001)
        parser.add_argument("--tls", nargs=2, type=Path, metavar=("CERT", "KEY"))

    def handle(self, *args: Any, **options: Any) -> None:
        """Serve until asked to stop."""
        tls = tls_context(*options["tls"]) if options["tls"] else None
        listener = Listener(connection_parameters(settings.DATABASES["default"]))
        try:
            asyncio.run(serve(EventServer(listener), options["host"], options["port"], tls))
        except OSError as error:
            raise CommandError(
                f"Cannot listen on {options['host']} port {options['port']}: {error.strerror}. "
                "Choose another with --port."
            ) from error


async def serve(server: EventServer, host: str, port: int, tls: Any) -> None:
    """Serve until SIGTERM or SIGINT."""
    task = asyncio.ensure_future(server.run(host=host, port=port, tls=tls))
    loop = asyncio.get_running_loop()
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, task.cancel)
    with contextlib.suppress(asyncio.CancelledError):
        await task
