"""The exception for faults of the machine, worded for whoever sits in front of it."""

from __future__ import annotations

import errno
from pathlib import Path


class PlainError(Exception):
    """A fault that one sentence explains: what is wrong and what to do. Shown without a traceback."""

    def __init__(self, sentence: str, *, exit_status: int = 1) -> None:
        super().__init__(sentence)
        self.exit_status = exit_status


def explain_os_error(error: OSError, *, path: Path | str | None = None) -> PlainError:
    """Return the plain sentence for an operating-system fault on `path`."""
    where = str(path or error.filename or "a file Baywright needs")
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return PlainError(
            f"There is no room left on the disk that holds {where}. Free some space there, "
            "or set BAYWRIGHT_DATA to a folder on another disk, and start again."
        )
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return PlainError(
            f"Baywright may not write to {where}. Make that folder writable for this account, "
            "or set BAYWRIGHT_DATA to a folder that is."
        )
    reason = (error.strerror or type(error).__name__).lower()
    return PlainError(f"The system answered “{reason}” for {where}. Put that right and start again.")
