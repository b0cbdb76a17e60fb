"""What the database refused, by the name of the constraint: services turn it into words where they know what it means."""

import errno

from django.db import DatabaseError, DataError, connection

from builds.errors import BadInput, NoRoom

__all__ = ["check_constraints_now", "constraint_of", "no_room", "put_constraints_off", "unkeepable_text"]

_DISK_FULL = "53100"  # SQLSTATE of PostgreSQL, appendix A of its manual


def constraint_of(error: DatabaseError) -> str:
    """Return the name of the constraint that refused, or an empty text where the database named none."""
    cause = error.__cause__
    diag = getattr(cause, "diag", None)
    return str(getattr(diag, "constraint_name", None) or "")


def unkeepable_text(error: BaseException) -> BadInput | None:
    """Return words for a text with a NUL character, which no column can keep and no name holds; nothing for other errors."""
    if isinstance(error, DataError) and "NUL" in str(error):
        return BadInput({}, "A text holds a NUL character, which cannot be kept. Take it out and send it again.")
    return None


def no_room(error: BaseException) -> NoRoom | None:
    """Return words for a full disk, the database's or that of the files; nothing for other errors."""
    if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT):
        return NoRoom()
    if isinstance(error, DatabaseError) and getattr(error.__cause__, "sqlstate", None) == _DISK_FULL:
        return NoRoom()
    return None


def put_constraints_off(*names: str) -> None:
    """Let these deferrable constraints wait, whatever an earlier service in this transaction has set."""
    _set(names, "deferred")


def check_constraints_now(*names: str) -> None:
    """Check these deferrable constraints here rather than at commit, where no one could explain a refusal."""
    _set(names, "immediate")


def _set(names: tuple[str, ...], mode: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"set constraints {', '.join(map(connection.ops.quote_name, names))} {mode}")
