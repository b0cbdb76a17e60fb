"""
Every change of a working design goes through here: one lock, one version, one batch that undo can play back.

The build's row is locked first, so edits of one build stand in line; ``design_version`` counts them, keys the assessment
and tells other screens. A row's own ``row_version`` says whether the person saw its newest state.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import groupby
from typing import Any

from builds import models
from builds.engineering.findings import Change
from builds.errors import BadInput, GuardRefused, StaleRow
from builds.models import EditBatch, EditEntry, Person
from builds.selectors.edits import last_edit
from builds.services import function_rows
from builds.services.design_rows import Family
from builds.services.edit_batches import Edit, edit_design
from builds.services.many_rows import RowChange, change_rows, check_versions, drop_rows, values_by_key
from builds.services.row_writes import (
    change_row,
    check_version,
    create_row,
    drop_row,
    family_named,
    kept_values,
    row_named,
)
from inventory.selectors.catalogue import catalogue_values

__all__ = [
    "RowChange",
    "RowEdit",
    "Step",
    "add_row",
    "apply_fix",
    "edit_row",
    "edit_rows",
    "edit_table",
    "make_steps",
    "remove_row",
    "undo_last",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class RowEdit:
    """Changes of one row among several; ``prefix`` stands before its field names in what is answered ("load.")."""

    family: str
    key: str
    values: Mapping[str, Any]
    row_version: int
    prefix: str = ""


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
        If someone else has changed the same fields since; carries both values by field.
    BadInput
        If a value cannot be taken; nothing is changed.
    """
    kind = family_named(family)

    def change(edit: Edit) -> str:
        row = row_named(edit.build, kind, key)
        check_version(edit, kind, row, values, row_version)
        change_row(edit, kind, row, values)
        return f"{kind.name} {key}: {', '.join(name.replace('_', ' ') for name in values)}"

    return edit_design(build, by, at, change)


def edit_rows(*, build: models.Build, rows: Sequence[RowEdit], by: Person, at: datetime) -> EditBatch:
    """Change fields of several rows as one edit, all or none. Raises StaleRow and BadInput with prefixed field names."""

    def change(edit: Edit) -> str:
        words = []
        for item in rows:
            kind = family_named(item.family)
            row = row_named(edit.build, kind, item.key)
            with _prefixed(item.prefix):
                check_version(edit, kind, row, item.values, item.row_version)
                change_row(edit, kind, row, item.values)
            words.append(f"{kind.name} {item.key}: {', '.join(name.replace('_', ' ') for name in item.values)}")
        return "; ".join(words)

    return edit_design(build, by, at, change)


@contextmanager
def _prefixed(prefix: str) -> Iterator[None]:
    try:
        yield
    except StaleRow as error:
        conflicts = tuple(replace(item, field=prefix + item.field) for item in error.conflicts)
        raise StaleRow(error.message, conflicts=conflicts, row_version=error.row_version) from error
    except BadInput as error:
        raise BadInput({prefix + name: words for name, words in error.fields.items()}, error.message) from error


def edit_table(
    *,
    build: models.Build,
    family: str,
    changes: Sequence[RowChange],
    by: Person,
    at: datetime,
    added: Mapping[str, Mapping[str, Any]] | None = None,
) -> EditBatch:
    """
    Change and add any number of rows of one family as one edit, all or none, in a fixed number of statements.

    ``added`` are the values of new rows, by whatever keys their faults should be told with.

    Raises
    ------
    RowsRefused
        At each field that cannot be taken, and at each that someone else has changed since; nothing is changed then.
    """
    kind = family_named(family)

    def change(edit: Edit) -> str:
        check_versions(edit, kind, changes)
        change_rows(edit, kind, changes, added)
        rows = kind.related_name.replace("_", " ")
        words = [f"{len(changes)} {rows} of the table"] if changes else []
        return ", ".join([*words, f"{len(added)} {rows} added"] if added else words)

    return edit_design(build, by, at, change)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """
    One row to add, change or take out among the steps of one edit.

    Without ``key`` a row is added; without ``values`` the row is taken out. ``row_version`` is checked where it is given;
    ``prefix`` stands before the field names in what is refused ("node.").
    """

    family: str
    key: str = ""
    values: Mapping[str, Any] | None = None
    row_version: int | None = None
    prefix: str = ""


def make_steps(*, build: models.Build, steps: Sequence[Step], label: str, by: Person, at: datetime) -> EditBatch:
    """Take several steps as one edit, all or none. Raises StaleRow, BadInput with prefixed field names, or Taken."""

    def change(edit: Edit) -> str:
        for step in steps:
            with _prefixed(step.prefix):
                _take_step(edit, step)
        return label

    return edit_design(build, by, at, change)


def _take_step(edit: Edit, step: Step) -> None:
    kind = family_named(step.family)
    if not step.key:
        create_row(edit, kind, dict(step.values or {}), line=None)
        return
    row = row_named(edit.build, kind, step.key)
    if step.row_version is not None:
        check_version(edit, kind, row, step.values or {}, step.row_version)
    if step.values is None:
        drop_row(edit, kind, row)
    else:
        change_row(edit, kind, row, step.values)


def add_row(*, build: models.Build, family: str, values: Mapping[str, Any], by: Person, at: datetime) -> EditBatch:
    """
    Add a row to a working design. Raises BadInput at each field that cannot be taken.

    What a new line of the parts bill leaves out is taken from the catalogue, where that has its number.
    """
    kind = family_named(family)
    known = catalogue_values(str(values.get("part_number", ""))) if kind.name == "part" else {}

    def change(edit: Edit) -> str:
        key = create_row(edit, kind, known | dict(values), line=None)
        return f"{kind.name} {key} added"

    return edit_design(build, by, at, change)


def remove_row(*, build: models.Build, family: str, key: str, row_version: int, by: Person, at: datetime) -> EditBatch:
    """Take a row out of a working design, a circuit with its loads. Raises StaleRow, or Taken while others name it."""
    kind = family_named(family)

    def change(edit: Edit) -> str:
        row = row_named(edit.build, kind, key)
        check_version(edit, kind, row, {}, row_version)
        drop_row(edit, kind, row)
        return f"{kind.name} {key} removed"

    return edit_design(build, by, at, change)


def apply_fix(*, build: models.Build, changes: Iterable[Change], label: str, by: Person, at: datetime) -> EditBatch:
    """Make the changes of a finding's proposed repair, all or none."""

    def change(edit: Edit) -> str:
        for item in changes:
            family, _, key = item.subject.partition(":")
            kind = family_named(family)
            change_row(edit, kind, row_named(edit.build, kind, key), {item.field: item.value})
        return label

    return edit_design(build, by, at, change)


def undo_last(*, build: models.Build, by: Person, at: datetime, named: int | None = None) -> EditBatch:
    """
    Play the newest edit that is not undone backwards, as an edit of its own.

    ``named`` is the design version of the edit that the person saw as the last; another is only undone where it is their
    own. Raises GuardRefused, with who made the last edit and what it was, where it is another, and where none fits.
    """
    undone: list[EditBatch] = []

    def change(edit: Edit) -> str:
        last = last_edit(edit.build)
        if last is None:
            raise GuardRefused("Nothing is left to undo.", missing=("nothing-to-undo",))
        if last.design_version != named and last.by_id != by.pk:
            raise GuardRefused(
                f"Nothing was undone: the last edit is number {last.design_version} by {last.by}: {last.words}. "
                "Choose it by its number among the edits of the sheet, or leave it.",
                missing=("last-edit-named",),
            )
        undone.append(last)
        _play_back(edit, last.entries.order_by("-pk"))
        return f"undone: {last.words}"[:200]

    return edit_design(build, by, at, change, undoes=undone)


def _play_back(edit: Edit, entries: Iterable[EditEntry]) -> None:
    """Play entries backwards; rows that were only changed or only added go together, as many as stand one after another."""
    for (name, added, together), group in groupby(
        entries, key=lambda entry: (entry.family, entry.before is None, _only_changed(entry))
    ):
        found = list(group)
        if added and name != function_rows.FAMILY:
            drop_rows(edit, family_named(name), [entry.key for entry in found])
        elif together and len({entry.key for entry in found}) == len(found):
            _put_back(edit, family_named(name), found)
        else:
            for entry in found:
                _play_back_one(edit, entry)


def _only_changed(entry: EditEntry) -> bool:
    """Whether the row was there before and after, under the same key."""
    if entry.before is None or entry.after is None or entry.family == function_rows.FAMILY:
        return False
    field = family_named(entry.family).key_field
    return bool(entry.before["values"][field] == entry.after["values"][field])


def _put_back(edit: Edit, family: Family, entries: Sequence[EditEntry]) -> None:
    now = values_by_key(edit.build, family, [entry.key for entry in entries])
    for entry in entries:
        if now.get(entry.key) != _kept_after(entry):
            raise _does_not_fit(family, entry.key)
    change_rows(edit, family, [RowChange(key=entry.key, values=_values_before(entry)) for entry in entries])


def _kept_after(entry: EditEntry) -> dict[str, Any]:
    assert entry.after is not None
    values: dict[str, Any] = entry.after["values"]
    return values


def _values_before(entry: EditEntry) -> dict[str, Any]:
    assert entry.before is not None
    before: dict[str, Any] = entry.before["values"]
    return before | {name: None for name in _kept_after(entry) if name not in before}


def _does_not_fit(family: Family, key: str) -> GuardRefused:
    return GuardRefused(f"{family.name.capitalize()} {key} has changed since; undo does not fit.", missing=("fits",))


def _play_back_one(edit: Edit, entry: EditEntry) -> None:
    if entry.family == function_rows.FAMILY:
        function_rows.play_back(edit, entry)
        return
    family = family_named(entry.family)
    assert entry.before is not None  # rows that were added go together
    if entry.after is None:
        create_row(edit, family, entry.before["values"], line=entry.before["line"])
    else:
        key = str(entry.after["values"][family.key_field])
        row = row_named(edit.build, family, key)
        if kept_values(family, row)["values"] != entry.after["values"]:
            raise _does_not_fit(family, key)
        change_row(edit, family, row, _values_before(entry))
