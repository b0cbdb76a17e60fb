"""
What circuits and runs take once their loads have the voltage that their limits leave them.

A starved constant-power load takes the more, the further it sinks; what is chosen for it ends that, and has to carry no more
than it takes at its limit.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from builds.engineering.assessing.circuit_results import CircuitFacts, Needs
from builds.engineering.assessing.demand import most_in_step
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.solving import Floats
from builds.engineering.assessing.states import Network, State

__all__ = ["Currents", "currents_of", "sated"]


@dataclass(frozen=True, slots=True)
class Currents:
    """What flows at the limits, sizing and continuous, by circuit number; and sizing by run."""

    of_circuits_a: Mapping[str, tuple[float, float]]
    of_runs_a: Mapping[str, float]


def currents_of(index: IndexedDesign, network: Network) -> Currents:
    """Return what circuits and runs take where every load loses as much as its limit allows [A]."""
    circuits: dict[str, tuple[float, float]] = {}
    elements = np.zeros(network.elements.count)
    for state in network.states:
        if not state.chosen or not state.feeding.circuits:
            continue
        sizing_a, continuous_a = _most_a(index, network, state)
        elements = np.maximum(elements, state.through_a(sizing_a).max(axis=1))
        columns = zip(sizing_a.max(axis=1).tolist(), continuous_a.max(axis=1).tolist(), strict=True)
        for circuit, (sizing, continuous) in zip(state.feeding.circuits, columns, strict=False):
            was = circuits.get(circuit.number, (0.0, 0.0))
            circuits[circuit.number] = max(was[0], sizing), max(was[1], continuous)
    rows = network.elements.run_row
    return Currents(circuits, {key: float(elements[row]) for key, row in rows.items()})


def _most_a(index: IndexedDesign, network: Network, state: State) -> tuple[Floats, Floats]:
    """Sizing and continuous current of the circuits, each load at the voltage within its limit at which it takes most."""
    demand, columns = network.demand, list(state.chosen)
    rules = [index.drop_rule(load) for load in demand.loads]
    limit_v = np.array([rule.limit_ratio * rule.base_v for rule in rules]).reshape(-1, 1)
    least_v = np.array([load.min_v for load in demand.loads]).reshape(-1, 1)
    hottest_c = max(case.conductor_temp_c for case in state.drops)
    post_v = state.feeds.at_loads(state.low.source_v - state.before_post_v(state.low.flowing_a, hottest_c))
    at_v = np.maximum(np.maximum(post_v - limit_v, least_v), 1.0)
    lit_a = (
        demand.lit.constant_a
        + demand.lit.conductance_s * state.feeds.at_loads(state.high.source_v)
        + demand.lit.power_w / at_v
    )
    each_a = lit_a * demand.sizing[:, columns]  # also where there is no operating point yet
    asleep_a = state.feeds.summed(demand.asleep_a[:, columns])
    whole_a, continuous_a = (
        most_in_step(state.feeds, state.moments, lit_a, asked_a) + asleep_a
        for asked_a in (each_a, each_a * demand.continuous[:, None])
    )
    return whole_a, continuous_a


def sated(facts: CircuitFacts, currents: Currents) -> Needs:
    """Return what is asked of a starved circuit once it has its voltage: not what it takes as it sinks."""
    sizing_a, continuous_a = currents.of_circuits_a.get(facts.circuit.number, (0.0, 0.0))
    return facts.needs._replace(current_a=sizing_a, continuous_a=continuous_a)
