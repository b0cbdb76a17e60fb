"""
How each operating condition is fed: which switches stand open, which sources charge, and between which voltages.

By themselves isolators are open unless the engine runs, access points where the vehicle keeps them dead; disconnects and
low-voltage disconnects are closed, what the engine drives charges while it runs, and a shore or a solar charger gives
nothing; a condition says where it is otherwise.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.design import OperatingCondition, PowerNode, SourceUse
from builds.engineering.electrical.energy.banks import rest_at_v
from builds.engineering.vocabulary import NodeKind, SourceState

__all__ = ["CHARGING", "SWITCHES", "Setting", "engine_runs", "set_volts", "setting_of", "settings_of", "source_uses"]

SWITCHES = (NodeKind.ISOLATOR, NodeKind.DISCONNECT, NodeKind.LOW_VOLTAGE_DISCONNECT)
CHARGING = (NodeKind.ALTERNATOR, NodeKind.DCDC, NodeKind.SHORE, NodeKind.SOLAR)
_USUAL = (SourceState.IDLE, SourceState.ENGINE_OFF)
_WITH_ENGINE = (NodeKind.ALTERNATOR, NodeKind.DCDC)


@dataclass(frozen=True, slots=True)
class Setting:
    """A way of being fed: whether the engine runs, which nodes stand open, which sources charge (in the design's order)."""

    running: bool
    shut: frozenset[str]
    charging: tuple[str, ...]


def engine_runs(state: SourceState) -> bool:
    """Tell whether an engine (or what stands for it in an electric vehicle) runs."""
    return state in (SourceState.IDLE, SourceState.AT_SPEED)


def source_uses(condition: OperatingCondition) -> dict[str, SourceUse]:
    """Return what a condition says of its sources, by their node."""
    return {use.node: use for use in condition.sources}


def settings_of(index: IndexedDesign) -> Iterator[tuple[Setting, tuple[int, ...]]]:
    """
    Yield every setting with the places of its conditions in the design.

    The first two are always there, whether or not a condition has them: engine running, then off, everything as usual.
    """
    places: dict[Setting, list[int]] = {usual_setting(index, state): [] for state in _USUAL}
    for place, condition in enumerate(index.design.conditions):
        places.setdefault(setting_of(index, condition), []).append(place)
    for setting, found in places.items():
        yield setting, tuple(found)


def usual_setting(index: IndexedDesign, state: SourceState) -> Setting:
    """Return how a condition is fed that says nothing of switches and sources."""
    nodes, running = index.design.nodes, engine_runs(state)
    open_isolators = frozenset(node.key for node in nodes if node.kind is NodeKind.ISOLATOR and not running)
    return Setting(
        running=running,
        shut=open_isolators | index.dead_points[state],
        charging=tuple(node.key for node in nodes if node.kind in _WITH_ENGINE and running),
    )


def setting_of(index: IndexedDesign, condition: OperatingCondition) -> Setting:
    """Return how a condition is fed; names of nodes that cannot be opened or do not charge count for nothing."""
    usual = usual_setting(index, condition.source_state)
    if not (condition.open_nodes or condition.closed_nodes or condition.sources):
        return usual
    uses, nodes = source_uses(condition), index.design.nodes
    switches = frozenset(node.key for node in nodes if node.kind in SWITCHES)
    available = {key: uses[key].available if key in uses else key in usual.charging for key in index.nodes}
    return Setting(
        running=usual.running,
        shut=(usual.shut - frozenset(condition.closed_nodes)) | (switches & frozenset(condition.open_nodes)),
        charging=tuple(node.key for node in nodes if node.kind in CHARGING and available[node.key]),
    )


def set_volts(condition: OperatingCondition, source: PowerNode) -> tuple[float, float]:
    """
    Return the least and the most voltage of a source in a condition [V].

    What the condition says of it comes first, then what it is set to; then, for what charges, the condition's own range,
    and for a battery that range while nothing charges. One that is not charged while the engine runs stands between its rest
    voltage with what may be used of it gone, and full.
    """
    use, spec = source_uses(condition).get(source.key), source.alternator or source.source
    low_v, high_v = condition.source_low_v, condition.source_high_v
    if source.battery is not None and engine_runs(condition.source_state):
        high_v = source.battery.open_circuit_v
        left = 1.0 - source.battery.usable_ratio
        low_v = rest_at_v(full_rest_v=high_v, charge_ratio=left, kind=source.battery.kind)
    if source.converter is not None:
        low_v = high_v = source.converter.output_v
    if spec is not None:
        low_v, high_v = _either(spec.low_v, low_v), _either(spec.high_v, high_v)
    if use is not None:
        low_v, high_v = _either(use.low_v, low_v), _either(use.high_v, high_v)
    return low_v, max(low_v, high_v)


def _either(given: float | None, otherwise: float) -> float:
    return otherwise if given is None else given
