"""The data folder, the lock that keeps two runs out of it, and a short folder for its sockets."""

from __future__ import annotations

import fcntl
import hashlib
import os
import stat
import tempfile
from pathlib import Path
from types import TracebackType
from typing import Self

from config.embedded.plain_errors import PlainError, explain_os_error

# sun_path holds 108 bytes, one of them for the closing zero; the longest name put in it is
# "/postgres/.s.PGSQL.5432.lock".
LONGEST_SOCKET_FOLDER = 107 - len("/postgres/.s.PGSQL.5432.lock")


def make_folder(path: Path, *, mode: int = 0o700) -> Path:
    """Create `path` with exactly `mode`, or say in a sentence why it cannot be."""
    try:
        path.mkdir(parents=True, exist_ok=True)
        if stat.S_IMODE(path.stat().st_mode) != mode:
            path.chmod(mode)
        if not os.access(path, os.W_OK | os.X_OK):
            raise PermissionError(13, "permission denied", str(path))
    except OSError as error:
        raise explain_os_error(error, path=path) from error
    return path


def socket_folder(data: Path) -> Path:
    """
    Return the folder for the sockets of `data`: inside it, or where that is too deep, a short one.

    The short one has a name derived from the data folder, so that every process finds the same.
    """
    inside = data / "run"
    if len(os.fsencode(inside)) <= LONGEST_SOCKET_FOLDER:
        return inside
    name = hashlib.sha256(os.fsencode(data)).hexdigest()[:12]
    return Path(tempfile.gettempdir()) / f"baywright-{os.geteuid()}-{name}"


def make_socket_folder(data: Path) -> Path:
    """Create the socket folder of `data`, refusing one that somebody else put there first."""
    folder = socket_folder(data)
    if folder.is_symlink() or (folder.exists() and folder.stat().st_uid != os.geteuid()):
        raise PlainError(
            f"{folder} belongs to somebody else, and Baywright wants to keep its sockets there. "
            "Remove it, or set BAYWRIGHT_DATA to a folder with a shorter path."
        )
    return make_folder(folder, mode=0o711)


class FolderLock:
    """
    Held while a run uses a data folder.

    The kernel lets go of it when the holder dies, so a killed run never blocks the next one. The
    holder writes a line about itself into the file, for the message the second run prints.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._descriptor: int | None = None

    def acquire(self) -> bool:
        """Take the lock if it is free and return whether it was."""
        try:
            descriptor = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        except OSError as error:
            raise explain_os_error(error, path=self.path) from error
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(descriptor)
            return False
        self._descriptor = descriptor
        return True

    def describe(self, text: str) -> None:
        """Leave a line about the holder in the lock file."""
        assert self._descriptor is not None
        os.ftruncate(self._descriptor, 0)
        os.pwrite(self._descriptor, text.encode(), 0)

    def holder(self) -> str:
        """Return the line the holder left, or an empty text."""
        try:
            return self.path.read_text().strip()
        except OSError:
            return ""

    def release(self) -> None:
        """Let go."""
        if self._descriptor is not None:
            os.close(self._descriptor)
            self._descriptor = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.release()
