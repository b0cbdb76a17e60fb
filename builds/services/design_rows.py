"""
Frozen parts of a design into rows: the way back from what :mod:`builds.selectors.engineering_inputs` reads.

A family is one kind of part ("circuit"); its key column is the address people use. References are found by key in maps
that the caller fills once, so that a whole document can be written without a question per row.
"""

import dataclasses
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Model, QuerySet

from builds import models
from builds.engineering import design as core
from builds.engineering.document.canonical import part_values
from builds.errors import BadInput
from inventory.models import Part

__all__ = [
    "FAMILIES",
    "Family",
    "References",
    "column_value",
    "columns_of",
    "references_of",
    "references_of_parts",
    "uses_of",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class References:
    """What the rows of one build may point at, by key."""

    nodes: Mapping[str, models.PowerNode]
    circuits: Mapping[str, models.Circuit]
    loads: Mapping[str, models.Load]
    parts: Mapping[str, Part]


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """One kind of part of a design: its table, its dataclass, the column that holds its address."""

    name: str
    model: type[Model]
    part: type[Any]
    key_field: str
    related_name: str
    related: tuple[str, ...] = ()  # what a row points at, fetched with it

    def rows(self, build: models.Build) -> QuerySet[Any]:
        """Return this family's rows of ``build``."""
        rows: QuerySet[Any] = getattr(build, self.related_name).all()
        return rows.select_related(*self.related) if self.related else rows


FAMILIES: dict[str, Family] = {
    family.name: family
    for family in (
        Family(name="node", model=models.PowerNode, part=core.PowerNode, key_field="key", related_name="nodes"),
        Family(name="run", model=models.Run, part=core.Run, key_field="key", related_name="runs", related=("from_node", "to_node")),
        Family(name="circuit", model=models.Circuit, part=core.Circuit, key_field="number", related_name="circuits", related=("panel", "return_node")),
        Family(name="load", model=models.Load, part=core.Load, key_field="key", related_name="loads", related=("circuit",)),
        Family(
            name="condition", model=models.OperatingCondition, part=core.OperatingCondition, key_field="key",
            related_name="conditions",
        ),
        Family(name="operation", model=models.Operation, part=core.Operation, key_field="key", related_name="operations"),
        Family(name="part", model=models.PartsBillLine, part=core.PartsBillLine, key_field="key", related_name="parts", related=("part",)),
    )
}  # fmt: skip

_SPECS = {
    "battery": core.BatterySpec,
    "alternator": core.AlternatorSpec,
    "panel": core.PanelSpec,
    "source": core.SourceSpec,
    "converter": core.ConverterSpec,
}


def references_of_parts(build: models.Build, parts: Iterable[Any]) -> References:
    """Return the things that the rows of these parts point at, and nothing else."""
    nodes: set[str] = set()
    circuits: set[str] = set()
    loads: set[str] = set()
    numbers: set[str] = set()
    for part in parts:
        match part:
            case core.Run():
                nodes |= {part.from_node, part.to_node}
            case core.Circuit():
                nodes |= {part.panel, part.return_node}
            case core.Load():
                circuits.add(part.circuit)
            case core.OperatingCondition():
                loads |= {use.load for use in part.uses}
            case core.PartsBillLine():
                numbers.add(part.part_number)
    return References(
        nodes={node.key: node for node in build.nodes.filter(key__in=nodes)} if nodes else {},
        circuits={item.number: item for item in build.circuits.filter(number__in=circuits)} if circuits else {},
        loads={load.key: load for load in build.loads.filter(key__in=loads)} if loads else {},
        parts={item.number: item for item in Part.objects.filter(number__in=numbers)} if numbers else {},
    )


def references_of(build: models.Build, *, part_numbers: tuple[str, ...] = ()) -> References:
    """Return the things that rows of ``build`` may point at, and the catalogue parts of ``part_numbers``."""
    return References(
        nodes={node.key: node for node in build.nodes.all()},
        circuits={circuit.number: circuit for circuit in build.circuits.all()},
        loads={load.key: load for load in build.loads.all()},
        parts={part.number: part for part in Part.objects.filter(number__in=part_numbers)},
    )


def columns_of(part: Any, refs: References) -> dict[str, Any]:
    """
    Return the columns of the row that holds ``part``; rows that belong to it are not among them.

    Raises :class:`BadInput` at the field where a name is not found.
    """
    values = {field.name: column_value(getattr(part, field.name)) for field in dataclasses.fields(part)}
    for spec_name, spec in _SPECS.items():
        if isinstance(part, core.PowerNode):
            values.pop(spec_name)
            values |= _spec_columns(spec_name, spec, getattr(part, spec_name))
    if isinstance(part, core.OperatingCondition):
        values.pop("uses")
        values["input_settings"] = [{"input": one.input, "value": one.value} for one in part.input_settings]
        values["sources"] = [part_values(use) for use in part.sources]
    if isinstance(part, core.PartsBillLine):
        values["part"] = _find(refs.parts, "part_number", values.pop("part_number"), "The catalogue has no part {}.")
    for field, found in _REFERENCES.get(type(part), {}).items():
        values[field] = _find(found(refs), field, values[field], "This build has no {}.")
    return values


_REFERENCES: dict[type[Any], dict[str, Callable[[References], Mapping[str, Any]]]] = {
    core.Run: {"from_node": lambda refs: refs.nodes, "to_node": lambda refs: refs.nodes},
    core.Circuit: {"panel": lambda refs: refs.nodes, "return_node": lambda refs: refs.nodes},
    core.Load: {"circuit": lambda refs: refs.circuits},
}


def _find(found: Mapping[str, Any], field: str, key: str, words: str) -> Any:
    if key not in found:
        raise BadInput({field: words.format(key or "such thing")})
    return found[key]


def _spec_columns(name: str, spec: type[Any], value: Any) -> dict[str, Any]:
    empty: dict[str, Any] = {
        "hinge": "",
        "return_node": "",
        "points": [],
    }  # every other column is null where there is no such part
    columns: dict[str, Any] = {field.name: empty.get(field.name) for field in dataclasses.fields(spec)}
    if value is not None:
        columns = {field: column_value(getattr(value, field)) for field in columns}
    if columns.get("points"):
        columns["points"] = [[column_value(figure) for figure in dataclasses.astuple(point)] for point in value.points]
    return {f"{name}_{field}": column for field, column in columns.items()}


def uses_of(row: Any, part: Any, loads: Mapping[str, models.Load]) -> Iterator[models.LoadUse]:
    """Yield the unsaved rows of the loads that are on in a condition."""
    for line, use in enumerate(part.uses, start=1):
        yield models.LoadUse(condition=row, line=line, load=loads[use.load], duty_ratio=column_value(use.duty_ratio))


def column_value(value: Any) -> Any:
    """Floats become decimals by their shortest text, which is what the document said."""
    if isinstance(value, float):
        return Decimal(repr(value))
    if isinstance(value, tuple):
        return list(value)
    return value
