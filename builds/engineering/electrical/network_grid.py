"""
Where loads and sources hang on the trees: currents drawn in, voltages read off.

A *point* is a pair of nodes, one on a supply and one on a return side, between which loads stand. A *post* is a node that a
source stands at. The same class serves the whole drawing and its core, which is what is left when every point's own way up
to the first node it shares is taken off: the loads' own ways need no sweep.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from builds.engineering.electrical.network_forest import Trees
from builds.engineering.electrical.network_rings import Floats, Ints

__all__ = ["Grid", "core_of"]


@dataclass(frozen=True, eq=False, kw_only=True)
class Grid:
    """Trees, and the nodes of every point (supply, return) and of every source (positive, negative)."""

    trees: Trees
    supply_at: Ints
    return_at: Ints
    positive_at: Ints
    negative_at: Ints

    def drawn(self, point_a: Floats) -> Floats:
        """Return what the points draw at each node, nodes × conditions: out of supply nodes, into return nodes."""
        drawn = np.zeros((self.trees.size, point_a.shape[1]))
        if len(point_a):
            (order, starts, nodes), back = self._ports
            drawn[nodes] = (
                point_a[order] if len(nodes) == len(order) else np.add.reduceat(point_a[order], starts, axis=0)
            )
            order, starts, nodes = back
            drawn[nodes] -= (
                point_a[order] if len(nodes) == len(order) else np.add.reduceat(point_a[order], starts, axis=0)
            )
        return drawn

    def drawn_with_sources(self, point_a: Floats, source_a: Floats) -> Floats:
        """Return the same with what the sources give, sources × conditions."""
        drawn = self.drawn(point_a)
        for source in range(len(source_a)):
            drawn[self.positive_at[source]] -= source_a[source]
            drawn[self.negative_at[source]] += source_a[source]
        return drawn

    def across_points(self, node_v: Floats) -> Floats:
        """Return the voltage between each point's nodes, points × conditions."""
        return np.asarray(node_v[self.supply_at] - node_v[self.return_at])

    def across_posts(self, node_v: Floats) -> Floats:
        """Return the voltage between each source's posts, sources × conditions."""
        return np.asarray(node_v[self.positive_at] - node_v[self.negative_at])

    @cached_property
    def _ports(self) -> tuple[tuple[Ints, Ints, Ints], ...]:
        """Points gathered by node, supply then return: the points in order, where each node's begin, the nodes."""
        ports = []
        for at in (self.supply_at, self.return_at):
            order = np.argsort(at, kind="stable")
            nodes, starts = np.unique(at[order], return_index=True)
            ports.append((order, starts, nodes))
        return tuple(ports)

    @cached_property
    def lift(self) -> Floats:
        """Volts that an ampere of each source lifts each node by, nodes × sources; 0 where its posts are roots."""
        given = np.eye(len(self.positive_at))
        _, drop, _ = self.trees.sweep(self.drawn_with_sources(np.zeros((0, len(given))), -given))
        return drop

    @cached_property
    def between(self) -> Floats:
        """Volts that an ampere of each source (column) lifts each source's posts apart by (row)."""
        return self.across_posts(self.lift)

    @cached_property
    def transfer(self) -> Floats:
        """Volts that each node loses by an ampere drawn at each node, nodes × nodes."""
        _, drop, _ = self.trees.sweep(np.eye(self.trees.size))
        return drop

    @cached_property
    def pairs(self) -> tuple[Ints, Ints]:
        """One point of each pair of nodes that points stand between, and for every point which of those it is like."""
        both = self.supply_at * self.trees.size + self.return_at
        _, first, like = np.unique(both, return_index=True, return_inverse=True)
        return first, like

    @cached_property
    def cells(self) -> tuple[Ints, Ints, Ints]:
        """Places of the node × node matrix that conductances between the points' nodes fall in: order, starts, places."""
        size, one, other = self.trees.size, self.supply_at, self.return_at
        places = np.concatenate([one * size + one, other * size + other, one * size + other, other * size + one])
        order = np.argsort(places, kind="stable")
        found, starts = np.unique(places[order], return_index=True)
        return order, starts, found

    def conductances(self, siemens: Floats) -> Floats:
        """Return the matrix of conductances between the points' nodes, conditions × nodes × nodes."""
        size = self.trees.size
        matrix = np.zeros((siemens.shape[1], size * size))
        if len(siemens):
            order, starts, places = self.cells
            parts = np.concatenate([siemens, siemens, -siemens, -siemens])[order]
            matrix[:, places] = np.add.reduceat(parts, starts, axis=0).T
        return matrix.reshape(-1, size, size)


def core_of(grid: Grid) -> tuple[Grid, Floats]:
    """
    Return the grid without the points' own ways, and the resistance of those, points × 1.

    A node is kept if two points, a source or a ring need it or what hangs on it.
    """
    trees = grid.trees
    needed = np.zeros(trees.size, dtype=np.int64)
    np.add.at(needed, np.concatenate([grid.supply_at, grid.return_at]), 1)
    ends = [node for closer in trees.rings.closers for node in (closer.one, closer.other)]
    needed[np.concatenate([grid.positive_at, grid.negative_at, np.array(ends, dtype=np.int64)])] += 2
    kept = (trees.below(needed) > 1) | (trees.parent < 0)
    at, ohm = trees.hung_on(kept)
    core, new = trees.restricted(kept)
    places = (new[at[nodes]] for nodes in (grid.supply_at, grid.return_at, grid.positive_at, grid.negative_at))
    supply, back, positive, negative = places
    own_ohm = ohm[grid.supply_at] + ohm[grid.return_at]
    return (
        Grid(trees=core, supply_at=supply, return_at=back, positive_at=positive, negative_at=negative),
        own_ohm[:, None],
    )
