"""The processes that use the servers: pages, worker, clock, live screens."""

from __future__ import annotations

import os
import signal
import socket
import ssl
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from config.data_folder import CHECKOUT
from config.embedded.plain_errors import PlainError
from config.embedded.processes import await_group, start_child

LARGEST_LOG_BYTES = 10_000_000
LOOPBACK = ("127.0.0.1", "localhost", "::1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """Where the pages are served, and the live screens' stream beside them."""

    host: str
    port: int
    certificate: Path | None = None
    key: Path | None = None

    @property
    def events_port(self) -> int:
        """The stream's port is the next one."""
        return self.port + 1

    @property
    def scheme(self) -> str:
        """Http, or https with a certificate."""
        return "https" if self.certificate else "http"

    @property
    def url(self) -> str:
        """The address to type into a browser on this machine."""
        everywhere = self.host in ("0.0.0.0", "::")  # noqa: S104
        name = "127.0.0.1" if everywhere else self.host
        return f"{self.scheme}://{f'[{name}]' if ':' in name else name}:{self.port}/"

    def environment(self) -> dict[str, str]:
        """Return what the settings have to know of it."""
        values = {"EVENTS_PORT": str(self.events_port)}
        if self.certificate:
            values["HTTPS"] = "yes"
        if self.host not in LOOPBACK:
            values["ALLOWED_HOSTS"] = ",".join([*LOOPBACK[:2], "[::1]", *names_of_this_machine(self.host)])
        return values


def names_of_this_machine(host: str) -> list[str]:
    """Return the names under which other machines may ask for this one."""
    names = {socket.gethostname(), socket.getfqdn(), f"{socket.gethostname()}.local"}
    if host not in ("0.0.0.0", "::"):  # noqa: S104
        return sorted({host, *names})
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # sends nothing: it only asks for the way out
            names.add(probe.getsockname()[0])
        except OSError:  # no network: this machine's names are enough
            pass
    return sorted(names)


class Child:
    """One long-running process: its command, its log, and how often it fell lately."""

    def __init__(
        self,
        name: str,
        command: list[str],
        *,
        stop_signal: int = signal.SIGTERM,
        death_signal: int = signal.SIGTERM,
        patience_s: float = 12.0,
    ) -> None:
        self.name = name
        self.command = command
        self.stop_signal = stop_signal
        self.death_signal = death_signal
        self.patience_s = patience_s
        self.process: subprocess.Popen[bytes] | None = None
        self.falls: list[float] = []
        self.asked = False

    def start(self, *, environment: Mapping[str, str], logs: Path) -> None:
        """Start the process, its output going to its log."""
        self.asked = False
        path = logs / f"{self.name}.log"
        if path.exists() and path.stat().st_size > LARGEST_LOG_BYTES:
            path.replace(path.with_suffix(".log.before"))
        with path.open("ab") as stream:
            self.process = start_child(
                self.command,
                log=stream,
                environment=environment,
                folder=CHECKOUT,
                death_signal=self.death_signal,
            )

    def has_fallen(self) -> bool:
        """Return whether the process ended without having been asked to."""
        return self.process is not None and self.process.poll() is not None

    def ask_to_stop(self) -> None:
        """Send the stop signal, once, and return at once."""
        if self.process is not None and self.process.returncode is None and not self.asked:
            os.kill(self.process.pid, self.stop_signal)
            self.asked = True

    def stop(self) -> None:
        """Stop the process, its own children with it."""
        self.ask_to_stop()
        if self.process is not None:
            await_group(self.process, patience_s=self.patience_s)
            self.process = None


def children_for(address: Address, *, beat_schedule: Path) -> list[Child]:
    """Return the processes of one run."""
    return [
        Child("web", web_command(address)),
        Child("events", events_command(address)),
        # Killed outright with the supervisor: a render that is cut off is claimed again after its
        # lease, and a worker that finishes its task first would keep the next start waiting.
        Child("worker", worker_command(), death_signal=signal.SIGKILL, patience_s=20.0),
        Child("beat", beat_command(beat_schedule), death_signal=signal.SIGKILL),
    ]


def web_command(address: Address) -> list[str]:
    """Return the web server's command line."""
    host = f"[{address.host}]" if ":" in address.host else address.host
    command = [
        *(sys.executable, "-m", "gunicorn", "config.wsgi:application"),
        *("--bind", f"{host}:{address.port}"),
        *("--config", "python:config.web_server"),
    ]
    if address.certificate and address.key:
        command += ["--certfile", str(address.certificate), "--keyfile", str(address.key)]
    return command


def events_command(address: Address) -> list[str]:
    """Return the command line of the live screens' process."""
    command = [
        *(sys.executable, "manage.py", "events"),
        *("--host", address.host, "--port", str(address.events_port)),
    ]
    if address.certificate and address.key:
        command += ["--tls", str(address.certificate), str(address.key)]
    return command


def worker_command() -> list[str]:
    """Return the worker's command line."""
    return [
        *(sys.executable, "-m", "celery", "--app", "config.celery", "worker"),
        *("--concurrency", "2", "--max-tasks-per-child", "20"),
        *("--without-gossip", "--without-mingle", "--loglevel", "INFO"),
    ]


def beat_command(schedule: Path) -> list[str]:
    """Return the clock's command line."""
    return [
        *(sys.executable, "-m", "celery", "--app", "config.celery", "beat"),
        *("--schedule", str(schedule), "--loglevel", "WARNING"),
    ]


def wait_until_answering(address: Address, web: Child, *, log: Path, patience_s: float = 60.0) -> None:
    """Return when the pages answer, or say where to look."""
    trusting = ssl._create_unverified_context() if address.certificate else None  # noqa: S323
    deadline = time.monotonic() + patience_s
    while time.monotonic() < deadline and not web.has_fallen():
        try:
            with urllib.request.urlopen(  # noqa: S310  (our own address)
                f"{address.url}health/", timeout=5, context=trusting
            ):
                return
        except urllib.error.HTTPError as error:
            raise PlainError(f"The pages answer with fault {error.code}. The reason is in {log}.") from error
        except OSError:
            time.sleep(0.05)
    raise PlainError(f"The web process did not start. Its last words are in {log}.")
