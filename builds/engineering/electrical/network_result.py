"""
What a solved distribution says: arrays with their keys, and the way of one load explained when it is asked for.

Four hundred loads in twelve conditions are 4,800 figures; as objects they would cost more than solving them did.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from builds.engineering.electrical.network import Network
from builds.engineering.electrical.network_collapse import Collapsed, largest_demand_ratio
from builds.engineering.electrical.network_forest import Floats
from builds.engineering.errors import UnknownTableEntry

__all__ = ["BranchDrop", "LoadExplanation", "NetworkResult", "NoOperatingPoint"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BranchDrop:
    """One branch on a load's way; ``current_a`` is everything that flows in it, not this load's part."""

    key: str
    is_return: bool
    current_a: float
    resistance_ohm: float
    drop_v: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadExplanation:
    """
    How a load comes by its voltage: source posts, then every branch out, then every branch back.

    ``load_v`` = ``terminal_v`` - the sum of the branch drops, to rounding.
    """

    load: str
    condition: int
    source: str
    emf_v: float
    terminal_v: float
    load_v: float
    load_a: float
    cut_out: bool
    branches: tuple[BranchDrop, ...]

    @property
    def drop_v(self) -> float:
        """Voltage lost between the posts and the load."""
        return self.terminal_v - self.load_v


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class NoOperatingPoint:
    """A condition that no voltages satisfy: the load named, and the power it asks by its data sheet."""

    condition: int
    load: str
    wanted_w: float
    _network: Network
    _collapsed: Collapsed

    @classmethod
    def of(cls, network: Network, collapsed: Collapsed, condition: int, scale: Floats) -> "NoOperatingPoint":
        """Return the record of a collapsed condition whose loads are on by ``scale`` (solving order)."""
        load = network.loads[int(network.order[collapsed.load])]
        wanted_w = float(load.current_a * load.at_v * scale[collapsed.load])
        return cls(condition=condition, load=load.key, wanted_w=wanted_w, _network=network, _collapsed=collapsed)

    def largest_w(self) -> float:
        """
        Return the largest power the load could ask with all else as it is; 0 if not even its absence is enough.

        Found by bisection over two dozen solutions, so it is worked out only when asked for.
        """
        return self.wanted_w * largest_demand_ratio(self._network, self._collapsed)


@dataclass(frozen=True, eq=False, kw_only=True)
class NetworkResult:
    """
    Voltages and currents, read-only, loads / sources / nodes × conditions.

    ``load_a`` and ``load_v`` are in the order of ``network.loads``; the voltage of a load that is off is what stands at
    its terminals. ``through_a`` is the current of the branch between each node and its parent, counted in the direction it
    normally flows (out on the supply side, back on the return side); ``drop_v`` what is lost from the post to the node on
    the supply side, the node's rise above the negative post on the return side. Nodes are ``network.forest.names``.
    """

    network: Network
    load_a: Floats
    load_v: Floats
    cut_out: NDArray[np.bool_]
    source_a: Floats
    emf_v: Floats
    terminal_v: Floats
    through_a: Floats
    drop_v: Floats
    no_operating_point: tuple[NoOperatingPoint, ...]
    sweeps: int
    _row: dict[str, int] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        for name in ("load_a", "load_v", "cut_out", "source_a", "emf_v", "terminal_v", "through_a", "drop_v"):
            getattr(self, name).flags.writeable = False
        object.__setattr__(self, "_row", {load.key: row for row, load in enumerate(self.network.loads)})

    @property
    def conditions(self) -> int:
        """How many conditions were solved together."""
        return int(self.load_a.shape[1])

    def row_of(self, load: str) -> int:
        """Return a load's row. Raises UnknownTableEntry."""
        if load not in self._row:
            raise UnknownTableEntry("The network", load)
        return self._row[load]

    def node_v(self) -> Floats:
        """Return each node's voltage above the first source's negative post, nodes × conditions."""
        forest = self.network.forest
        volts = np.array(self.drop_v)
        for source, post in enumerate(self.network.sources):
            negative_v = self.drop_v[self.network.negative_of_source[source]]
            for name, root in forest.root_of.items():
                if root == post.positive_node:
                    at = forest.position[name]
                    volts[at] = negative_v + self.terminal_v[source] - self.drop_v[at]
        return volts

    def branch_a(self) -> Floats:
        """Return each branch's current in the order of ``network.branches``, branches × conditions."""
        amps = np.zeros((len(self.network.branches), self.conditions))
        for node, shares in enumerate(self.network.forest.shares):
            for branch, share in shares:
                amps[branch] = share * self.through_a[node]
        return amps

    def explain(self, load: str, condition: int) -> LoadExplanation:
        """
        Return how a load comes by its voltage in one condition.

        Raises
        ------
        UnknownTableEntry
            If the network has no such load.
        """
        network, row = self.network, self.row_of(load)
        part = network.loads[row]
        source = next(
            i for i, s in enumerate(network.sources) if s.positive_node == network.forest.root_of[part.supply_node]
        )
        return LoadExplanation(
            load=load,
            condition=condition,
            source=network.sources[source].key,
            emf_v=float(self.emf_v[source, condition]),
            terminal_v=float(self.terminal_v[source, condition]),
            load_v=float(self.load_v[row, condition]),
            load_a=float(self.load_a[row, condition]),
            cut_out=bool(self.cut_out[row, condition]),
            branches=self._way(part.supply_node, part.return_node, network.sources[source].negative_node, condition),
        )

    def _way(self, supply_node: str, return_node: str, negative_node: str, condition: int) -> tuple[BranchDrop, ...]:
        forest = self.network.forest
        out = forest.way(forest.position[supply_node])
        back, beyond = forest.between(forest.position[return_node], forest.position[negative_node])
        # Behind the first battery's post, a second battery's return runs against the direction counted as usual.
        steps = (
            [(n, False, 1.0) for n in out]
            + [(n, True, 1.0) for n in reversed(back)]
            + [(n, True, -1.0) for n in beyond]
        )
        return tuple(part for node, is_return, sign in steps for part in self._drops(node, is_return, sign, condition))

    def _drops(self, node: int, is_return: bool, sign: float, condition: int) -> list[BranchDrop]:
        """The branch at a node; of several side by side the first named carries the drop, the others none of it."""
        forest = self.network.forest
        total_a = sign * float(self.through_a[node, condition])
        drops = []
        for order, (branch, share) in enumerate(forest.shares[node]):
            part = self.network.branches[branch]
            drop_v = total_a * float(forest.ohm[node]) if order == 0 else 0.0
            drops.append(
                BranchDrop(
                    key=part.key,
                    is_return=is_return,
                    current_a=share * total_a,
                    resistance_ohm=part.resistance_ohm,
                    drop_v=drop_v,
                )
            )
        return drops
