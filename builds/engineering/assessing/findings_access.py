"""Findings about the vehicle maker's access points: what is taken there, against what the maker allows."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.solving import Floats
from builds.engineering.assessing.states import Network
from builds.engineering.assessing.words import amperes, listing, of_circuit, of_condition, of_load, of_node, of_run
from builds.engineering.catalogue import found
from builds.engineering.design import AccessPoint, PowerNode
from builds.engineering.findings import Change, Finding, Number, ProposedFix
from builds.engineering.makers_wires import is_assumed
from builds.engineering.vocabulary import HotWhen, NodeKind, Polarity, RunSide

__all__ = ["access_findings", "leaving_makers_devices"]

_SAME = 1e-9


def access_findings(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    """Yield the findings about access points; a build that uses none has none."""
    points = {point.key: point for point in index.design.platform.access_points}
    used = [
        (node, points[node.access_point])
        for node in index.design.nodes
        if node.kind is NodeKind.ACCESS_POINT and node.access_point in points
    ]
    if not used:
        return
    behind = _points_behind(index, network, {node.key for node, _ in used})
    for node, point in used:
        yield from _allowance(index, network, node, point)
        yield from _raised(index, node, point)
        yield from _polarity(index, node, point)
        yield from _dead(index, node, point, {number for number, keys in behind.items() if node.key in keys})
        yield from _wire_on_file(index, node, point)
    for group in dict.fromkeys(point.group for _, point in used if point.group):
        yield from _group(index, network, group, [(node, point) for node, point in used if point.group == group])


def leaving_makers_devices(index: IndexedDesign, findings: Iterable[Finding]) -> Iterator[Finding]:
    """
    Take away the repairs that would change what is the vehicle maker's: a device at an access point, or a run of its own.

    What is said of a wire of the maker's that nobody drew is said of its access point.
    """
    points = {node.key for node in index.design.nodes if node.kind is NodeKind.ACCESS_POINT}
    makers = {f"run:{run.key}" for run in index.design.runs if points & {run.from_node, run.to_node}}
    own = {f"run:{run.key}" for run in index.design.runs if run.makers_own}
    not_drawn = {f"run:{wire.key}": f"node:{wire.to_node}" for wire in index.makers_wires}
    for finding in findings:
        changes = finding.fix.changes if finding.fix is not None and finding.id != "access-device-raised" else ()
        touches = any(
            change.subject in own or (change.subject in makers and change.field.startswith("device_"))
            for change in changes
        )
        subject = not_drawn.get(finding.subject)
        told = finding if subject is None else replace(finding, subject=subject)
        yield replace(told, fix=None) if touches else told


def _points_behind(index: IndexedDesign, network: Network, points: set[str]) -> dict[str, set[str]]:
    """By circuit, the access points on its way from the battery while the engine runs, when all of them are alive."""
    tree = network.states[0].feeding.supply_tree
    ways = {panel: points & set(tree.nodes_to(panel)) for panel in index.circuits_of}
    return {circuit.number: ways[circuit.panel] for circuit in index.design.circuits}


def _taken_a(network: Network, nodes: tuple[PowerNode, ...], *, peak: bool = False) -> dict[int, float]:
    """What flows through some nodes together, or the most of it at any moment, by the place of the condition [A]."""
    rows = [network.elements.node_row[node.key] for node in nodes]
    taken: dict[int, float] = {}
    for state in network.states:
        if state.chosen and state.feeding.root:
            peaks_a = state.peaks_a()
            through_a: Floats = (peaks_a if peak else state.sizings_a(peaks_a))[rows].sum(axis=0)
            taken.update(zip(state.chosen, through_a.tolist(), strict=True))
    return taken


def _worst(taken: dict[int, float]) -> tuple[float, int]:
    """The most of all conditions, and the first condition that has it."""
    places = sorted(taken)
    at = int(np.argmax([taken[place] for place in places])) if places else 0
    return (taken[places[at]], places[at]) if places else (0.0, 0)


def _allowance(index: IndexedDesign, network: Network, node: PowerNode, point: AccessPoint) -> Iterator[Finding]:
    current_a, place = _worst(_taken_a(network, (node,)))
    if current_a > point.allowance_a * (1 + _SAME):
        yield found(
            "access-allowance-exceeded", f"node:{node.key}",
            numbers=_numbers(current_a, point.allowance_a), name=of_node(node), current=amperes(current_a),
            condition=of_condition(index.design.conditions[place]), limit=amperes(point.allowance_a), point=_named(point),
        )  # fmt: skip
    if point.peak_allowance_a is None:
        return
    peak_a, place = _worst(_taken_a(network, (node,), peak=True))
    if peak_a > point.peak_allowance_a * (1 + _SAME):
        yield found(
            "access-peak-exceeded", f"node:{node.key}",
            numbers=_numbers(peak_a, point.peak_allowance_a), name=of_node(node), current=amperes(peak_a),
            condition=of_condition(index.design.conditions[place]), limit=amperes(point.peak_allowance_a), point=_named(point),
        )  # fmt: skip


def _group(
    index: IndexedDesign, network: Network, group: str, used: list[tuple[PowerNode, AccessPoint]]
) -> Iterator[Finding]:
    limits = [point.group_allowance_a for _, point in used if point.group_allowance_a is not None]
    current_a, place = _worst(_taken_a(network, tuple(node for node, _ in used)))
    if limits and current_a > min(limits) * (1 + _SAME):
        names = tuple(dict.fromkeys(point.key for _, point in used))
        yield found(
            "access-group-exceeded", f"node:{used[0][0].key}",
            numbers=_numbers(current_a, min(limits)), points=listing(names), current=amperes(current_a),
            condition=of_condition(index.design.conditions[place]), limit=amperes(min(limits)), group=group,
        )  # fmt: skip


def _raised(index: IndexedDesign, node: PowerNode, point: AccessPoint) -> Iterator[Finding]:
    """The maker's fuse drawn larger than it is."""
    for run in index.design.runs:
        rating_a, makers_a = run.device_rating_a, point.device_rating_a
        feeds = run.side is RunSide.SUPPLY and node.key in (run.from_node, run.to_node)
        if feeds and rating_a is not None and makers_a is not None and rating_a > makers_a * (1 + _SAME):
            change = Change(subject=f"run:{run.key}", field="device_rating_a", value=makers_a)
            yield found(
                "access-device-raised", f"run:{run.key}",
                numbers=_numbers(rating_a, makers_a),
                fix=ProposedFix(label=f"Put the maker's {amperes(makers_a)} back", changes=(change,)),
                where=of_run(run), device=amperes(rating_a), makers=amperes(makers_a), point=_named(point),
            )  # fmt: skip


def _polarity(index: IndexedDesign, node: PowerNode, point: AccessPoint) -> Iterator[Finding]:
    if point.polarity is Polarity.NEGATIVE:
        for circuit in index.circuits_of.get(node.key, ()):
            subject = f"circuit:{circuit.number}"
            yield found("access-polarity", subject, where=of_circuit(circuit), point=_named(point))


def _wire_on_file(index: IndexedDesign, node: PowerNode, point: AccessPoint) -> Iterator[Finding]:
    """What stands in for the maker's wire that is not drawn, where it is assumed or hangs elsewhere than the platform says."""
    wire = next((run for run in index.makers_wires if run.to_node == node.key), None)
    if wire is None:
        return
    name, source = of_node(node), of_node(index.nodes[wire.from_node])
    if point.source and wire.from_node != point.source:
        yield found(
            "access-source-unknown", f"node:{node.key}", name=name, point=_named(point), asked=point.source, feeder=source
        )  # fmt: skip
    if is_assumed(point):
        mohm = wire.resistance_mohm or 0.0
        yield found(
            "access-way-assumed", f"node:{node.key}", numbers=(Number(name="resistance", value=mohm, unit="mΩ"),),
            name=name, point=_named(point), feeder=source, resistance=f"{mohm:.3g} mΩ",
        )  # fmt: skip


def _dead(index: IndexedDesign, node: PowerNode, point: AccessPoint, own: set[str]) -> Iterator[Finding]:
    """Said once a load, of the first condition."""
    said: set[str] = set()
    for condition in index.design.conditions:
        if node.key not in index.dead_points[condition.source_state] or node.key in condition.closed_nodes:
            continue
        for use in condition.uses:
            load = index.loads.get(use.load)
            if load is not None and load.circuit in own and load.key not in said:
                said.add(load.key)
                yield found(
                    "access-not-hot", f"load:{load.key}",
                    load=of_load(load), condition=of_condition(condition), point=_named(point), hot=_HOT_WORDS[point.hot_when],
                )  # fmt: skip


_HOT_WORDS = {
    HotWhen.ALWAYS: "the battery",
    HotWhen.ACCESSORY: "the key at accessory",
    HotWhen.IGNITION: "the ignition",
    HotWhen.ENGINE: "the engine",
    HotWhen.SWITCHED: "its switch",
}


def _named(point: AccessPoint) -> str:
    return f"{point.key} ({point.name})" if point.name.strip() else point.key


def _numbers(value_a: float, limit_a: float) -> tuple[Number, ...]:
    return (Number(name="current", value=value_a, unit="A"), Number(name="limit", value=limit_a, unit="A"))
