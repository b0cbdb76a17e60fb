"""
Currents of short circuits: the most a device may have to break where it sits, the least that must open it at the far end.

Breaking is worst with the cable at its coldest, every battery full and joined through a closed isolator, nothing in the
way back, and each alternator and charger adding its rated current; a converter gives its limit. Opening is worst with each conductor as hot as its insulation bears, one battery at its nominal
voltage, and the whole way out and back.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from builds.engineering.assessing.conversion import limit_ohm, nominal_v
from builds.engineering.assessing.fault_heat import circuits_at_fault_ohm, elements_at_fault_ohm
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.links import Link, links_of, node_of
from builds.engineering.assessing.states import Network
from builds.engineering.design import PowerNode, Run
from builds.engineering.electrical.conductors import COLDEST_CABLE_C

__all__ = ["Shorts", "battery_end", "shorts_of"]

_LEAST_OHM = 1e-6  # two lugs on one stud; keeps the matrix from being singular


@dataclass(frozen=True, slots=True)
class Shorts:
    """
    Short-circuit currents of a design.

    ``open_v`` and ``source_ohm`` are, node by node, the equivalent source behind a short there; ``limited_a`` is what
    alternators and chargers add, though not behind a converter. ``far_end_a`` is by circuit number, ``loop_ohm`` the resistance around that circuit without its own wire.
    """

    open_v: Mapping[str, float]
    source_ohm: Mapping[str, float]
    limited_a: float
    behind_converters: frozenset[str]
    far_end_a: Mapping[str, float]
    loop_ohm: Mapping[str, float]
    source_v: Mapping[str, float]

    def prospective_a(self, node: str, further_ohm: float = 0.0) -> float | None:
        """The most a short behind ``further_ohm`` from a node draws; None where no battery reaches it [A]."""
        if node not in self.open_v:
            return None
        added_a = 0.0 if node in self.behind_converters else self.limited_a
        return self.open_v[node] / (self.source_ohm[node] + further_ohm) + added_a


def battery_end(index: IndexedDesign, run: Run) -> str:
    """The end of a run from which the place of its device is counted: see :func:`battery_ends`."""
    return index.battery_ends[run.key]


def shorts_of(index: IndexedDesign, network: Network) -> Shorts:
    """Return the short-circuit currents of a solved design."""
    open_v, source_ohm = _sources(index, network)
    far_end_a, loop_ohm, source_v = _far_ends(index, network)
    limited_a = sum(_rated_a(node) for node in index.design.nodes if node.key in open_v)
    behind = frozenset(
        node
        for state in network.states
        for node, root in state.feeding.supply_tree.root_of.items()
        if index.nodes[root].converter is not None
    )
    return Shorts(open_v, source_ohm, limited_a, behind, far_end_a, loop_ohm, source_v)


def _rated_a(node: PowerNode) -> float:
    """The most that a source without a battery's reserve gives into a short [A]."""
    if node.alternator is not None:
        return node.alternator.rated_a
    return node.source.limit_a if node.source is not None else 0.0


def _sources(index: IndexedDesign, network: Network) -> tuple[dict[str, float], dict[str, float]]:
    """The equivalent source at every node: the inverse of the conductance matrix holds each node's own resistance."""
    nodes = list(dict.fromkeys([*(key for state in network.states for key in state.feeding.supply_tree.root_of)]))
    links = list(_links(network))
    nodes = list(dict.fromkeys([*nodes, *(end for link in links for end in (link.one, link.other))]))
    row_of = {key: row for row, key in enumerate(nodes)}
    conductance, injected = np.zeros((len(nodes), len(nodes))), np.zeros(len(nodes))
    if not nodes:
        return {}, {}
    element_ohm, _ = network.states[0].resistances.at(COLDEST_CABLE_C)
    for link in links:
        ohm = float(sum(element_ohm[row] for row in link.rows))
        here, there, siemens = row_of[link.other], row_of[link.one], 1 / max(ohm, _LEAST_OHM)
        conductance[here, here] += siemens
        conductance[there, there] += siemens
        conductance[here, there] -= siemens
        conductance[there, here] -= siemens
    for battery in index.batteries():
        assert battery.battery is not None  # the index lists no others
        here, siemens = row_of[battery.key], 1000 / (battery.battery.internal_mohm + battery.resistance_mohm)
        conductance[here, here] += siemens
        injected[here] += siemens * battery.battery.open_circuit_v
    for converter in index.design.nodes:
        if converter.converter is not None and converter.key in row_of:  # it gives its limit and no more
            here, siemens = row_of[converter.key], 1 / limit_ohm(converter)
            conductance[here, here] += siemens
            injected[here] += siemens * converter.converter.output_v
    inverse = np.linalg.inv(conductance)
    opened = inverse @ injected
    return dict(zip(nodes, opened.tolist(), strict=True)), dict(zip(nodes, np.diagonal(inverse).tolist(), strict=True))


def _links(network: Network) -> Iterator[Link]:
    """The links of the supply side: as fed with the isolator closed, and what only its being open reaches."""
    seen: set[str] = set()
    posts = frozenset(
        network.elements.batteries
    )  # each is in the way of its own battery, whoever else stands beside it
    for state in network.states:
        tree = state.feeding.supply_tree
        yield from (
            link
            for link in links_of(tree, network.elements, without_own=posts)
            if not {node_of(link.one), node_of(link.other)} <= seen
        )
        seen.update(tree.root_of)


def _far_ends(index: IndexedDesign, network: Network) -> tuple[dict[str, float], dict[str, float], dict[str, float]]:
    far_end_a: dict[str, float] = {}
    loop_ohm: dict[str, float] = {}
    source_v: dict[str, float] = {}
    inside_ohm = np.array([n.battery.internal_mohm / 1000 if n.battery else 0.0 for n in index.batteries()])
    for state in network.states:
        feeding = state.feeding
        element_ohm, own_ohm = (
            elements_at_fault_ohm(index, network, state),
            circuits_at_fault_ohm(feeding.circuits, state),
        )
        without_own = feeding.loop_ohm(element_ohm) + inside_ohm @ feeding.battery**2
        roots = {key: index.nodes[key] for key in set(feeding.root)}
        behind = {key: (nominal_v(root), limit_ohm(root)) for key, root in roots.items()}
        columns = zip(feeding.circuits, feeding.root, without_own.tolist(), own_ohm, strict=False)
        for circuit, root, other_ohm, wire_ohm in columns:  # converters stand behind the circuits
            volts, inside = behind[root]
            current_a = volts / max(other_ohm + inside + wire_ohm, _LEAST_OHM)
            if current_a < far_end_a.get(circuit.number, np.inf):
                far_end_a[circuit.number], loop_ohm[circuit.number] = current_a, other_ohm + inside
                source_v[circuit.number] = volts
    return far_end_a, loop_ohm, source_v


def cold_ohm(network: Network, run: Run) -> float:
    """Resistance of a run with its cable at its coldest [Ω]."""
    element_ohm, _ = network.states[0].resistances.at(COLDEST_CABLE_C)
    return float(element_ohm[network.elements.run_row[run.key]])
