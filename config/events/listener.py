"""Hears the database's notifications, and comes back when the connection is lost."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import psycopg
import structlog
from psycopg import sql

from builds.selectors.event_stream import CHANNEL
from config.events.channel import Change, OpenRow, read_notification

log = structlog.get_logger(__name__)
COME_BACK_AFTER_S = 1.0
CURRENT_VERSIONS = "SELECT number, design_version FROM builds_build WHERE number = ANY(%s)"


def connection_parameters(settings_dict: Mapping[str, Any]) -> dict[str, Any]:
    """Return psycopg's parameters for Django's connection settings."""
    known = {
        "host": settings_dict["HOST"],
        "port": settings_dict["PORT"],
        "dbname": settings_dict["NAME"],
        "user": settings_dict["USER"],
        "password": settings_dict["PASSWORD"],
        **settings_dict["OPTIONS"],
    }
    return {name: value for name, value in known.items() if value not in ("", None)}


class Listener:
    """One connection that waits for changes and answers which version a build has."""

    def __init__(self, parameters: Mapping[str, Any]) -> None:
        self._parameters = dict(parameters)

    async def versions(self, builds: Sequence[str]) -> list[Change]:
        """Return the present version of each of `builds` that exists."""
        async with await self._connect() as connection:
            cursor = await connection.execute(CURRENT_VERSIONS, [list(builds)])
            rows = await cursor.fetchall()
        return [Change(build=number, design_version=version) for number, version in rows]

    async def listen(self, *, tell: Callable[[Change | OpenRow], None], watched: Callable[[], Sequence[str]]) -> None:
        """
        Pass each change to `tell`, for ever.

        What was notified while there was no connection is lost; after coming back the present version
        of every build in `watched` is told instead.
        """
        while True:
            try:
                await self._listen_once(tell=tell, watched=watched)
            except psycopg.OperationalError as error:
                log.warning("database connection lost", reason=str(error).strip())
            await asyncio.sleep(COME_BACK_AFTER_S)

    async def _listen_once(
        self, *, tell: Callable[[Change | OpenRow], None], watched: Callable[[], Sequence[str]]
    ) -> None:
        async with await self._connect() as connection:
            await connection.execute(sql.SQL("LISTEN {}").format(sql.Identifier(CHANNEL)))
            if builds := watched():
                for change in await self.versions(builds):
                    tell(change)
            async for notification in connection.notifies():
                heard = read_notification(notification.payload)
                if heard is not None:
                    tell(heard)

    async def _connect(self) -> psycopg.AsyncConnection[Any]:
        return await psycopg.AsyncConnection.connect(**self._parameters, autocommit=True)
