"""Starts a shop, restarts what falls, stops all. Whatever ends this process ends the others too."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path
from types import FrameType

from config.data_folder import DataFolder
from config.embedded.plain_errors import PlainError
from config.supervisor.children import Address, Child, children_for, wait_until_answering
from config.supervisor.preflight import LEAST_FREE_MB, free_mb, require_free_port
from config.supervisor.servers import Servers

LOOK_EVERY_S = 0.5
MOST_FALLS = 5
FALLS_WINDOW_S = 60.0
PORT_PATIENCE_S = 1.0  # a killed run is gone by then; its last socket may not be


class StopAsked(BaseException):
    """Raised in the main thread by Ctrl-C, SIGTERM or a closed terminal."""


class Shop:
    """Everything that runs for one shop on this machine."""

    def __init__(self, folder: DataFolder, environment: dict[str, str], address: Address) -> None:
        self.folder = folder
        self.address = address
        self.servers = Servers(folder, environment)
        self.children: list[Child] = children_for(address, beat_schedule=folder.path / "beat-schedule")
        self._given = environment
        self._is_full = False

    def __enter__(self) -> Shop:
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, _raise_stop)
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> bool:
        self.stop()
        return kind is StopAsked

    def start_servers(self) -> None:
        """Take the folder, start database and broker, bring the tables up to date."""
        description = f"process {os.getpid()}, {self.address.url}"
        if not self.servers.open(description=description):
            raise PlainError(
                f"Baywright already runs on {self.folder.path} ({self.servers.lock.holder()}). "
                "Use that one, stop it with Ctrl-C, or set BAYWRIGHT_DATA to another folder."
            )
        for port in (self.address.port, self.address.events_port):
            require_free_port(self.address.host, port, option="--port", patience_s=PORT_PATIENCE_S)
        say(f"Starting {' and '.join(self.servers.names()) or 'on the servers that are named'} …")
        self.servers.start()
        say("Bringing the tables up to date …")
        self.servers.migrate()

    def start_pages(self) -> None:
        """Start the pages, the worker, the clock and the live screens; return when pages answer."""
        say("Starting pages and worker …")
        for child in self.children:
            child.start(environment=self.environment(), logs=self.folder.logs)
        web = self.children[0]
        wait_until_answering(self.address, web, log=self.log_of(web))

    def environment(self) -> dict[str, str]:
        """Return the environment of the processes; the hosts the caller named himself stay."""
        values = {**self.servers.environment(), **self.address.environment()}
        if "ALLOWED_HOSTS" in self._given:
            values["ALLOWED_HOSTS"] = self._given["ALLOWED_HOSTS"]
        return values

    def log_of(self, child: Child) -> Path:
        """Return the log file of a child."""
        return self.folder.logs / f"{child.name}.log"

    def watch(self) -> None:
        """Restart what falls, until asked to stop."""
        while True:
            time.sleep(LOOK_EVERY_S)
            self.look_once()

    def look_once(self) -> None:
        """Start again what has fallen since the last look, and say when the disk runs full."""
        self._look_at_disk()
        for name in self.servers.restart_fallen():
            say(f"The {name} had ended and was started again.")
        for child in self.children:
            if child.has_fallen():
                self._restart(child)

    def _look_at_disk(self) -> None:
        left_mb = free_mb(self.folder.path)
        if left_mb is None or (left_mb < LEAST_FREE_MB) == self._is_full:
            return
        self._is_full = not self._is_full
        if self._is_full:
            say(
                f"The disk that holds {self.folder.path} has {left_mb} MB left. Free some space there: "
                "soon nothing more can be kept, and pages will say so."
            )
        else:
            say(f"The disk that holds {self.folder.path} has room again ({left_mb} MB).")

    def _restart(self, child: Child) -> None:
        now = time.monotonic()
        child.falls = [*(then for then in child.falls if now - then < FALLS_WINDOW_S), now]
        if len(child.falls) >= MOST_FALLS:
            raise PlainError(
                f"The {child.name} process ended {MOST_FALLS} times within a minute. "
                f"The reason is in {self.log_of(child)}."
            )
        say(f"The {child.name} process had ended and was started again.")
        child.stop()
        child.start(environment=self.environment(), logs=self.folder.logs)

    def stop(self) -> None:
        """Stop the pages first, then the worker, the broker, and the database last."""
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, signal.SIG_IGN)
        for child in self.children:
            child.ask_to_stop()
        for child in self.children:
            child.stop()
        self.servers.stop()


def _raise_stop(number: int, frame: FrameType | None) -> None:
    raise StopAsked


def say(text: str) -> None:
    """Print a line at once. A terminal that has gone away is no reason to fall."""
    try:
        print(text, flush=True)
    except (BrokenPipeError, OSError):
        sys.stdout = Path(os.devnull).open("w")  # noqa: SIM115  (stays open to the end)
