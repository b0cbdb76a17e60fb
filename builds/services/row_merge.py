"""
Two people's changes of one row, laid together field by field over what both had before.

What one of them alone changed stands without a question; only a field that both changed, to different values, is asked
about. What both had before is read off the edit batches: each version of a row is one entry in them.
"""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from builds.errors import FieldConflict, Meanwhile
from builds.models import EditEntry
from builds.services.design_rows import Family
from builds.services.design_values import values_of_row

__all__ = ["conflicts_of", "entries_since", "meanwhile_of", "said_value", "values_before"]

_MOST_VERSIONS = 100  # further back nobody remembers what they saw: every field that differs is asked about


def entries_since(family: Family, row: Any, row_version: int) -> list[EditEntry] | None:
    """Return what changed a row since a version, newest first; ``None`` where the edit batches do not tell."""
    steps = row.row_version - row_version
    if not 0 <= steps <= _MOST_VERSIONS:
        return None
    values, before_pk = values_of_row(family, row), None
    found: list[EditEntry] = []
    for _ in range(steps):
        entries = EditEntry.objects.filter(
            batch__build_id=row.build_id, family=family.name,
            **{f"after__values__{family.key_field}": values[family.key_field]},
        )  # fmt: skip
        if before_pk is not None:
            entries = entries.filter(pk__lt=before_pk)
        entry = entries.select_related("batch__by").order_by("-pk").first()
        if entry is None or entry.before is None:
            return None
        values, before_pk = entry.before["values"], entry.pk
        found.append(entry)
    return found


def values_before(family: Family, row: Any, entries: Sequence[EditEntry] | None) -> dict[str, Any] | None:
    """Return the values a row had before those changes, ``None`` where nobody can tell."""
    if entries is None:
        return None
    if not entries:
        return values_of_row(family, row)
    before = entries[-1].before
    values: dict[str, Any] | None = before["values"] if before else None
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


def meanwhile_of(family: Family, row: Any, entries: Sequence[EditEntry] | None) -> tuple[Meanwhile, ...]:
    """Return what those changes made of a row, field by field, each with who changed it last."""
    base, now = values_before(family, row, entries), values_of_row(family, row)
    if base is None:
        return ()
    key = now[family.key_field]
    return tuple(
        Meanwhile(
            field=name, was=said_value(was), now=said_value(is_now), row=f"{family.name}:{key}",
            by=_last_to_change(name, entries or ()), values=(was, is_now),
        )
        for name in _field_names(base, now)
        if not _same(was := _value(base, name), is_now := _value(now, name))
    )  # fmt: skip


def _field_names(*rows: Mapping[str, Any]) -> Iterable[str]:
    """Every field of the rows; a nested part by each of its own, "battery.capacity_ah"."""
    names: dict[str, None] = {}
    for row in rows:
        for name, value in row.items():
            names |= dict.fromkeys([f"{name}.{inner}" for inner in value] if isinstance(value, Mapping) else [name])
    return names


def _last_to_change(name: str, entries: Iterable[EditEntry]) -> str:
    for entry in entries:
        before, after = (entry.before or {}).get("values", {}), (entry.after or {}).get("values", {})
        if not _same(_value(before, name), _value(after, name)):
            return str(entry.batch.by)
    return ""


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
