"""
What can go wrong when someone asks for a change, each with a code, words for a person, and the fields concerned.

::

    BuildError
    ├── BadInput            a value that cannot be taken; ``fields`` says which and why
    ├── RowsRefused         cells of several rows that cannot be taken, each with its words
    │   └── DocumentRefused a build document with faults, each at its pointer
    ├── NotAllowed          this person may not do this
    ├── NotHere             there is no such thing (or not for this person)
    ├── StaleRow            someone else changed it first; carries both values by field
    ├── GuardRefused        the life of a build does not allow this step yet; says what is missing
    ├── HandsOn             a hold point refused to someone who worked on what it covers
    ├── Taken               a bay place, a vehicle or a name that is already taken
    └── NoRoom              the disk is full

Edges translate them once: forms to words at the field, the API to its error body, commands to one line.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

__all__ = [
    "BadInput",
    "BuildError",
    "CellFault",
    "DocumentRefused",
    "FieldConflict",
    "GuardRefused",
    "HandsOn",
    "Meanwhile",
    "NoRoom",
    "NotAllowed",
    "NotHere",
    "Occupied",
    "RowsRefused",
    "StaleRow",
    "Taken",
]


class BuildError(Exception):
    """A change that was not made; nothing of it is saved."""

    code = "refused"
    status = 422

    def __init__(self, message: str, *, fields: Mapping[str, str] | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.fields: dict[str, str] = dict(fields or {})


class BadInput(BuildError):
    """One or more values cannot be taken."""

    code = "bad-input"

    def __init__(self, fields: Mapping[str, str], message: str = "") -> None:
        super().__init__(message or "; ".join(fields.values()), fields=fields)


@dataclass(frozen=True, slots=True)
class CellFault:
    """One cell of a table that cannot be taken: the row's key, the document's name of the field, and the words."""

    key: str
    field: str
    words: str


class RowsRefused(BuildError):
    """Cells of several rows cannot be taken, or (``stale``) were changed by someone else; none was kept."""

    code = "rows-refused"

    def __init__(self, message: str, *, cells: tuple[CellFault, ...], stale: bool = False) -> None:
        super().__init__(message, fields={f"{cell.key} {cell.field}": cell.words for cell in cells})
        self.cells = cells
        self.stale = stale
        self.status = 409 if stale else 422


class DocumentRefused(BadInput):
    """A build document with faults; ``fields`` maps JSON pointers to words."""

    code = "document-refused"


class NotAllowed(BuildError):
    """The person who asks may not do it."""

    code = "not-allowed"
    status = 403


class NotHere(BuildError):
    """There is no such thing."""

    code = "not-here"
    status = 404


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldConflict:
    """One field that both people changed, with both values in words."""

    field: str
    yours: str
    theirs: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Meanwhile:
    """
    One field that someone else changed while a person had the row open, with both values in words; no error by itself.

    ``row`` is the row's address ("circuit:203"), ``by`` who changed it last, ``values`` both values as the document has them.
    """

    field: str
    was: str
    now: str
    row: str = ""
    by: str = ""
    values: tuple[Any, Any] = (None, None)


class StaleRow(BuildError):
    """Someone else changed the row first; ``conflicts`` holds both values and ``row_version`` the newest version."""

    code = "stale-row"
    status = 409

    def __init__(self, message: str, *, conflicts: tuple[FieldConflict, ...], row_version: int) -> None:
        super().__init__(message, fields={item.field: item.theirs for item in conflicts})
        self.conflicts = conflicts
        self.row_version = row_version


class GuardRefused(BuildError):
    """A move that the life of a build does not allow yet; ``missing`` names the guards by id."""

    code = "guard-refused"
    status = 409

    def __init__(self, message: str, *, missing: tuple[str, ...]) -> None:
        super().__init__(message)
        self.missing = missing


class HandsOn(BuildError):
    """A hold point refused to someone who worked on what it covers."""

    code = "hands-on"
    status = 409


class Taken(BuildError):
    """A place, a vehicle or a name that is already taken."""

    code = "taken"
    status = 409


class Occupied(Taken):
    """A bay in which the record still has another vehicle; ``number`` is the build that stands there."""

    code = "occupied"

    def __init__(self, message: str, number: str) -> None:
        super().__init__(message)
        self.number = number


class NoRoom(BuildError):
    """The disk is full; nothing more can be kept until someone frees some of it."""

    code = "no-room"
    status = 507

    def __init__(self) -> None:
        super().__init__(
            "The disk of the shop's computer is full, so nothing of this was kept. Free some space on it, then do this again."
        )
