"""
The columns that plain sweeps do not decide: loads below their least voltage, and conditions near or past collapse.

Those go, one condition at a time, to the network as drawn, which switches off what falls below its least voltage, finds
the upper root where there is one, and names the load that is too much where there is none.
"""

from dataclasses import dataclass

import numpy as np

from builds.engineering.assessing.conversion import Conversion, input_node
from builds.engineering.assessing.demand import Demand, Feeds
from builds.engineering.assessing.links import links_of
from builds.engineering.assessing.sharing import joined_roots
from builds.engineering.assessing.solving import Floats, Resistances
from builds.engineering.assessing.topology import Feeding
from builds.engineering.assessing.trees import Elements, Tree
from builds.engineering.electrical.network import (
    Network,
    NetworkBranch,
    NetworkConverter,
    NetworkLoad,
    NetworkSource,
    build_network,
)
from builds.engineering.electrical.network_result import NoOperatingPoint
from builds.engineering.electrical.network_solver import solve_network
from builds.engineering.vocabulary import LoadModel

__all__ = ["Drawn", "Settled", "draw_network", "settle"]

_INPUT = "input "  # of a converter
_ASLEEP = "asleep "  # a circuit's sleeping loads together, as one load


@dataclass(frozen=True, slots=True)
class Drawn:
    """A state's network as drawn, and the rows of its loads: those of the demand first, then one per circuit asleep."""

    network: Network
    fed: tuple[int, ...]
    roots: tuple[str, ...]
    converters: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Settled:
    """One condition settled: circuit voltages, which loads and converters are off, or why it has no operating point."""

    voltage_v: Floats
    off: Floats
    converters_off: Floats
    collapse: NoOperatingPoint | None


def draw_network(
    feeding: Feeding,
    elements: Elements,
    resistances: Resistances,
    demand: Demand,
    *,
    temperature_c: float,
    with_lockouts: bool,
) -> Drawn:
    """Return the network of one isolator state with its conductors at a temperature; loads lock out only where asked."""
    element_ohm, own_ohm = resistances.at(temperature_c)
    fed_by = set(feeding.root)
    together = [roots for roots in joined_roots(feeding.supply_tree) if fed_by & set(roots)]
    roots = tuple(root for group in together for root in group if root in elements.batteries)
    made = [part for part in feeding.conversions if part.key in {root for group in together for root in group}]
    branches = [*_branches("+", feeding.supply_tree, elements, element_ohm)]
    branches += _branches("-", feeding.return_tree, elements, element_ohm, without_own=frozenset(elements.batteries))
    for column, circuit in enumerate(feeding.circuits):
        ohm = float(own_ohm[column])
        branches.append(
            NetworkBranch(key=f"c{column}", from_node=f"+{circuit.panel}", to_node=f"c{column}", resistance_ohm=ohm)
        )
    fed = tuple(row for row, load in enumerate(demand.loads) if load.circuit in feeding.column_of)
    network = build_network(
        sources=[NetworkSource(key=root, positive_node=f"+{root}", negative_node=f"-{root}") for root in roots],
        branches=_reachable(branches, feeding, (*roots, *(part.key for part in made))),
        loads=[
            *(_load(demand, row, feeding, with_lockouts=with_lockouts) for row in fed),
            *_sleepers(feeding),
            *(_taker(part) for part in feeding.conversions if part not in made),
        ],
        converters=[_converter(part, with_lockouts=with_lockouts) for part in made],
    )
    return Drawn(network, fed, roots, tuple(part.key for part in feeding.conversions))


def _converter(part: Conversion, *, with_lockouts: bool) -> NetworkConverter:
    spec = part.spec
    return NetworkConverter(
        key=_INPUT + part.key,
        supply_node=f"+{input_node(part.key)}",
        return_node=f"-{spec.return_node}",
        positive_node=f"+{part.key}",
        negative_node=f"-{spec.return_node}",
        output_v=spec.output_v,
        limit_a=spec.limit_a,
        efficiency_ratio=spec.efficiency_ratio,
        idle_w=spec.idle_w,
        min_v=spec.min_v if with_lockouts else 0.0,
    )


def _taker(part: Conversion) -> NetworkLoad:
    """A converter that feeds no bus of its own: it takes for the battery that it charges, else for itself."""
    spec = part.spec
    power_w = spec.output_v * (spec.limit_a if part.charges else 0.0) / spec.efficiency_ratio + spec.idle_w
    return NetworkLoad(
        key=_INPUT + part.key,
        supply_node=f"+{input_node(part.key)}",
        return_node=f"-{spec.return_node}",
        model=LoadModel.CONSTANT_POWER,
        current_a=power_w / spec.output_v,
        at_v=spec.output_v,
    )


def _branches(
    mark: str, tree: Tree, elements: Elements, element_ohm: Floats, without_own: frozenset[str] = frozenset()
) -> list[NetworkBranch]:
    """One branch a link: the elements between two nodes."""
    return [
        NetworkBranch(
            key=f"{mark}{number}",
            from_node=f"{mark}{link.one}",
            to_node=f"{mark}{link.other}",
            resistance_ohm=float(sum(element_ohm[row] for row in link.rows)),
        )
        for number, link in enumerate(links_of(tree, elements, without_own=without_own))
    ]


def _reachable(branches: list[NetworkBranch], feeding: Feeding, roots: tuple[str, ...]) -> list[NetworkBranch]:
    """Branches that hang on a battery which feeds something; the others carry nothing."""
    hanging = {f"+{node}" for node, root in feeding.supply_tree.root_of.items() if root in roots}
    hanging |= {f"-{node}" for node in feeding.return_tree.root_of}
    return [branch for branch in branches if branch.from_node in hanging]


def _load(demand: Demand, row: int, feeding: Feeding, *, with_lockouts: bool) -> NetworkLoad:
    load = demand.loads[row]
    column = feeding.column_of[load.circuit]
    return NetworkLoad(
        key=load.key,
        supply_node=f"c{column}",
        return_node=f"-{feeding.circuits[column].return_node}",
        model=load.model,
        current_a=load.current_a * load.quantity,
        at_v=load.at_v,
        min_v=load.min_v if with_lockouts else 0.0,
    )


def _sleepers(feeding: Feeding) -> list[NetworkLoad]:
    """One load of 1 A a circuit, scaled to what its sleeping loads take."""
    return [
        NetworkLoad(
            key=f"{_ASLEEP}{circuit.number}",
            supply_node=f"c{column}",
            return_node=f"-{circuit.return_node}",
            model=LoadModel.CONSTANT_CURRENT,
            current_a=1.0,
            at_v=12.0,
        )
        for column, circuit in enumerate(feeding.circuits)
    ]


def settle(
    drawn: Drawn,
    feeds: Feeds,
    *,
    source_v: dict[str, float],
    internal_ohm: dict[str, float],
    on: Floats,
    asleep_a: Floats,
) -> Settled:
    """
    Settle one condition.

    Parameters
    ----------
    drawn, feeds : Drawn, Feeds
        The state's network as drawn, and which circuit feeds which load.
    source_v : dict
        Voltage of each source that feeds something. [V]
    internal_ohm : dict
        Resistance inside each battery, 0 where the source is held at its post. [Ω]
    on, asleep_a : array, one per load of the demand
        Factor of the lit current, and the current while asleep. [1], [A]
    """
    sleepers = [row for row in range(len(drawn.network.loads)) if drawn.network.loads[row].key.startswith(_ASLEEP)]
    takers = len(drawn.network.loads) - len(drawn.network.converters) - len(drawn.fed) - len(sleepers)
    asleep = feeds.summed(asleep_a[:, None])[: len(sleepers), 0]
    scale = np.concatenate([on[list(drawn.fed)], asleep, np.ones(takers)])
    result = solve_network(
        drawn.network,
        emf_v=np.array([[source_v[root]] for root in drawn.roots]),
        source_ohm=np.array([[internal_ohm[root]] for root in drawn.roots]),
        load_scale=scale[:, None],
    )
    off = np.zeros(len(feeds.row))
    off[list(drawn.fed)] = (result.cut_out | result.unfed)[: len(drawn.fed), 0]
    inputs = [result.row_of(_INPUT + key) for key in drawn.converters]
    at_circuit = result.load_v[[*sleepers, *inputs], 0]
    collapse = result.no_operating_point[0] if result.no_operating_point else None
    return Settled(np.array(at_circuit), off, result.cut_out[inputs, 0].astype(np.float64), collapse)
