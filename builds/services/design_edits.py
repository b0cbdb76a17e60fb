"""
Every change of a working design goes through here: one lock, one version, one batch that undo can play back.

The build's row is locked first, so edits of one build stand in line; ``design_version`` counts them, keys the assessment
and tells other screens. A row's own ``row_version`` says whether the person saw its newest state.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import F, Max, ProtectedError

from builds import models
from builds.engineering.findings import Change
from builds.errors import (
    BadInput,
    FieldConflict,
    GuardRefused,
    NotHere,
    StaleRow,
    Taken,
)
from builds.models import EditBatch, EditEntry, Person
from builds.permissions import Action, check_may
from builds.selectors.engineering_inputs import PART_OF_ROW
from builds.services.actors import act_as
from builds.services.design_rows import FAMILIES, Family, columns_of, references_of_part
from builds.services.design_values import check_part, merge_values, values_of_row
from inventory.services.catalogue import ensure_part

__all__ = ["RowEdit", "add_row", "apply_fix", "edit_row", "edit_rows", "remove_row", "undo_last"]

_CLOSED = (models.Stage.DELIVERED, models.Stage.CLOSED, models.Stage.CANCELLED)


@dataclass(frozen=True, slots=True, kw_only=True)
class RowEdit:
    """Changes of one row among several; ``prefix`` stands before its field names in what is answered ("load.")."""

    family: str
    key: str
    values: Mapping[str, Any]
    row_version: int
    prefix: str = ""


@dataclass(slots=True)
class _Edit:
    """An edit in the making: the locked build and what has changed so far."""

    build: models.Build
    by: Person
    at: datetime
    entries: list[tuple[str, str, Any, Any]] = field(default_factory=list)

    def note(self, family: Family, key: str, before: Any, after: Any) -> None:
        self.entries.append((family.name, key, before, after))


def edit_row(
    *, build: models.Build, family: str, key: str, values: Mapping[str, Any], row_version: int, by: Person, at: datetime
) -> EditBatch:
    """
    Change fields of one row of a working design.

    Parameters
    ----------
    build : Build
        Whose design is edited; its ``design_version`` is brought up to date on the object given.
    family, key : str
        Which row: "circuit", "203".
    values : mapping of str to value
        New values by the document's field names; ``None`` takes an optional one away.
    row_version : int
        The version the person saw.
    by, at
        Who edits, and when.

    Raises
    ------
    StaleRow
        If the row has changed since; carries both values by field.
    BadInput
        If a value cannot be taken; nothing is changed.
    """
    kind = _family(family)

    def change(edit: _Edit) -> str:
        row = _row(edit.build, kind, key)
        _check_version(kind, row, values, row_version)
        _change(edit, kind, row, values)
        return f"{kind.name} {key}: {', '.join(name.replace('_', ' ') for name in values)}"

    return _edit(build, by, at, change)


def edit_rows(*, build: models.Build, rows: Sequence[RowEdit], by: Person, at: datetime) -> EditBatch:
    """Change fields of several rows as one edit, all or none. Raises StaleRow and BadInput with prefixed field names."""

    def change(edit: _Edit) -> str:
        words = []
        for item in rows:
            kind = _family(item.family)
            row = _row(edit.build, kind, item.key)
            with _prefixed(item.prefix):
                _check_version(kind, row, item.values, item.row_version)
                _change(edit, kind, row, item.values)
            words.append(f"{kind.name} {item.key}: {', '.join(name.replace('_', ' ') for name in item.values)}")
        return "; ".join(words)

    return _edit(build, by, at, change)


@contextmanager
def _prefixed(prefix: str) -> Iterator[None]:
    try:
        yield
    except StaleRow as error:
        conflicts = tuple(replace(item, field=prefix + item.field) for item in error.conflicts)
        raise StaleRow(error.message, conflicts=conflicts, row_version=error.row_version) from error
    except BadInput as error:
        raise BadInput({prefix + name: words for name, words in error.fields.items()}, error.message) from error


def add_row(*, build: models.Build, family: str, values: Mapping[str, Any], by: Person, at: datetime) -> EditBatch:
    """Add a row to a working design. Raises BadInput at each field that cannot be taken."""
    kind = _family(family)

    def change(edit: _Edit) -> str:
        key = _create(edit, kind, dict(values), line=None)
        return f"{kind.name} {key} added"

    return _edit(build, by, at, change)


def remove_row(*, build: models.Build, family: str, key: str, row_version: int, by: Person, at: datetime) -> EditBatch:
    """Take a row out of a working design, a circuit with its loads. Raises StaleRow, or Taken while others name it."""
    kind = _family(family)

    def change(edit: _Edit) -> str:
        row = _row(edit.build, kind, key)
        _check_version(kind, row, {}, row_version)
        _remove(edit, kind, row)
        return f"{kind.name} {key} removed"

    return _edit(build, by, at, change)


def apply_fix(*, build: models.Build, changes: Iterable[Change], label: str, by: Person, at: datetime) -> EditBatch:
    """Make the changes of a finding's proposed repair, all or none."""

    def change(edit: _Edit) -> str:
        for item in changes:
            family, _, key = item.subject.partition(":")
            kind = _family(family)
            _change(edit, kind, _row(edit.build, kind, key), {item.field: item.value})
        return label

    return _edit(build, by, at, change)


def undo_last(*, build: models.Build, by: Person, at: datetime) -> EditBatch:
    """Play the newest edit that is not undone backwards, as an edit of its own. Raises GuardRefused where none fits."""
    undone: list[EditBatch] = []

    def change(edit: _Edit) -> str:
        last = (
            edit.build.edit_batches.filter(undoes__isnull=True, undone_by__isnull=True)
            .order_by("-design_version")
            .first()
        )
        if last is None:
            raise GuardRefused("Nothing is left to undo.", missing=("nothing-to-undo",))
        undone.append(last)
        for entry in last.entries.order_by("-pk"):
            _play_back(edit, entry)
        return f"undone: {last.words}"[:200]

    return _edit(build, by, at, change, undoes=undone)


def _edit(
    build: models.Build, by: Person, at: datetime, change: Callable[[_Edit], str], undoes: list[EditBatch] | None = None
) -> EditBatch:
    check_may(by, Action.EDIT_DESIGN)
    with transaction.atomic():
        act_as(by)
        locked = models.Build.objects.select_for_update().select_related("platform").get(pk=build.pk)
        if locked.stage in _CLOSED:
            raise GuardRefused(
                f"Build {locked.number} is {locked.stage}; its design stands as it is.", missing=("open",)
            )
        edit = _Edit(build=locked, by=by, at=at)
        words = change(edit)
        models.Build.objects.filter(pk=build.pk).update(design_version=F("design_version") + 1)
        build.design_version = locked.design_version + 1
        batch = EditBatch.objects.create(
            build=locked, design_version=build.design_version, words=words[:200], by=by, at=at,
            undoes=undoes[0] if undoes else None,
        )  # fmt: skip
        EditEntry.objects.bulk_create(
            EditEntry(batch=batch, family=family, key=key, before=before, after=after)
            for family, key, before, after in edit.entries
        )
    return batch


def _family(name: str) -> Family:
    if name not in FAMILIES:
        raise NotHere(f"There is no kind of row called {name!r}.")
    return FAMILIES[name]


def _row(build: models.Build, family: Family, key: str) -> Any:
    row = family.rows(build).filter(**{family.key_field: key}).first()
    if row is None:
        raise NotHere(f"Build {build.number} has no {family.name} {key}.")
    return row


def _check_version(family: Family, row: Any, values: Mapping[str, Any], row_version: int) -> None:
    if row.row_version == row_version:
        return
    now = values_of_row(family, row)
    conflicts = tuple(
        FieldConflict(field=name, yours=str(value), theirs=str(now.get(name, "")))
        for name, value in values.items()
        if str(now.get(name, "")) != str(value)
    )
    raise StaleRow("Someone changed this row while you had it open.", conflicts=conflicts, row_version=row.row_version)


def _change(edit: _Edit, family: Family, row: Any, values: Mapping[str, Any]) -> None:
    before = _kept(family, row)
    after = merge_values(before["values"], values)
    part = check_part(edit.build, family, after, own_key=getattr(row, family.key_field))
    _write(edit.build, family, row, part, line=before["line"])
    edit.note(family, getattr(row, family.key_field), before, _kept(family, row))


def _create(edit: _Edit, family: Family, values: dict[str, Any], line: int | None) -> str:
    part = check_part(edit.build, family, values, own_key=None)
    if line is None:
        line = (family.rows(edit.build).aggregate(last=Max("line"))["last"] or 0) + 1
    row = _write(edit.build, family, family.model(build=edit.build), part, line=line)
    key = str(getattr(row, family.key_field))
    edit.note(family, key, None, _kept(family, row))
    return key


def _write(build: models.Build, family: Family, row: Any, part: Any, *, line: int) -> Any:
    if family.name == "part":
        ensure_part(part)
    refs = references_of_part(build, part)
    for column, value in columns_of(part, refs).items():
        setattr(row, column, value)
    row.line = line
    if row.pk:
        row.row_version += 1
    row.save()
    if family.name == "condition":
        _write_uses(row, part, refs.loads)
    return row


def _write_uses(row: models.OperatingCondition, part: Any, loads: Mapping[str, models.Load]) -> None:
    row.uses.all().delete()
    models.LoadUse.objects.bulk_create(
        models.LoadUse(condition=row, line=line, load=loads[use.load], duty_ratio=use.duty_ratio)
        for line, use in enumerate(part.uses, start=1)
    )


def _remove(edit: _Edit, family: Family, row: Any) -> None:
    """Remove a row; the loads of a circuit and the uses of a load go first, so that undo brings them back after it."""
    if family.name == "circuit":
        for load in row.loads.order_by("-line"):
            _remove(edit, FAMILIES["load"], load)
    if family.name == "load":
        for condition in models.OperatingCondition.objects.filter(build=edit.build, uses__load=row):
            uses = [use for use in _kept(FAMILIES["condition"], condition)["values"]["uses"] if use["load"] != row.key]
            _change(edit, FAMILIES["condition"], condition, {"uses": uses})
    before = _kept(family, row)
    key = str(getattr(row, family.key_field))
    try:
        row.delete()
    except ProtectedError as error:
        names = ", ".join(sorted(str(item) for item in error.protected_objects)[:5])
        raise Taken(f"{family.name.capitalize()} {key} is still named by {names}. Change those first.") from error
    edit.note(family, key, before, None)


def _play_back(edit: _Edit, entry: EditEntry) -> None:
    family = _family(entry.family)
    if entry.before is None:
        _remove(edit, family, _row(edit.build, family, entry.key))
    elif entry.after is None:
        _create(edit, family, entry.before["values"], line=entry.before["line"])
    else:
        key = str(entry.after["values"][family.key_field])
        row = _row(edit.build, family, key)
        if _kept(family, row)["values"] != entry.after["values"]:
            raise GuardRefused(
                f"{family.name.capitalize()} {key} has changed since; undo does not fit.", missing=("fits",)
            )
        gone = {name: None for name in entry.after["values"] if name not in entry.before["values"]}
        _change(edit, family, row, entry.before["values"] | gone)


def _kept(family: Family, row: Any) -> dict[str, Any]:
    return {"line": row.line, "values": part_values_of(family, row)}


def part_values_of(family: Family, row: Any) -> dict[str, Any]:
    """Return a row's document values, read afresh so that types are the table's own."""
    rows = family.model._default_manager
    fresh = (rows.select_related(*family.related) if family.related else rows).get(pk=row.pk)
    assert family.name in PART_OF_ROW
    return values_of_row(family, fresh)
