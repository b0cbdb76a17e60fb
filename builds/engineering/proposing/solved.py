"""A design solved once for its proposals: what an assessment works out on the way, kept."""

from collections.abc import Mapping
from dataclasses import dataclass

from builds.engineering.assessing.circuit_results import CircuitFacts, circuit_facts
from builds.engineering.assessing.feed_faults import node_faults_a
from builds.engineering.assessing.indexed import IndexedDesign, index_design, resized_index
from builds.engineering.assessing.run_results import Feeders, RunFacts, element_currents, feeders_of, run_facts
from builds.engineering.assessing.shorts import Shorts, shorts_of
from builds.engineering.assessing.states import Network, solve_states
from builds.engineering.assessing.worst_drops import worst_drops
from builds.engineering.design import Design

__all__ = ["Solved", "over_limit", "solve"]


@dataclass(frozen=True, slots=True)
class Solved:
    """A design with its solved distribution and the facts of its circuits and runs."""

    index: IndexedDesign
    network: Network
    shorts: Shorts
    feeders: Feeders
    circuits: tuple[CircuitFacts, ...]
    runs: tuple[RunFacts, ...]
    faults_a: Mapping[str, float]


def solve(design: Design, was: Solved | None = None) -> Solved:
    """
    Return a design solved whose conditions have on what its function schedule lights (see ``coupled``).

    ``was`` is one that differs from it in the sizes of wires and devices alone: what it asks for is the same.
    """
    index = index_design(design) if was is None else resized_index(was.index, design)
    network = solve_states(index, None if was is None else was.network)
    shorts, feeders = shorts_of(index, network), feeders_of(index, network)
    currents = element_currents(index, network)
    return Solved(
        index,
        network,
        shorts,
        feeders,
        circuit_facts(index, network, shorts),
        run_facts(index, network, shorts, currents, feeders),
        node_faults_a(index, network),
    )


def over_limit(design: Design) -> frozenset[str]:
    """Return the circuits, by number, that lose more than their rule allows in some condition."""
    index = index_design(design)
    drops = worst_drops(index, solve_states(index))
    return frozenset(
        number
        for number, drop in drops.items()
        if drop.condition and drop.drop_v > drop.rule.limit_ratio * drop.rule.base_v
    )
