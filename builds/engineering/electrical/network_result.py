"""
What a solved distribution says: arrays with their keys, and the way of one load explained when it is asked for.

Four hundred loads in twelve conditions are 4,800 figures; as objects they would cost more than solving them did.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from builds.engineering.electrical.network import Network
from builds.engineering.electrical.network_laws import Bools
from builds.engineering.electrical.network_rings import Floats
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
    largest_ratio: Callable[[], float]

    def largest_w(self) -> float:
        """
        Return the largest power the load could ask with all else as it is; 0 if not even its absence is enough.

        Found by trying some ninety demands, so it is worked out only when asked for.
        """
        return self.wanted_w * self.largest_ratio()


@dataclass(frozen=True, eq=False, kw_only=True)
class NetworkResult:
    """
    Voltages and currents, read-only, loads / sources / nodes × conditions.

    ``load_a`` and ``load_v`` are in the order of ``network.loads``; the voltage of a load that is off is what stands at
    its terminals. ``unfed`` loads stand where no source that has anything to give reaches. ``at_limit`` marks sources that
    give or take all they can. ``down_a`` is the current in each node's branch away from its root, ``around_a`` that of the
    branches that close rings; ``node_v`` counts from the first source's negative post. Nodes are ``network.forest.names``.
    """

    network: Network
    load_a: Floats
    load_v: Floats
    cut_out: Bools
    unfed: Bools
    source_a: Floats
    at_limit: Bools
    emf_v: Floats
    terminal_v: Floats
    down_a: Floats
    around_a: Floats
    node_v: Floats
    no_operating_point: tuple[NoOperatingPoint, ...]
    sweeps: int

    def __post_init__(self) -> None:
        for value in vars(self).values():
            if isinstance(value, np.ndarray):
                value.flags.writeable = False

    @property
    def conditions(self) -> int:
        """How many conditions were solved together."""
        return int(self.load_a.shape[1])

    @cached_property
    def _row(self) -> dict[str, int]:
        return {load.key: row for row, load in enumerate(self.network.loads)}

    def row_of(self, load: str) -> int:
        """Return a load's row. Raises UnknownTableEntry."""
        if load not in self._row:
            raise UnknownTableEntry("The network", load)
        return self._row[load]

    def branch_a(self) -> Floats:
        """Return each branch's current from its ``from_node`` to its ``to_node``, in the order of ``network.branches``."""
        ends = [(branch.from_node, branch.to_node) for branch in self.network.branches]
        return self.network.forest.flows(ends, self.down_a, self.around_a)

    def explain(self, load: str, condition: int, ends: tuple[str, str] | None = None) -> LoadExplanation:
        """
        Return how a load comes by its voltage in one condition: one way out to it and one back.

        Counted from the posts of the source that gives most, or between the two nodes ``ends``, a positive and a negative one.
        Where rings offer several ways the voltage is the same over each; the one told is the shortest.

        Raises
        ------
        UnknownTableEntry
            If the network has no such load.
        """
        network, row = self.network, self.row_of(load)
        forest, part = network.forest, network.loads[row]
        supply, back = forest.position[part.supply_node], forest.position[part.return_node]
        source = self._source_of(supply, back, condition)
        posts = network.sources[source]
        terminal_v = float(self.terminal_v[source, condition])
        if ends is None:
            ends = posts.positive_node, posts.negative_node
        else:
            out_v, home_v = (float(self.node_v[forest.position[end], condition]) for end in ends)
            terminal_v = out_v - home_v
        positive, negative = (forest.position[end] for end in ends)
        parts = (
            *self._way(positive, supply, condition, is_return=False),
            *self._way(back, negative, condition, is_return=True),
        )
        return LoadExplanation(
            load=load,
            condition=condition,
            source=posts.key,
            emf_v=float(self.emf_v[source, condition]),
            terminal_v=terminal_v,
            load_v=float(self.load_v[row, condition]),
            load_a=float(self.load_a[row, condition]),
            cut_out=bool(self.cut_out[row, condition]),
            branches=parts,
        )

    def _source_of(self, supply: int, back: int, condition: int) -> int:
        """Of the sources that stand in both a load's trees, the one that gives most."""
        tree_of, grid = self.network.forest.tree_of, self.network.grid
        at_both = (tree_of[grid.positive_at] == tree_of[supply]) & (tree_of[grid.negative_at] == tree_of[back])
        given = np.where(at_both, np.nan_to_num(self.source_a[:, condition]), -np.inf)
        return int(given.argmax())

    def _way(self, start: int, end: int, condition: int, *, is_return: bool) -> Iterator[BranchDrop]:
        """The branches between two nodes of a tree, in order, each counted along the way."""
        up, down = self.network.forest.between(start, end)
        for node, sign in [*((node, -1.0) for node in reversed(up)), *((node, 1.0) for node in down)]:
            yield from self._drops(node, is_return, sign, condition)

    def _drops(self, node: int, is_return: bool, sign: float, condition: int) -> list[BranchDrop]:
        """The branch at a node; of several side by side the first named carries the drop, the others none of it."""
        forest = self.network.forest
        total_a = sign * float(self.down_a[node, condition])
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
