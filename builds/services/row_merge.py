"""
Two people's changes of one row, laid together field by field over what both had before.

What one of them alone changed stands without a question; only a field that both changed, to different values, is asked
about. What both had before is read off the edit batches: each version of a row is one entry in them.
"""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from builds.errors import FieldConflict, Meanwhile
from builds.models import EditEntry
from builds.services.design_rows import Family
from builds.services.design_values import values_of_row

__all__ = ["conflicts_of", "meanwhile_of", "said_value", "values_at_version"]

_MOST_VERSIONS = 100  # further back nobody remembers what they saw: every field that differs is asked about


def values_at_version(family: Family, row: Any, row_version: int) -> dict[str, Any] | None:
    """Return the values a row had at a version, ``None`` where the edit batches do not tell."""
    steps = row.row_version - row_version
    if not 0 <= steps <= _MOST_VERSIONS:
        return None
    values, before_pk = values_of_row(family, row), None
    for _ in range(steps):
        entries = EditEntry.objects.filter(
            batch__build_id=row.build_id, family=family.name,
            **{f"after__values__{family.key_field}": values[family.key_field]},
        )  # fmt: skip
        if before_pk is not None:
            entries = entries.filter(pk__lt=before_pk)
        entry = entries.order_by("-pk").first()
        if entry is None or entry.before is None:
            return None
        values, before_pk = entry.before["values"], entry.pk
    return values


def conflicts_of(
    family: Family, row: Any, values: Mapping[str, Any], base: Mapping[str, Any] | None
) -> tuple[FieldConflict, ...]:
    """Return the fields of ``values`` that someone else changed too, each with both values in words."""
    now = values_of_row(family, row)
    found = []
    for name, mine in values.items():
        theirs = _value(now, name)
        if _same(theirs, mine) or (base is not None and _same(theirs, _value(base, name))):
            continue
        found.append(FieldConflict(field=name, yours=said_value(mine), theirs=said_value(theirs)))
    return tuple(found)


def meanwhile_of(family: Family, row: Any, base: Mapping[str, Any] | None) -> tuple[Meanwhile, ...]:
    """Return what changed in a row since it had the values of ``base``, in words."""
    if base is None:
        return ()
    now = values_of_row(family, row)
    return tuple(
        Meanwhile(field=name, was=said_value(base.get(name)), now=said_value(now.get(name)))
        for name in dict.fromkeys((*base, *now))
        if not _same(base.get(name), now.get(name))
    )


def said_value(value: Any) -> str:
    """Return a value as a person would say it; empty for none."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        return ", ".join(f"{name.replace('_', ' ')} {said_value(item)}" for name, item in value.items())
    if isinstance(value, list | tuple):
        return ", ".join(said_value(item) for item in value)
    return str(value)


def _value(values: Mapping[str, Any], name: str) -> Any:
    """Return a field's value; "battery.capacity_ah" reaches into a nested part."""
    outer, _, inner = name.partition(".")
    value = values.get(outer)
    return value.get(inner) if inner and isinstance(value, Mapping) else None if inner else value


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, int | float | Decimal) and isinstance(other, int | float | Decimal):
        return Decimal(str(one)) == Decimal(str(other))
    return bool(one == other) or said_value(one) == said_value(other)
