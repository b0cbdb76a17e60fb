"""
The columns that plain sweeps do not decide: loads below their least voltage, and conditions near or past collapse.

Those go, one condition at a time, to the network as drawn, which switches off what falls below its least voltage, finds
the upper root where there is one, and names the load that is too much where there is none.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from builds.engineering.assessing.demand import Demand, Feeds
from builds.engineering.assessing.drawn_parts import INPUT, drawn_parts
from builds.engineering.assessing.solving import Floats, Resistances
from builds.engineering.assessing.topology import Feeding
from builds.engineering.assessing.trees import Elements
from builds.engineering.electrical.network import Network, NetworkSource, build_network
from builds.engineering.electrical.network_result import NoOperatingPoint
from builds.engineering.electrical.network_solver import solve_network

__all__ = ["Drawn", "Settled", "draw_network", "settle", "settled_together"]


@dataclass(frozen=True, slots=True)
class Drawn:
    """A state's network as drawn, and the rows of its loads: those of the demand first, then one per circuit asleep."""

    network: Network
    fed: tuple[int, ...]
    roots: tuple[str, ...]
    sleepers: int
    converters: tuple[str, ...]


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
    parts = drawn_parts(feeding, elements, *resistances.at(temperature_c), demand, with_lockouts=with_lockouts)
    network = build_network(
        sources=[_source(feeding, root) for root in parts.batteries],
        branches=[drawn.branch for drawn in parts.branches],
        loads=parts.loads,
        converters=parts.converters,
    )
    converters = tuple(part.key for part in feeding.conversions)
    return Drawn(network, parts.fed, parts.batteries, len(parts.sleepers), converters)


def _source(feeding: Feeding, root: str) -> NetworkSource:
    """A battery, or in its place what charges it over a cable that is drawn."""
    fed = () if feeding.from_sources is None else feeding.from_sources.fed
    ends = next(((charger.key, charger.negative) for charger in fed if charger.battery == root), (root, root))
    return NetworkSource(key=root, positive_node=f"+{ends[0]}", negative_node=f"-{ends[1]}")


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
    network, first = drawn.network, len(drawn.fed)
    takers = len(network.loads) - len(network.converters) - first - drawn.sleepers
    asleep = feeds.summed(asleep_a[:, None])[: drawn.sleepers, 0]
    scale = np.concatenate([on[list(drawn.fed)], asleep, np.ones(takers)])
    result = solve_network(
        drawn.network,
        emf_v=np.array([[source_v[root]] for root in drawn.roots]),
        source_ohm=np.array([[internal_ohm[root]] for root in drawn.roots]),
        load_scale=scale[:, None],
    )
    off = np.zeros(len(feeds.row))
    off[list(drawn.fed)] = (result.cut_out | result.unfed)[: len(drawn.fed), 0]
    inputs = [result.row_of(INPUT + key) for key in drawn.converters]
    at_circuit = result.load_v[[*range(first, first + drawn.sleepers), *inputs], 0]
    collapse = result.no_operating_point[0] if result.no_operating_point else None
    return Settled(np.array(at_circuit), off, result.cut_out[inputs, 0].astype(np.float64), collapse)


def settled_together(feeds: Feeds, feeding: Feeding, lost_v: Floats, by_lost_v: Mapping[float, Settled]) -> Settled:
    """
    Put together what was settled for circuits behind diodes and for those that are not.

    Parameters
    ----------
    feeds, feeding : Feeds, Feeding
        Which circuit feeds which load, and where converters stand.
    lost_v : array, circuits
        What diodes take before each circuit. [V]
    by_lost_v : mapping of float to Settled
        The condition settled with that much taken before everything. [V]
    """
    chosen = [by_lost_v[float(lost)] for lost in lost_v]
    voltage_v = np.array([one.voltage_v[row] for row, one in enumerate(chosen)])
    off = np.array([chosen[row].off[load] for load, row in enumerate(feeds.row)])
    converters_off = np.array([chosen[part.row].converters_off[at] for at, part in enumerate(feeding.conversions)])
    collapse = next((one.collapse for one in by_lost_v.values() if one.collapse), None)
    return Settled(voltage_v, off, converters_off, collapse)
