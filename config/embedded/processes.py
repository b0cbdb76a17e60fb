"""Start children that end when the process that started them ends, however it ends."""

from __future__ import annotations

import ctypes
import os
import signal
import subprocess
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import IO

PR_SET_PDEATHSIG = 1
_libc = ctypes.CDLL(None, use_errno=True)


def end_with_parent(signal_number: int, *, parent_pid: int) -> None:
    """
    Ask the kernel to send this process `signal_number` when its parent dies.

    Called in the child after any change of user, because a change of user clears the request.
    The parent may already be gone by then: that is looked at afterwards.
    """
    _libc.prctl(PR_SET_PDEATHSIG, signal_number, 0, 0, 0)
    if os.getppid() != parent_pid:
        os.kill(os.getpid(), signal.SIGKILL)


def start_child(
    command: Sequence[str | Path],
    *,
    log: IO[bytes] | int,
    environment: Mapping[str, str] | None = None,
    folder: Path | None = None,
    death_signal: int = signal.SIGTERM,
    become: Callable[[], None] | None = None,
) -> subprocess.Popen[bytes]:
    """
    Start `command` in a session of its own and return it.

    `death_signal` reaches the child when this process dies; `become` changes the child's user first.
    Call it from the main thread only: the kernel watches the thread that started the child.
    """
    parent_pid = os.getpid()

    def prepare() -> None:
        if become is not None:
            become()
        end_with_parent(death_signal, parent_pid=parent_pid)

    return subprocess.Popen(
        [str(part) for part in command],
        stdin=subprocess.DEVNULL,
        stdout=log,
        stderr=subprocess.STDOUT,
        env=None if environment is None else dict(environment),
        cwd=folder,
        start_new_session=True,
        preexec_fn=prepare,  # noqa: PLW1509  (called before any thread is started)
    )


def stop_child(child: subprocess.Popen[bytes], *, stop_signal: int = signal.SIGTERM, patience_s: float = 10.0) -> None:
    """Ask a child to stop, and kill it when it has not within `patience_s` seconds."""
    if child.poll() is not None:
        return
    child.send_signal(stop_signal)
    try:
        child.wait(patience_s)
    except subprocess.TimeoutExpired:
        child.kill()
        child.wait()


def await_group(child: subprocess.Popen[bytes], *, patience_s: float) -> None:
    """
    Wait for a child that was asked to stop, kill it when it has not within `patience_s` seconds, and
    kill what it leaves.

    Until the child is waited for, the number of its group cannot become anybody else's: so nothing
    here may look at it in a way that takes its exit status (`poll`, `send_signal`) before the end.
    """
    if child.returncode is not None:
        return
    deadline = time.monotonic() + patience_s
    while not _has_ended(child) and time.monotonic() < deadline:
        time.sleep(0.02)
    os.killpg(child.pid, signal.SIGKILL)
    child.wait()


def _has_ended(child: subprocess.Popen[bytes]) -> bool:
    return os.waitid(os.P_PID, child.pid, os.WEXITED | os.WNOHANG | os.WNOWAIT) is not None


def processes_working_in(folder: Path) -> list[int]:
    """Return the live processes whose working folder is `folder`, as far as this account may see."""
    return [pid for pid in _live_processes() if _folder_of(pid) == os.path.realpath(folder)]


def processes_marked(name: str, value: str) -> list[int]:
    """Return the live processes, this one apart, that were started with `name=value`."""
    mark = f"{name}={value}".encode()
    found = []
    for pid in _live_processes():
        try:
            environment = Path(f"/proc/{pid}/environ").read_bytes()
        except OSError:  # gone meanwhile, or not ours to look at
            continue
        if pid != os.getpid() and mark in environment.split(b"\0"):
            found.append(pid)
    return found


def wait_until_gone(look: Callable[[], list[int]], *, patience_s: float) -> list[int]:
    """Wait until `look` finds no process and return those that are still there in the end."""
    deadline = time.monotonic() + patience_s
    while (found := look()) and time.monotonic() < deadline:
        time.sleep(0.05)
    return found


def _live_processes() -> list[int]:
    return [int(entry.name) for entry in Path("/proc").iterdir() if entry.name.isdigit()]


def _folder_of(pid: int) -> str:
    try:
        return str(Path(f"/proc/{pid}/cwd").readlink())
    except OSError:  # gone meanwhile, or not ours to look at
        return ""
