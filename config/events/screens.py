"""The open pages, by build."""

from __future__ import annotations

import asyncio
from collections import defaultdict

from config.events.channel import Change, OpenRow

# A page that has not taken this much is gone or asleep; it comes back by itself and is told anew.
MOST_WAITING_BYTES = 64 * 1024
STILL_HERE = b": still here\n\n"


class Screens:
    """Who listens to which build."""

    def __init__(self) -> None:
        self._writers: dict[str, set[asyncio.StreamWriter]] = defaultdict(set)

    def add(self, build: str, writer: asyncio.StreamWriter) -> None:
        """Count a page in."""
        self._writers[build].add(writer)

    def remove(self, build: str, writer: asyncio.StreamWriter) -> None:
        """Count a page out."""
        self._writers[build].discard(writer)
        if not self._writers[build]:
            del self._writers[build]

    def builds(self) -> list[str]:
        """Return the builds somebody looks at."""
        return sorted(self._writers)

    def tell(self, change: Change | OpenRow) -> None:
        """Send news to the pages of its build."""
        self._send(self._writers.get(change.build, ()), change.as_event())

    def tell_all_still_here(self) -> None:
        """Send every page the line that keeps its connection from being taken for dead."""
        for writers in self._writers.values():
            self._send(writers, STILL_HERE)

    def hang_up(self) -> None:
        """End every page's connection; each comes back by itself when there is a server again."""
        for writers in self._writers.values():
            for writer in writers:
                writer.transport.abort()

    def _send(self, writers: set[asyncio.StreamWriter] | tuple[()], data: bytes) -> None:
        for writer in writers:
            if writer.transport.get_write_buffer_size() > MOST_WAITING_BYTES:
                writer.transport.abort()
            else:
                writer.write(data)
