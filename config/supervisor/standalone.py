"""The servers for the length of one Django command, on a machine where nothing else is named."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

from config.data_folder import DataFolder, data_folder
from config.supervisor.servers import Servers

# These make or fill the tables themselves.
NEEDS_NO_TABLES = frozenset({"migrate"})


@contextmanager
def servers_for_a_command(name: str) -> Iterator[None]:
    """
    Have the servers up while the Django command `name` runs, and put their addresses into `os.environ`.

    A run that has them up already is used; a served database needs nothing from here.
    """
    if os.environ.get("DATABASE_URL"):
        yield
        return
    servers = Servers(DataFolder(data_folder()), os.environ)
    started = servers.open(description=f"process {os.getpid()}, the command {name}")
    try:
        if started:
            servers.start()
            if servers.are_tables_behind and name not in NEEDS_NO_TABLES:
                servers.migrate()
        as_owner = name == "migrate"
        os.environ.update(servers.owner_environment() if as_owner else servers.environment())
        yield
    finally:
        if started:
            servers.stop()
