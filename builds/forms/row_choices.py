"""What the rows of one build may choose from: its own nodes, zones and circuits, and the tables of the engine."""

from collections.abc import Iterable
from enum import StrEnum
from functools import cache

from builds.engineering.assessing.words import kind_words
from builds.engineering.design import Design
from builds.engineering.electrical.conductors import sizes
from builds.engineering.electrical.protection import device_families
from builds.engineering.vocabulary import (
    BatteryKind,
    GaugeBasis,
    IsolatorKind,
    LoadModel,
    NodeKind,
    Phase,
    Place,
    ReversedBattery,
    RunSide,
    SourceState,
    SuppliedBy,
    Suppression,
    Switching,
)
from builds.forms.row_fields import RowChoices

__all__ = ["choices_of"]

_Offer = tuple[tuple[str, str], ...]

_RETURNS = (NodeKind.GROUND, NodeKind.CHASSIS, NodeKind.BUS, NodeKind.BATTERY)
_BOXES = (NodeKind.PANEL, NodeKind.MODULE, NodeKind.ACCESS_POINT)


def choices_of(design: Design) -> RowChoices:
    """Return what rows of ``design`` may choose from."""
    nodes = tuple((node.key, f"{node.key} {node.name}") for node in design.nodes)
    by_kind = {node.key: node.kind for node in design.nodes}
    return RowChoices(
        units=design.conventions.units,
        lists={
            "nodes": nodes,
            "panels": tuple(item for item in nodes if by_kind[item[0]] in _BOXES),
            "returns": tuple(item for item in nodes if by_kind[item[0]] in _RETURNS),
            "chassis": tuple(item for item in nodes if by_kind[item[0]] is NodeKind.CHASSIS),
            "access_points": tuple((point.key, f"{point.key} {point.name}") for point in design.platform.access_points),
            "zones": tuple((zone.key, f"{zone.name} ({zone.key})") for zone in design.platform.zones),
            "circuits": tuple((circuit.number, f"{circuit.number} {circuit.legend}") for circuit in design.circuits),
            "operations": tuple((operation.key, operation.name) for operation in design.operations),
            "batteries": tuple(item for item in nodes if by_kind[item[0]] is NodeKind.BATTERY),
            "shed_steps": tuple((step.key, f"{step.key} {step.name}") for step in design.shed_steps),
            "duties": tuple((profile.key, f"{profile.key} {profile.name}") for profile in design.duty_profiles),
            "conditions": tuple((item.key, item.name) for item in design.conditions),
            "gauges": _gauges(design.conventions.gauge_basis),
            **_FIXED,
            "device_families": _families(),
        },
    )


@cache
def _gauges(basis: GaugeBasis) -> _Offer:
    return tuple((size.gauge, size.gauge) for size in sizes(basis))


@cache
def _families() -> _Offer:
    return tuple((family.key, family.name) for family in device_families())


def _words(items: Iterable[StrEnum]) -> _Offer:
    return tuple((item.value, item.value.replace("_", " ")) for item in items)


_FIXED: dict[str, _Offer] = {
    "load_models": _words(LoadModel),
    "sides": _words(RunSide),
    "switchings": _words(Switching),
    "reversals": _words(ReversedBattery),
    "suppressions": _words(Suppression),
    "battery_kinds": _words(BatteryKind),
    "isolator_kinds": _words(IsolatorKind),
    "node_kinds": tuple((kind.value, kind_words(kind)) for kind in NodeKind),
    "source_states": _words(SourceState),
    "places": _words(Place),
    "phases": _words(Phase),
    "suppliers": _words(SuppliedBy),
}
