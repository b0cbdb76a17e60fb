"""
Changes applied to a design: what a proposed fix does when somebody presses it, without a database.

A change names one part as "family:key" and one field of its dataclass. A changed value goes through the same range
checks as a typed one, because the part is made anew.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

from builds.engineering.design import Design
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.findings import Change

__all__ = ["FAMILIES", "apply_changes"]

Part = TypeVar("Part")


@dataclass(frozen=True, slots=True)
class Family:
    """Parts of one kind: the field of the design that holds them and what one of them is called."""

    field: str
    key_of: Callable[[Any], str]


FAMILIES: dict[str, Family] = {
    "circuit": Family("circuits", lambda part: part.number),
    "run": Family("runs", lambda part: part.key),
    "node": Family("nodes", lambda part: part.key),
    "load": Family("loads", lambda part: part.key),
    "condition": Family("conditions", lambda part: part.key),
    "shed": Family("shed_steps", lambda part: part.key),
    "duty": Family("duty_profiles", lambda part: part.key),
    "segment": Family("duty_segments", lambda part: part.key),
    "operation": Family("operations", lambda part: part.key),
    "part": Family("parts", lambda part: part.key),
}


def apply_changes(design: Design, changes: Iterable[Change]) -> Design:
    """
    Return the design with each change made, in order.

    Parameters
    ----------
    design : Design
        The design before.
    changes : iterable of Change
        Each with a subject "family:key", or "build" for a field of the design itself.

    Returns
    -------
    Design
        A new design; every part that no change names is the same object as before.

    Raises
    ------
    UnknownTableEntry
        If a family, a key or a field does not exist.
    OutOfRange
        If a new value lies outside the range of its field.
    """
    for change in changes:
        design = _apply(design, change)
    return design


def _apply(design: Design, change: Change) -> Design:
    if change.subject == "build":
        return _with_field(design, change)
    family_name, _, key = change.subject.partition(":")
    if family_name not in FAMILIES:
        raise UnknownTableEntry("The design", family_name, ", ".join(FAMILIES))
    family = FAMILIES[family_name]
    parts = getattr(design, family.field)
    if key not in {family.key_of(part) for part in parts}:
        raise UnknownTableEntry(f"The design's {family.field}", key)
    changed = tuple(_with_field(part, change) if family.key_of(part) == key else part for part in parts)
    return _replaced(design, family.field, changed)


def _with_field(part: Part, change: Change) -> Part:
    return _replaced(part, change.field, change.value)


def _replaced(part: Part, field: str, value: object) -> Part:
    """``dataclasses.replace`` for a field that is only known by name; the part checks its own ranges."""
    whole: Any = part
    if field not in {known.name for known in fields(whole)}:
        raise UnknownTableEntry(type(part).__name__, field)
    made: Part = replace(whole, **{field: value})
    return made
