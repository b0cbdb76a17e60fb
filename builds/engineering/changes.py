"""
Changes applied to a design: what a proposed fix does when somebody presses it, without a database.

A change names one part as "family:key" and one field of its dataclass. A changed value goes through the same range
checks as a typed one, because the part is made anew.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, replace
from functools import cache
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
    wanted: dict[str, dict[str, list[Change]]] = {}
    for change in changes:
        if change.subject == "build":
            design = _replaced(design, {change.field: change.value})
            continue
        family_name, _, key = change.subject.partition(":")
        if family_name not in FAMILIES:
            raise UnknownTableEntry("The design", family_name, ", ".join(FAMILIES))
        wanted.setdefault(family_name, {}).setdefault(key, []).append(change)
    for family_name, by_key in wanted.items():
        design = _with_parts(design, FAMILIES[family_name], by_key)
    return design


def _with_parts(design: Design, family: Family, by_key: dict[str, list[Change]]) -> Design:
    """Change the parts of one family in one pass, however many there are."""
    parts = getattr(design, family.field)
    changed = []
    left = set(by_key)
    for part in parts:
        key = family.key_of(part)
        if key in by_key:
            changed.append(_replaced(part, {change.field: change.value for change in by_key[key]}))
            left.discard(key)
        else:
            changed.append(part)
    if left:
        raise UnknownTableEntry(f"The design's {family.field}", min(left))
    return _replaced(design, {family.field: tuple(changed)})


def _replaced(part: Part, values: Mapping[str, object]) -> Part:
    """``dataclasses.replace`` for fields that are only known by name; the part checks its own ranges."""
    whole: Any = part
    kind: Any = type(part)
    unknown = values.keys() - _fields_of(kind)
    if unknown:
        raise UnknownTableEntry(type(part).__name__, min(unknown))
    made: Part = replace(whole, **values)
    return made


@cache
def _fields_of(kind: type) -> frozenset[str]:
    return frozenset(known.name for known in fields(kind))
