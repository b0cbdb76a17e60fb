"""
The way back of what charges: from a battery's negative post to the negative of its source, where that is drawn.

What an alternator gives comes home to the engine it is bolted to, over its strap, whether a load or the battery took it. A
source whose return is not drawn is taken to have it at its battery's post, as the vehicle's own wiring has.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.solving import Floats
from builds.engineering.assessing.source_ways import most_given_a
from builds.engineering.assessing.states import Network, State
from builds.engineering.assessing.trees import Way, neighbours
from builds.engineering.design import PowerNode
from builds.engineering.vocabulary import NodeKind, RunSide

__all__ = [
    "ChargingReturn",
    "charging_returns",
    "sources_without_drawn_return",
    "sources_without_return",
]

_LEAST_OHM = 1e-7  # a joint without resistance shares no otherwise than one of a tenth of a microohm


@dataclass(frozen=True, slots=True)
class ChargingReturn:
    """One source on its way home: what it gives at most, and the part of that in each element (0 where it does not flow)."""

    source: PowerNode
    current_a: float
    part: Floats


def charging_returns(index: IndexedDesign, network: Network) -> tuple[tuple[ChargingReturn, ...], ...]:
    """Return what charges together, setting by setting, with its way home; settings in which none has it drawn are left out."""
    together = []
    for state in network.states:
        ways = []
        for battery, key, negative in _pairs(index, state):
            part = _Returns(index, network, state).parts(negative, battery)
            if part is not None:
                ways.append(ChargingReturn(index.nodes[key], most_given_a(index.nodes[key]), part))
        if ways:
            together.append(tuple(ways))
    return tuple(together)


def sources_without_return(index: IndexedDesign, network: Network) -> Iterator[tuple[PowerNode, str]]:
    """Yield each source whose return is drawn and reaches no negative of the battery it charges, with that battery."""
    said: set[str] = set()
    for state in network.states:
        for battery, key, negative in _pairs(index, state):
            if key not in said and _Returns(index, network, state).parts(negative, battery) is None:
                said.add(key)
                yield index.nodes[key], battery


def sources_without_drawn_return(index: IndexedDesign) -> Iterator[PowerNode]:
    """Yield the build's own chargers whose feed is drawn and whose return is not; an alternator's is the vehicle maker's."""
    fed = {end for run in index.design.runs if run.side is RunSide.SUPPLY for end in (run.from_node, run.to_node)}
    drawn = _drawn(index)
    for node in index.design.nodes:
        if node.kind in (NodeKind.SHORE, NodeKind.SOLAR) and node.key in fed and node.key not in drawn:
            yield node


def _pairs(index: IndexedDesign, state: State) -> Iterator[tuple[str, str, str]]:
    """(battery, source, the source's negative) of all that charges in a state and says where its current comes back."""
    drawn = _drawn(index)
    for battery, keys in state.feeding.chargers.items():
        for key in keys:
            converter = index.nodes[key].converter
            negative = key if converter is None else converter.return_node
            if negative != battery and (negative in drawn or converter is not None):
                yield battery, key, negative


def _drawn(index: IndexedDesign) -> frozenset[str]:
    runs = [run for run in index.design.runs if run.side is RunSide.RETURN]
    return frozenset(end for run in runs for end in (run.from_node, run.to_node))


@dataclass(frozen=True)
class _Returns:
    """The ways back of one state as a graph of resistances."""

    index: IndexedDesign
    network: Network
    state: State

    @cached_property
    def steps(self) -> Mapping[str, list[Way]]:
        return neighbours(self.index.design, self.network.elements, RunSide.RETURN)

    def parts(self, negative: str, battery: str) -> Floats | None:
        """What flows in each element of an ampere from a battery's post to a source's; None where there is no way."""
        nodes = self._reached(battery)
        if negative not in nodes:
            return None
        at = {node: place for place, node in enumerate(nodes)}
        element_ohm = np.maximum(self.state.resistances.element_ohm, _LEAST_OHM)
        edges = {
            step.element: (node, step.to_node) for node in nodes for step in self.steps[node] if step.to_node in at
        }
        siemens = np.zeros((len(at), len(at)))
        for element, ends in edges.items():
            one, other = (at[end] for end in ends)
            if one != other:
                siemens[[one, other], [one, other]] += 1 / element_ohm[element]
                siemens[[one, other], [other, one]] -= 1 / element_ohm[element]
        volts, taken = np.zeros(len(at)), np.zeros(len(at))
        taken[at[negative]] = -1.0
        volts[1:] = np.linalg.solve(siemens[1:, 1:], taken[1:])  # the battery's post is the first, at 0 V
        part = np.zeros(self.network.elements.count)
        for element, ends in edges.items():
            part[element] = abs(volts[at[ends[0]]] - volts[at[ends[1]]]) / element_ohm[element]
        return np.where(part > 1e-9, part, 0.0)

    def _reached(self, battery: str) -> list[str]:
        """Every node on the ways back that hang together with a battery's post, that one first."""
        nodes = self.index.nodes
        shut = self.state.feeding.setting.shut
        reached, place = [battery], 0
        while place < len(reached):
            for step in self.steps.get(reached[place], ()):
                node = nodes.get(step.to_node)
                leads = node is None or node.kind is not NodeKind.CHASSIS or node.metal
                if step.to_node not in reached and step.to_node not in shut and leads:
                    reached.append(step.to_node)
            place += 1
        return reached
