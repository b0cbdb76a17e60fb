"""Many rows of one family changed in one edit: the same few statements for two rows as for four hundred."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from builds import models
from builds.errors import CellFault, NotHere, RowsRefused
from builds.services.design_rows import Family, columns_of, references_of_parts
from builds.services.design_values import check_parts, merge_values, values_of_row
from builds.services.edit_batches import Edit
from builds.services.row_merge import conflicts_of, entries_since, meanwhile_of, values_before
from builds.services.row_writes import change_row
from inventory.services.catalogue import ensure_parts

__all__ = ["RowChange", "change_rows", "check_versions", "faults_of_rows", "values_by_key"]


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


def faults_of_rows(build: models.Build, family: Family, rows: Mapping[str, Mapping[str, Any]]) -> tuple[CellFault, ...]:
    """Return what could not be taken if these values were laid over the rows with these keys; nothing is written."""
    before = values_by_key(build, family, list(rows))
    after = {key: merge_values(before[key], values) for key, values in rows.items() if key in before}
    return _cells(check_parts(build, family, after)[1])


def _cells(faults: Mapping[str, Mapping[str, str]]) -> tuple[CellFault, ...]:
    return tuple(CellFault(key, name, words) for key, found in faults.items() for name, words in found.items())


def change_rows(edit: Edit, family: Family, changes: Sequence[RowChange]) -> None:
    """
    Lay values over rows and note each; all or none.

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
    parts, faults = check_parts(edit.build, family, after)
    if faults:
        raise RowsRefused("Some of these values cannot be taken.", cells=_cells(faults))
    _write(edit.build, family, rows, parts)
    kept = values_by_key(edit.build, family, list(parts))
    for key in parts:
        line = rows[key].line
        edit.note(family, key, {"line": line, "values": before[key]}, {"line": line, "values": kept[key]})


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
