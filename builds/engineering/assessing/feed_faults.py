"""
The least that a short at each node of the power tree draws, the whole way out and back, conductors hot.

A feed's own device must notice it. The way back from a node is taken as the worst of those that the circuits behind it
have: a feed has no return of its own. In a ring the way out is the walked one, which is the longer of two at most.
"""

import numpy as np

from builds.engineering.assessing.conversion import limit_ohm, nominal_v
from builds.engineering.assessing.fault_heat import elements_at_fault_ohm
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.states import Network, State

__all__ = ["node_faults_a"]

_LEAST_OHM = 1e-6


def node_faults_a(index: IndexedDesign, network: Network) -> dict[str, float]:
    """Return the least current of a short at each node that has fed circuits behind it, by node [A]."""
    inside_ohm = np.array([n.battery.internal_mohm / 1000 if n.battery else 0.0 for n in index.batteries()])
    least: dict[str, float] = {}
    for state in network.states:
        element_ohm = elements_at_fault_ohm(index, network, state)
        loop_ohm = state.feeding.loop_ohm(element_ohm) + inside_ohm @ state.feeding.battery**2
        out_ohm = _ways_out_ohm(network, state, element_ohm.tolist())
        for (panel, root), most_ohm in _worst_loops(state, loop_ohm.tolist()).items():
            home_ohm = max(most_ohm - out_ohm.get(panel, 0.0), 0.0)
            source = index.nodes[root]
            for node in state.feeding.supply_tree.nodes_to(panel)[1:]:
                current_a = nominal_v(source) / max(home_ohm + out_ohm[node] + limit_ohm(source), _LEAST_OHM)
                least[node] = min(least.get(node, np.inf), current_a)
    return least


def _worst_loops(state: State, loop_ohm: list[float]) -> dict[tuple[str, str], float]:
    """The largest loop of the circuits of each panel, by panel and battery [Ω]."""
    worst: dict[tuple[str, str], float] = {}
    feeding = state.feeding
    panels = [feeding.panels.names[column][0] for column in feeding.panels.column]
    for panel, root, ohm in zip(panels, feeding.root, loop_ohm, strict=True):
        key = (panel, root)
        worst[key] = max(worst.get(key, 0.0), ohm)
    return worst


def _ways_out_ohm(network: Network, state: State, element_ohm: list[float]) -> dict[str, float]:
    """Resistance of the walked way from its battery to each node, the nodes' own counted [Ω]."""
    tree, row_of = state.feeding.supply_tree, network.elements.node_row
    ohm: dict[str, float] = {
        root: element_ohm[row_of[root]] for root in dict.fromkeys(tree.root_of.values()) if root in row_of
    }
    for node, parent in tree.parent_of.items():  # in the order of reaching: parents first
        row = row_of.get(node)
        own = element_ohm[row] if row is not None else 0.0
        ohm[node] = ohm.get(parent, 0.0) + element_ohm[tree.step_to[node].element] + own
    return ohm
