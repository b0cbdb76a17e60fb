"""Many rows of one family changed in one edit: the same few statements for two rows as for four hundred."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Max

from builds import models
from builds.errors import CellFault, NotHere, RowsRefused
from builds.services.design_rows import Family, columns_of, references_of_parts
from builds.services.design_values import check_parts, merge_values, values_of_row
from builds.services.edit_batches import Edit
from builds.services.row_merge import conflicts_of, entries_since, meanwhile_of, values_before
from builds.services.row_writes import change_row, drop_row
from inventory.services.catalogue import ensure_parts

__all__ = ["RowChange", "change_rows", "check_versions", "drop_rows", "faults_of_rows", "values_by_key"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RowChange:
    """New values of one row by the document's field names; ``row_version`` is the version the person saw."""

    key: str
    values: Mapping[str, Any]
    row_version: int = 0


def values_by_key(build: models.Build, family: Family, keys: Sequence[str]) -> dict[str, dict[str, Any]]:
    """Return the values of the rows with these keys, as the document says them."""
    return {key: values_of_row(family, row) for key, row in _rows(build, family, keys).items()}


def check_versions(edit: Edit, family: Family, changes: Sequence[RowChange]) -> None:
    """
    Note what others changed in these rows since the person saw them.

    Raises RowsRefused at every field that one of them has changed too.
    """
    rows = _rows(edit.build, family, [change.key for change in changes])
    faults: list[CellFault] = []
    for change in changes:
        row = rows.get(change.key)
        if row is None or row.row_version == change.row_version:
            continue
        entries = entries_since(family, row, change.row_version)
        edit.meanwhile.extend(meanwhile_of(family, row, entries))
        faults += [
            CellFault(change.key, item.field, f"Someone else changed this too; here is {item.theirs or 'nothing'} now.")
            for item in conflicts_of(family, row, change.values, values_before(family, row, entries))
        ]
    if faults:
        raise RowsRefused(
            "Someone changed rows of this table while you worked on them.", cells=tuple(faults), stale=True
        )


def faults_of_rows(
    build: models.Build,
    family: Family,
    rows: Mapping[str, Mapping[str, Any]],
    added: Mapping[str, Mapping[str, Any]] | None = None,
) -> tuple[CellFault, ...]:
    """
    Return what could not be taken if these values were laid over the rows with these keys, and new rows ``added``.

    Nothing is written.
    """
    before = values_by_key(build, family, list(rows))
    after = {key: merge_values(before[key], values) for key, values in rows.items() if key in before}
    return _cells(check_parts(build, family, after, added)[1])


def _cells(faults: Mapping[str, Mapping[str, str]]) -> tuple[CellFault, ...]:
    return tuple(CellFault(key, name, words) for key, found in faults.items() for name, words in found.items())


def change_rows(
    edit: Edit, family: Family, changes: Sequence[RowChange], added: Mapping[str, Mapping[str, Any]] | None = None
) -> None:
    """
    Lay values over rows, add new ones at the end, and note each; all or none.

    ``added`` are the new rows' values by any keys that no row has: a fault is told by them.

    Raises NotHere where a row is gone, and RowsRefused at each field that cannot be taken.
    """
    rows = _rows(edit.build, family, [change.key for change in changes])
    missing = [change.key for change in changes if change.key not in rows]
    if missing:
        raise NotHere(f"Build {edit.build.number} has no {family.name} {missing[0]}.")
    if family.name == "condition":  # its uses are rows of their own
        for change in changes:
            change_row(edit, family, rows[change.key], change.values)
        return
    before = {key: values_of_row(family, row) for key, row in rows.items()}
    after = {change.key: merge_values(before[change.key], change.values) for change in changes}
    parts, faults = check_parts(edit.build, family, after, added)
    if faults:
        raise RowsRefused("Some of these values cannot be taken.", cells=_cells(faults))
    new = [parts.pop(key) for key in added or ()]
    if parts:
        _write(edit.build, family, rows, parts)
    _note_changed(edit, family, parts, rows, before)
    if new:
        _add(edit, family, new)


def _note_changed(
    edit: Edit, family: Family, parts: Mapping[str, Any], rows: Mapping[str, Any], before: Mapping[str, Any]
) -> None:
    kept = values_by_key(edit.build, family, list(parts))
    for key in parts:
        line = rows[key].line
        edit.note(family, key, {"line": line, "values": before[key]}, {"line": line, "values": kept[key]})


def _add(edit: Edit, family: Family, parts: Sequence[Any]) -> None:
    """Write new rows behind the last one, in their order."""
    if family.name == "part":
        ensure_parts(tuple(parts))
    refs = references_of_parts(edit.build, parts)
    line = family.rows(edit.build).aggregate(last=Max("line"))["last"] or 0
    made: list[Any] = [
        family.model(build=edit.build, line=place, **columns_of(part, refs))
        for place, part in enumerate(parts, start=line + 1)
    ]
    family.model._default_manager.bulk_create(made)
    keys = [str(getattr(row, family.key_field)) for row in made]
    kept = values_by_key(edit.build, family, keys)
    for row, key in zip(made, keys, strict=True):
        edit.note(family, key, None, {"line": row.line, "values": kept[key]})


def drop_rows(edit: Edit, family: Family, keys: Sequence[str]) -> None:
    """Remove rows and note each. What hangs on a row goes first, one row after another; a bare one goes with the others."""
    rows = _rows(edit.build, family, keys)
    missing = [key for key in keys if key not in rows]
    if missing:
        raise NotHere(f"Build {edit.build.number} has no {family.name} {missing[0]}.")
    if family.name not in _BARE or _BARE[family.name](list(rows.values())):
        for key in keys:
            drop_row(edit, family, rows[key])
        return
    kept = {key: values_of_row(family, row) for key, row in rows.items()}
    family.rows(edit.build).select_related(None).filter(pk__in=[row.pk for row in rows.values()]).delete()
    for key in keys:
        edit.note(family, key, {"line": rows[key].line, "values": kept[key]}, None)


# Families whose rows may go together, and whether anything hangs on one of them.
_BARE: dict[str, Callable[[list[Any]], bool]] = {
    "run": lambda rows: False,
    "circuit": lambda rows: models.Load.objects.filter(circuit__in=rows).exists(),
    "load": lambda rows: models.LoadUse.objects.filter(load__in=rows).exists(),
}


def _rows(build: models.Build, family: Family, keys: Sequence[str]) -> dict[str, Any]:
    found = family.rows(build).filter(**{f"{family.key_field}__in": keys})
    return {str(getattr(row, family.key_field)): row for row in found}


def _write(build: models.Build, family: Family, rows: Mapping[str, Any], parts: Mapping[str, Any]) -> None:
    """Write the columns in which any of the rows differs; each row counts one version up."""
    if family.name == "part":
        ensure_parts(tuple(parts.values()))
    refs = references_of_parts(build, parts.values())
    touched = {"row_version"}
    for key, part in parts.items():
        row = rows[key]
        row.row_version += 1
        for column, value in columns_of(part, refs).items():
            if getattr(row, column) != value:
                setattr(row, column, value)
                touched.add(column)
    family.model._default_manager.bulk_update([rows[key] for key in parts], sorted(touched))
