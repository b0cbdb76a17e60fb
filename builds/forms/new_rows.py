"""
Rows that are new in a table: typed or pasted below the last one, numbered here, and filled up with what their neighbours have.

A new row has a sign before its place, "+1", where a kept one has its address: no address starts with a sign.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.core.exceptions import ValidationError

from builds.engineering.design import Design
from builds.engineering.vocabulary import RunSide
from builds.errors import CellFault
from builds.forms.design_table import Column, TypedCell
from builds.forms.proposals import free_keys, usual
from builds.forms.row_choices import choices_of
from builds.forms.row_fields import FAMILY_FIELDS

__all__ = ["is_new", "new_columns", "read_new_rows"]

_MOST_ROWS = 2000


def is_new(key: str) -> bool:
    """Whether a row's key is the place of a new one."""
    return key.startswith("+") and key[1:].isdecimal() and len(key) < 8


def new_columns(family: str, design: Design) -> list[Column]:
    """Return every field that a new row may be given, its address among them."""
    choices = choices_of(design)
    specs = (spec for spec in FAMILY_FIELDS[family] if not spec.kinds)
    return [Column(spec, family, choices, design.conventions.gauge_basis) for spec in specs]


def read_new_rows(
    family: str, design: Design, cells: Iterable[TypedCell]
) -> tuple[dict[str, dict[str, Any]], list[CellFault]]:
    """
    Return the document's values of each new row by its place, and a fault at each cell that cannot be read.

    What is left empty is the engine's own default, the next free address or position, or what most of its neighbours have.
    """
    columns = {column.name: column for column in new_columns(family, design)}
    faults: list[CellFault] = []
    rows: dict[str, dict[str, Any]] = defaultdict(dict)
    texts = {(cell.key, cell.field): cell.text for cell in cells if cell.text.strip()}
    for (key, field), text in texts.items():
        row, column = rows[key], columns.get(field)
        if column is None:
            faults.append(CellFault(key, field, "There is no such column in this table."))
            continue
        try:
            row[field] = column.read(text)
        except ValidationError as error:
            faults.append(CellFault(key, field, " ".join(error.messages)))
    if len(rows) > _MOST_ROWS:
        first = next(iter(rows))
        return {}, [CellFault(first, next(iter(columns)), f"At most {_MOST_ROWS} rows are made at once.")]
    ordered = {key: rows[key] for key in sorted(rows, key=_place)}
    _fill_up(family, design, ordered)
    return ordered, faults


def _place(key: str) -> int:
    return int(key[1:])


def _fill_up(family: str, design: Design, rows: Mapping[str, dict[str, Any]]) -> None:
    if family == "circuit":
        _fill_up_circuits(design, rows)
        return
    parts: Sequence[Any] = design.runs if family == "run" else design.loads
    common = {name: usual(str(getattr(part, name)) for part in parts) for name in _COMMON[family]}
    if family == "run":
        common["side"] = common["side"] or RunSide.SUPPLY.value
    volts = max({load.at_v for load in design.loads}, key=[load.at_v for load in design.loads].count, default=None)
    keys = free_keys(design, family, {row["key"] for row in rows.values() if "key" in row})
    for row in rows.values():
        if "key" not in row:
            row["key"] = next(keys)
        for name, value in common.items():
            if value:
                row.setdefault(name, value)
        if family == "load" and volts is not None:
            row.setdefault("at_v", volts)


_COMMON = {"run": ("side",), "load": ("zone", "model")}


def _fill_up_circuits(design: Design, rows: Mapping[str, dict[str, Any]]) -> None:
    """Panel and position first; then the number after the highest of that panel, and what its circuits have in common."""
    panels = {node.key: node.panel.positions for node in design.nodes if node.panel is not None}
    taken: dict[str, set[int]] = defaultdict(set)
    for circuit in design.circuits:
        taken[circuit.panel].add(circuit.position)
    for row in rows.values():
        if "panel" in row and "position" in row:
            taken[row["panel"]].add(row["position"])
    for row in rows.values():
        if "panel" not in row and panels:
            row["panel"] = next((key for key, most in panels.items() if _free(taken[key]) <= most), next(iter(panels)))
        if "panel" in row and "position" not in row:
            row["position"] = _free(taken[row["panel"]])
            taken[row["panel"]].add(row["position"])
    given = {row["number"] for row in rows.values() if "number" in row}
    shared: dict[str, dict[str, Any]] = {}
    for row in rows.values():
        panel = row.get("panel", "")
        if panel not in shared:
            shared[panel] = _shared(design, panel, given)
        if "number" not in row:
            row["number"] = next(shared[panel]["number"])
            given.add(row["number"])
        for name, value in shared[panel].items():
            if name != "number" and value not in ("", None):
                row.setdefault(name, value)


def _free(taken: set[int]) -> int:
    """The first position that nothing stands in; beyond the panel's last one it is a finding, not a refusal."""
    position = 1
    while position in taken:
        position += 1
    return position


def _shared(design: Design, panel: str, given: set[str]) -> dict[str, Any]:
    own = [item for item in design.circuits if item.panel == panel] or list(design.circuits)
    lengths = [item.return_length_m for item in own]
    return {
        "number": free_keys(design, "circuit", given, beside=[item.number for item in own]),
        "device_family": usual(item.device_family for item in own),
        "return_node": usual(item.return_node for item in own),
        "return_length_m": max(set(lengths), key=lambda length: (lengths.count(length), -length), default=None),
    }
