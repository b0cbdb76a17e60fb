"""Proposed sizes made a part of the design: chosen ones or all, as one edit that undo plays back."""

from collections.abc import Collection
from datetime import datetime

from builds.engineering.findings import Change
from builds.engineering.proposing import changes_of, propose
from builds.errors import BadInput, StaleRow
from builds.models import Build, EditBatch, Person
from builds.selectors.engineering_inputs import design_of
from builds.services.edit_batches import Edit, edit_design
from builds.services.many_rows import RowChange, change_rows
from builds.services.row_writes import family_named

__all__ = ["apply_sizes"]


def apply_sizes(
    *, build: Build, subjects: Collection[str] | None, design_version: int, by: Person, at: datetime
) -> EditBatch:
    """
    Set conductors and devices to what is proposed.

    Parameters
    ----------
    build : Build
        Whose design is edited; its ``design_version`` is brought up to date on the object given.
    subjects : collection of str or None
        Which circuits and runs ("circuit:203"); None sets all that would change.
    design_version : int
        The version of the design whose proposals the person saw.
    by, at
        Who applies them, and when.

    Raises
    ------
    StaleRow
        If the design has changed since: other sizes may be proposed now.
    BadInput
        If nothing is chosen, or none of what is chosen would change.
    """

    def change(edit: Edit) -> str:
        if edit.build.design_version != design_version:
            raise StaleRow(
                "The design has changed since these sizes were proposed. Look at the new ones, then apply.",
                conflicts=(), row_version=edit.build.design_version,
            )  # fmt: skip
        changes = changes_of(propose(design_of(edit.build)), subjects)
        if not changes:
            raise BadInput({"subject": "Choose at least one size that would change."})
        for family, rows in _by_family(changes).items():
            change_rows(edit, family_named(family), rows)
        count = len({change.subject for change in changes})
        return f"{count} proposed size{'' if count == 1 else 's'} applied"

    return edit_design(build, by, at, change)


def _by_family(changes: tuple[Change, ...]) -> dict[str, list[RowChange]]:
    """The changes row by row, by family."""
    values: dict[str, dict[str, dict[str, object]]] = {}
    for change in changes:
        family, _, key = change.subject.partition(":")
        values.setdefault(family, {}).setdefault(key, {})[change.field] = change.value
    return {
        family: [RowChange(key=key, values=fields) for key, fields in rows.items()] for family, rows in values.items()
    }
