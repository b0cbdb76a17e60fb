"""
A design after an edit, made from the one before it and what the edit wrote down: no need to read every row again.

An edit raises the build's version by one under a lock. Where it is exactly one more than when the design was read, nothing
else came between, and the batch holds all there is to know.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Any

from builds.engineering.changes import FAMILIES
from builds.engineering.design import Design
from builds.engineering.document.assemble import part_of
from builds.models import Build, EditBatch, EditEntry
from builds.selectors.engineering_inputs import design_of

__all__ = ["design_after"]


def design_after(build: Build, *, before: Design, read_at: int, batch: EditBatch | None) -> Design:
    """Return the working design of ``build`` after ``batch``; ``before`` is it as read at version ``read_at``."""
    if batch is None and build.design_version == read_at:
        return before
    if batch is None or batch.design_version != read_at + 1:
        return design_of(build)
    changed = _with_entries(before, batch.entries.all())
    return changed if changed is not None else design_of(build)


def _with_entries(design: Design, entries: Iterable[EditEntry]) -> Design | None:
    """
    Return the design with each row changed or taken out.

    ``None`` where a row came, since its place is the table's, or was renamed, since others name it.
    """
    for entry in entries:
        if entry.family == "functions":
            design = replace(design, function_schedule=entry.after["text"] if entry.after else "")
            continue
        if entry.before is None or (entry.after is not None and _key(entry, entry.after) != _key(entry, entry.before)):
            return None
        family = FAMILIES[entry.family]
        parts = tuple(_changed(getattr(design, family.field), entry, family.key_of))
        changed: dict[str, Any] = {family.field: parts}
        design = replace(design, **changed)
    return design


def _key(entry: EditEntry, kept: dict[str, Any]) -> str:
    return str(kept["values"]["number" if entry.family == "circuit" else "key"])


def _changed(parts: tuple[Any, ...], entry: EditEntry, key_of: Callable[[Any], str]) -> Iterator[Any]:
    for part in parts:
        if key_of(part) != entry.key:
            yield part
        elif entry.after is not None:
            yield part_of(type(part), entry.after["values"])
