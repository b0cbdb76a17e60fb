"""Rows of a working design as an edit writes them: one, many at once, a new one, or one taken out."""

from collections.abc import Mapping
from typing import Any

from django.db.models import Max, ProtectedError, Q

from builds import models
from builds.errors import NotHere, StaleRow, Taken
from builds.selectors.engineering_inputs import PART_OF_ROW
from builds.services.design_rows import FAMILIES, Family, columns_of, references_of_parts, uses_of
from builds.services.design_values import check_part, merge_values, values_of_row
from builds.services.edit_batches import Edit
from builds.services.row_merge import conflicts_of, entries_since, meanwhile_of, values_before
from inventory.services.catalogue import ensure_part

__all__ = [
    "change_row",
    "check_version",
    "create_row",
    "drop_row",
    "family_named",
    "kept_values",
    "part_values_of",
    "row_named",
]


def family_named(name: str) -> Family:
    """Return a family of rows. Raises NotHere."""
    if name not in FAMILIES:
        raise NotHere(f"There is no kind of row called {name!r}.")
    return FAMILIES[name]


def row_named(build: models.Build, family: Family, key: str) -> Any:
    """Return one row of a build. Raises NotHere."""
    row = family.rows(build).filter(**{family.key_field: key}).first()
    if row is None:
        raise NotHere(f"Build {build.number} has no {family.name} {key}.")
    return row


def check_version(edit: Edit, family: Family, row: Any, values: Mapping[str, Any], row_version: int) -> None:
    """
    Let ``values`` be laid over a row that has changed since a person saw it, where nobody else touched the same fields.

    What the others changed is noted on the edit. Without values, as for a row to be removed, any change is one too many.

    Raises
    ------
    BadInput
        If a value cannot be taken, whoever changed what.
    StaleRow
        With both values of each field that both changed.
    """
    if row.row_version == row_version:
        return
    now = kept_values(family, row)["values"]
    check_part(
        edit.build, family, merge_values(now, values), own_key=getattr(row, family.key_field), changed=values
    )  # fmt: skip
    entries = entries_since(family, row, row_version)
    conflicts = conflicts_of(family, row, values, values_before(family, row, entries))
    if conflicts or not values:
        raise StaleRow(
            "Someone changed this row while you had it open.", conflicts=conflicts, row_version=row.row_version
        )
    edit.meanwhile.extend(meanwhile_of(family, row, entries))


def change_row(edit: Edit, family: Family, row: Any, values: Mapping[str, Any]) -> None:
    """Lay values over a row and note it. Raises BadInput at each field that cannot be taken."""
    before = kept_values(family, row)
    after = merge_values(before["values"], values)
    part = check_part(edit.build, family, after, own_key=getattr(row, family.key_field), changed=values)
    _write(edit.build, family, row, part, line=before["line"])
    edit.note(family, getattr(row, family.key_field), before, kept_values(family, row))


def create_row(edit: Edit, family: Family, values: dict[str, Any], line: int | None) -> str:
    """Add a row, at the end unless ``line`` says where, and return its key. Raises BadInput."""
    part = check_part(edit.build, family, values, own_key=None)
    if line is None:
        line = (family.rows(edit.build).aggregate(last=Max("line"))["last"] or 0) + 1
    row = _write(edit.build, family, family.model(build=edit.build), part, line=line)
    key = str(getattr(row, family.key_field))
    edit.note(family, key, None, kept_values(family, row))
    return key


def _write(build: models.Build, family: Family, row: Any, part: Any, *, line: int) -> Any:
    if family.name == "part":
        ensure_part(part)
    refs = references_of_parts(build, [part])
    for column, value in columns_of(part, refs).items():
        setattr(row, column, value)
    row.line = line
    if row.pk:
        row.row_version += 1
    row.save()
    if family.name == "condition":
        row.uses.all().delete()
        models.LoadUse.objects.bulk_create(uses_of(row, part, refs.loads))
    return row


def drop_row(edit: Edit, family: Family, row: Any) -> None:
    """
    Remove a row.

    The loads of a circuit, the uses of a load and the segments of a profile go first, so that undo brings them back after it.
    """
    if family.name == "circuit":
        for load in row.loads.order_by("-line"):
            drop_row(edit, FAMILIES["load"], load)
    if family.name == "duty":
        for segment in row.segments.order_by("-line"):
            drop_row(edit, FAMILIES["segment"], segment)
    if family.name == "load":
        for condition in models.OperatingCondition.objects.filter(build=edit.build, uses__load=row):
            uses = [
                use for use in kept_values(FAMILIES["condition"], condition)["values"]["uses"] if use["load"] != row.key
            ]
            change_row(edit, FAMILIES["condition"], condition, {"uses": uses})
    before = kept_values(family, row)
    key = str(getattr(row, family.key_field))
    if family.name == "node":
        _leave_out(edit, key)
    try:
        row.delete()
    except ProtectedError as error:
        names = ", ".join(sorted(str(item) for item in error.protected_objects)[:5])
        raise Taken(f"{family.name.capitalize()} {key} is still named by {names}. Change those first.") from error
    edit.note(family, key, before, None)


def _leave_out(edit: Edit, node: str) -> None:
    """Take a node out of the conditions that name it."""
    naming = Q(open_nodes__contains=[node]) | Q(closed_nodes__contains=[node]) | Q(sources__contains=[{"node": node}])
    for condition in models.OperatingCondition.objects.filter(naming, build=edit.build):
        values = kept_values(FAMILIES["condition"], condition)["values"]
        change_row(edit, FAMILIES["condition"], condition, {
            "open_nodes": [name for name in values.get("open_nodes", []) if name != node],
            "closed_nodes": [name for name in values.get("closed_nodes", []) if name != node],
            "sources": [use for use in values.get("sources", []) if use["node"] != node],
        })  # fmt: skip


def kept_values(family: Family, row: Any) -> dict[str, Any]:
    """Return what a batch notes of a row: its line and its values."""
    return {"line": row.line, "values": part_values_of(family, row)}


def part_values_of(family: Family, row: Any) -> dict[str, Any]:
    """Return a row's document values, read afresh so that types are the table's own."""
    rows = family.model._default_manager
    fresh = (rows.select_related(*family.related) if family.related else rows).get(pk=row.pk)
    assert family.name in PART_OF_ROW
    return values_of_row(family, fresh)
