"""Database and broker in the data folder, under its lock, unless the environment names others."""

from __future__ import annotations

import hashlib
import os
import signal
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

from config.data_folder import CHECKOUT, DataFolder
from config.embedded.folders import FolderLock
from config.embedded.plain_errors import PlainError
from config.embedded.postgres import DATABASE_NAME
from config.embedded.processes import processes_marked, start_child, wait_until_gone
from config.supervisor.preflight import require_disk_space

RUN_MARK = "BAYWRIGHT_RUN"
LEFTOVER_PATIENCE_S = 8.0
CONNECT_PATIENCE_S = 5


class Servers:
    """The servers of one run, and what its other processes have to know of them."""

    def __init__(self, folder: DataFolder, environment: Mapping[str, str]) -> None:
        self.folder = folder
        self.lock = FolderLock(folder.lock)
        self._given = dict(environment)
        self.cluster = None if environment.get("DATABASE_URL") else folder.cluster()
        self.broker = None if environment.get("BROKER_URL") else folder.broker()
        self.is_new = False

    def open(self, *, description: str) -> bool:
        """Make the folder and take its lock; return False when another run has it."""
        self.folder.make()
        if not self.lock.acquire():
            return False
        require_disk_space(self.folder.path)
        self.lock.describe(description)
        self._clear_leftovers()
        return True

    def _clear_leftovers(self) -> None:
        """Processes of a killed run end by themselves; one that does not is ended here."""
        mark = str(self.folder.path)

        def look() -> list[int]:
            return processes_marked(RUN_MARK, mark)

        for pid in wait_until_gone(look, patience_s=LEFTOVER_PATIENCE_S):
            os.kill(pid, signal.SIGKILL)

    def names(self) -> list[str]:
        """Return which servers are this run's own."""
        return [name for name, server in (("database", self.cluster), ("broker", self.broker)) if server]

    def start(self) -> None:
        """Start what the environment does not name, the database made first if need be."""
        if self.broker:
            self.broker.start(log=self.log("broker"))
        else:
            require_broker(self._given["BROKER_URL"])
        if self.cluster:
            self._start_database()
        else:
            require_database(self._given["DATABASE_URL"])

    def _start_database(self) -> None:
        assert self.cluster is not None
        log = self.log("database")
        if not self.cluster.exists():
            self.is_new = True
            password = self.folder.owner_secrets()["database_password"]
            self.cluster.make(owner_password=password, log=log)
        self.cluster.start(log=log)
        self._ensure_database()

    def _ensure_database(self) -> None:
        from config.postgresql import ensure_database

        ensure_database(self.folder.owner_url("postgres"), name=DATABASE_NAME)

    def restart_fallen(self) -> list[str]:
        """Start a server again that ended by itself, and return the names of those."""
        fallen = []
        if self.broker and self.broker.process and self.broker.process.poll() is not None:
            self.broker.start(log=self.log("broker"))
            fallen.append("broker")
        if self.cluster and self.cluster.process and self.cluster.process.poll() is not None:
            self.cluster.start(log=self.log("database"))
            fallen.append("database")
        return fallen

    def environment(self) -> dict[str, str]:
        """Return the environment of the pages and the worker: the owner's password is not in it."""
        values = {
            name: value
            for name, value in self._given.items()
            if name not in ("DATABASE_OWNER_URL", "PYTHONHOME", "PYTHONPATH")
        }
        if self.cluster:
            values["DATABASE_URL"] = self.folder.app_url()
        if self.broker:
            values["BROKER_URL"] = self.broker.url
        if self.cluster or not values.get("SECRET_KEY"):
            values.setdefault("SECRET_KEY", self.folder.app_secrets()["secret_key"])
        values["BAYWRIGHT_DATA"] = str(self.folder.path)
        values["DJANGO_SETTINGS_MODULE"] = "config.settings"
        values["PYTHONUNBUFFERED"] = "1"
        values[RUN_MARK] = str(self.folder.path)
        return values

    def owner_environment(self) -> dict[str, str]:
        """Return the environment of `migrate`."""
        values = self.environment()
        if self.cluster:
            values["DATABASE_OWNER_URL"] = self.folder.owner_url()
        elif "DATABASE_OWNER_URL" in self._given:
            values["DATABASE_OWNER_URL"] = self._given["DATABASE_OWNER_URL"]
        return values

    def migrate(self) -> None:
        """Bring the tables up to date, as their owner; a served database only if its owner is named."""
        if self.cluster is None and "DATABASE_OWNER_URL" not in self._given:
            return
        log = self.log("migrate")
        with log.open("wb") as stream:
            child = start_child(
                [sys.executable, "manage.py", "migrate", "--verbosity", "1"],
                log=stream,
                environment=self.owner_environment(),
                folder=CHECKOUT,
                death_signal=signal.SIGTERM,
            )
        if wait_for(child) != 0:
            raise PlainError(f"The tables could not be brought up to date. {last_words(log)}")
        self._stamp.write_text(_digest_of_tables())

    @property
    def are_tables_behind(self) -> bool:
        """Whether this program's tables are others than those last brought up to date here."""
        return not self._stamp.exists() or self._stamp.read_text() != _digest_of_tables()

    @property
    def _stamp(self) -> Path:
        return self.folder.path / "tables"

    def log(self, name: str) -> Path:
        """Return the log file of the process `name`."""
        return self.folder.logs / f"{name}.log"

    def stop(self) -> None:
        """Stop both servers and let go of the lock."""
        if self.broker:
            self.broker.stop()
        if self.cluster:
            self.cluster.stop()
        self.lock.release()


def require_database(url: str) -> None:
    """Raise PlainError when the served database does not answer or is too old."""
    import psycopg

    from config.postgresql import require_supported_version

    try:
        with psycopg.connect(url, connect_timeout=CONNECT_PATIENCE_S) as connection:
            require_supported_version(connection.info.server_version)
    except psycopg.Error as error:
        reason = str(error).strip().splitlines()[0].strip().rstrip(".")
        raise PlainError(
            f"The database that DATABASE_URL names does not let us in: {reason}. "
            "Start it, or correct the address, or unset DATABASE_URL to use the one that comes along."
        ) from error


def require_broker(url: str) -> None:
    """Raise PlainError when the served broker does not answer."""
    from kombu import Connection
    from kombu.exceptions import KombuError

    try:
        with Connection(url, connect_timeout=CONNECT_PATIENCE_S) as connection:
            connection.ensure_connection(max_retries=1, timeout=CONNECT_PATIENCE_S)
    except (OSError, KombuError, ValueError, KeyError) as error:
        raise PlainError(
            f"The broker that BROKER_URL names does not answer: {error}. "
            "Start it, or correct the address, or unset BROKER_URL to use the one that comes along."
        ) from error


def wait_for(child: subprocess.Popen[bytes]) -> int:
    """Return the exit status of a child; whatever interrupts the wait ends it."""
    try:
        return child.wait()
    except BaseException:
        child.kill()
        child.wait()
        raise


def last_words(log: Path) -> str:
    """Return the last line of a log with the place of the rest, in a sentence."""
    with log.open(errors="replace") as stream:
        lines = [line.strip() for line in stream if line.strip()]
    if any("No space left on device" in line for line in lines[-40:]):
        return f"There is no room left on the disk; the log is {log}."
    last = f"“{lines[-1][:300]}” " if lines else ""
    return f"{last}The whole log is {log}."


def _digest_of_tables() -> str:
    """Return a digest of all that tables and the database's own rules are made from."""
    digest = hashlib.sha256()
    for path in sorted((*CHECKOUT.glob("*/migrations/*.py"), *CHECKOUT.glob("config/database/*.*"))):
        digest.update(path.read_bytes())
    return digest.hexdigest()
