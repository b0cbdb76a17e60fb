"""
The one reader of the core's tables.

A table is a CSV file in this folder. Lines that start with ``#`` are its head: ``# source: …``. Every head names title,
source, edition, units and status; ``note`` may come several times. ``status`` says how far the figures can be relied on,
for the whole table or, where there is a ``status`` column, row by row:

===========  ==========================================================================
confirmed    read in a copy of the source itself
secondary    read in somebody's reprint or summary of the source
derived      computed from other rows here
memory       not confirmed: a starting point, to be edited
practice     common practice without a published source, to be edited
===========  ==========================================================================
"""

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from builds.engineering.errors import UnknownTableEntry

__all__ = ["STATUSES", "Table", "load_table", "table_names"]

STATUSES = ("confirmed", "secondary", "derived", "memory", "practice")

_FOLDER = Path(__file__).parent
_HEAD_KEYS = ("title", "source", "edition", "units", "status")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table as typed in: its head and its rows, each a mapping of column to text."""

    name: str
    title: str
    source: str
    edition: str
    units: str
    status: str
    notes: tuple[str, ...]
    rows: tuple[Mapping[str, str], ...]

    def status_of(self, row: Mapping[str, str]) -> str:
        """Return the standing of one row: its own where it says one, else the table's."""
        return row.get("status", self.status)


@cache
def load_table(name: str) -> Table:
    """
    Return a table of this folder, read once.

    Parameters
    ----------
    name : str
        File name without ``.csv``.

    Returns
    -------
    Table
        Its head and rows, rows in file order.

    Raises
    ------
    UnknownTableEntry
        If there is no such table, or its head lacks a line.
    """
    path = _FOLDER / f"{name}.csv"
    if not path.is_file():
        raise UnknownTableEntry("The folder of tables", name)
    lines = path.read_text(encoding="utf-8").splitlines()
    head, notes = _read_head(line for line in lines if line.startswith("#"))
    for key in _HEAD_KEYS:
        if key not in head:
            raise UnknownTableEntry(f"The head of table {name}", key)
    rows = tuple(csv.DictReader(line for line in lines if not line.startswith("#")))
    return Table(name=name, notes=tuple(notes), rows=rows, **{key: head[key] for key in _HEAD_KEYS})


def table_names() -> tuple[str, ...]:
    """Return the names of all tables, in alphabetical order."""
    return tuple(sorted(path.stem for path in _FOLDER.glob("*.csv")))


def _read_head(lines: Iterable[str]) -> tuple[dict[str, str], list[str]]:
    head: dict[str, str] = {}
    notes: list[str] = []
    for line in lines:
        key, _, text = line.lstrip("# ").partition(":")
        if key == "note":
            notes.append(text.strip())
        else:
            head[key] = text.strip()
    return head, notes
