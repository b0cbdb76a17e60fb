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
from builds.engineering.vocabulary import BatteryKind
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
    shed_steps: Mapping[str, models.ShedStep]
    conditions: Mapping[str, models.OperatingCondition]
    duty_profiles: Mapping[str, models.DutyProfile]
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
        Family(name="shed", model=models.ShedStep, part=core.ShedStep, key_field="key", related_name="shed_steps", related=("battery",)),
        Family(name="load", model=models.Load, part=core.Load, key_field="key", related_name="loads", related=("circuit", "shed_step")),
        Family(
            name="condition", model=models.OperatingCondition, part=core.OperatingCondition, key_field="key",
            related_name="conditions",
        ),
        Family(name="duty", model=models.DutyProfile, part=core.DutyProfile, key_field="key", related_name="duty_profiles"),
        Family(
            name="segment", model=models.DutySegment, part=core.DutySegment, key_field="key",
            related_name="duty_segments", related=("profile", "condition"),
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
    named: dict[str, set[str]] = {field.name: set() for field in dataclasses.fields(References)}
    for part in parts:
        for what, keys in _named_by(part).items():
            named[what] |= keys - {""}
    found: dict[str, dict[str, Any]] = {
        family.related_name: {
            getattr(row, family.key_field): row
            for row in family.model._default_manager.filter(
                build=build, **{f"{family.key_field}__in": named[family.related_name]}
            )
        }
        for family in FAMILIES.values()
        if named.get(family.related_name)
    }
    catalogue = Part.objects.filter(number__in=named["parts"]) if named["parts"] else ()
    return References(
        **{name: found.get(name, {}) for name in named if name != "parts"},
        parts={item.number: item for item in catalogue},
    )


def _named_by(part: Any) -> dict[str, set[str]]:  # noqa: PLR0911  (one kind of part, one line)
    """What a part names, by the field of the design that holds it; parts of the catalogue by number."""
    match part:
        case core.Run():
            return {"nodes": {part.from_node, part.to_node}}
        case core.Circuit():
            return {"nodes": {part.panel, part.return_node}}
        case core.Load():
            return {"circuits": {part.circuit}, "shed_steps": {part.shed_step}}
        case core.ShedStep():
            return {"nodes": {part.battery}}
        case core.OperatingCondition():
            return {"loads": {use.load for use in part.uses}}
        case core.DutySegment():
            return {"duty_profiles": {part.profile}, "conditions": {part.condition}}
        case core.PartsBillLine():
            return {"parts": {part.part_number}}
    return {}


def references_of(build: models.Build, *, part_numbers: tuple[str, ...] = ()) -> References:
    """Return the things that rows of ``build`` may point at, and the catalogue parts of ``part_numbers``."""
    return References(
        nodes={node.key: node for node in build.nodes.all()},
        circuits={circuit.number: circuit for circuit in build.circuits.all()},
        loads={load.key: load for load in build.loads.all()},
        shed_steps={step.key: step for step in build.shed_steps.all()},
        conditions={condition.key: condition for condition in build.conditions.all()},
        duty_profiles={profile.key: profile for profile in build.duty_profiles.all()},
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
        unnamed = field in _MAY_NAME_NONE and not values[field]
        values[field] = None if unnamed else _find(found(refs), field, values[field], "This build has no {}.")
    return values


_REFERENCES: dict[type[Any], dict[str, Callable[[References], Mapping[str, Any]]]] = {
    core.Run: {"from_node": lambda refs: refs.nodes, "to_node": lambda refs: refs.nodes},
    core.Circuit: {"panel": lambda refs: refs.nodes, "return_node": lambda refs: refs.nodes},
    core.Load: {"circuit": lambda refs: refs.circuits, "shed_step": lambda refs: refs.shed_steps},
    core.ShedStep: {"battery": lambda refs: refs.nodes},
    core.DutySegment: {"profile": lambda refs: refs.duty_profiles, "condition": lambda refs: refs.conditions},
}
_MAY_NAME_NONE = frozenset({"shed_step", "battery"})


def _find(found: Mapping[str, Any], field: str, key: str, words: str) -> Any:
    if key not in found:
        raise BadInput({field: words.format(key or "such thing")})
    return found[key]


def _spec_columns(name: str, spec: type[Any], value: Any) -> dict[str, Any]:
    empty: dict[str, Any] = {
        "hinge": "",
        "return_node": "",
        "points": [],
        "kind": BatteryKind.LEAD,
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
