"""
The distribution as drawn: sources, branches out and back, loads, converters; read once into ordered arrays.

Everything a source stands at hangs on its posts: what carries current out on one, what carries it back on the other, and
only loads and sources join the two. A wired return, a stud, a chassis body and a strap are all branches, so two circuits
that share a strap share its drop. Each part may have rings: conductors side by side, a bus fed from both ends, a second strap.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from builds.engineering.electrical.network_forest import Edge, Forest, grow_forest
from builds.engineering.electrical.network_grid import Grid, core_of
from builds.engineering.electrical.network_laws import Laws
from builds.engineering.electrical.network_parts import NetworkBranch, NetworkConverter, NetworkLoad, NetworkSource
from builds.engineering.electrical.network_rings import Floats, Ints
from builds.engineering.electrical.network_shared import Shared, Swept, shared_or_swept
from builds.engineering.electrical.network_sources import Posts
from builds.engineering.errors import Floating, NetworkError, OutOfRange, SelfFed, ShortCircuit, Unconnected
from builds.engineering.vocabulary import LoadModel

__all__ = ["Network", "NetworkBranch", "NetworkConverter", "NetworkLoad", "NetworkSource", "build_network"]


# Which part of a demand a load is, and the power of its stated voltage that turns its stated current into that.
_PART_OF = {LoadModel.CONSTANT_CURRENT: (0, 0), LoadModel.RESISTIVE: (1, -1), LoadModel.CONSTANT_POWER: (2, 1)}


@dataclass(frozen=True, eq=False, kw_only=True)
class Network:
    """
    A distribution ready to be solved; made by :func:`build_network`.

    Converters stand at the end of ``sources`` and of ``loads`` too. Loads between the same two nodes are one *point*;
    ``point_of_load`` says which.
    """

    sources: tuple[NetworkSource, ...]
    branches: tuple[NetworkBranch, ...]
    loads: tuple[NetworkLoad, ...]
    converters: tuple[NetworkConverter, ...]
    forest: Forest
    point_of_load: Ints
    grid: Grid
    core: Grid
    own_ohm: Floats
    posts: Posts
    shared: Shared | Swept

    @property
    def points(self) -> int:
        """How many pairs of nodes loads stand between."""
        return len(self.own_ohm)

    @cached_property
    def demand(self) -> tuple[Floats, Floats, Floats]:
        """Constant current, conductance and constant power of each load, loads × 1."""
        parts = np.zeros((3, len(self.loads), 1))
        for row, load in enumerate(self.loads):
            part, per_ampere = _PART_OF[load.model]
            parts[part, row] = load.current_a * load.at_v**per_ampere
        return parts[0], parts[1], parts[2]

    @cached_property
    def min_v(self) -> Floats:
        """Cut-out voltages as a column."""
        return np.array([[load.min_v] for load in self.loads]).reshape(-1, 1)

    @cached_property
    def load_trees(self) -> tuple[Ints, Ints]:
        """The trees that each load's supply and return node are in."""
        tree_of, at = self.forest.tree_of, self.point_of_load
        return tree_of[self.grid.supply_at[at]], tree_of[self.grid.return_at[at]]

    @cached_property
    def _by_point(self) -> tuple[Ints, Ints]:
        order = np.argsort(self.point_of_load, kind="stable")
        return order, np.searchsorted(self.point_of_load[order], np.arange(self.points))

    def of_points(self, of_loads: Floats) -> Floats:
        """Sum a figure of the loads over each point."""
        if self.points == len(self.loads):
            return of_loads
        order, starts = self._by_point
        return np.add.reduceat(of_loads[order], starts, axis=0)

    def laws(self, scale: Floats) -> Laws:
        """Return what the points take with each load on by ``scale``, loads × conditions."""
        current, siemens, power = (self.of_points(part * scale) for part in self.demand)
        return Laws.of(current, siemens, power, self.own_ohm)


def build_network(
    *,
    sources: Sequence[NetworkSource],
    branches: Sequence[NetworkBranch],
    loads: Sequence[NetworkLoad],
    converters: Sequence[NetworkConverter] = (),
) -> Network:
    """
    Return the distribution in solving order.

    Parameters
    ----------
    sources : sequence of NetworkSource
        At least one. The first one's negative post is the node that voltages are counted from.
    branches : sequence of NetworkBranch
        Runs, contacts, studs, straps, in any order and drawn in either direction.
    loads : sequence of NetworkLoad
        The loads, in any order.
    converters : sequence of NetworkConverter, optional
        What joins buses of different voltage.

    Returns
    -------
    Network
        To be given to :func:`~builds.engineering.electrical.network_solver.solve_network`.

    Raises
    ------
    ShortCircuit
        If branches join a source's own two posts; the keys name them.
    Unconnected
        If a branch, a load or a converter is reached from no source; the keys name them all.
    Floating
        If a load or a converter has no way back to what feeds it; the keys name them all.
    SelfFed
        If converters feed only each other; the keys name them.
    NetworkError
        If there is no source, a branch leads to its own node, or two parts carry one key.
    """
    _check_keys(sources, branches, loads, converters)
    sources = (*sources, *(part.output for part in converters))
    loads = (*loads, *(part.input for part in converters))
    edges = [
        Edge(index=i, key=b.key, ends=(b.from_node, b.to_node), ohm=b.resistance_ohm) for i, b in enumerate(branches)
    ]
    roots = [source.positive_node for source in sources] + [source.negative_node for source in sources]
    forest = grow_forest(roots, edges)
    _check_shorts(forest, sources, branches)
    _check_fed(forest, sources, branches, loads, converters)
    return _as_arrays(forest, sources, tuple(branches), loads, tuple(converters))


def _check_keys(
    sources: Sequence[NetworkSource],
    branches: Sequence[NetworkBranch],
    loads: Sequence[NetworkLoad],
    converters: Sequence[NetworkConverter],
) -> None:
    if not sources:
        raise NetworkError("A network needs a source.", ())
    for source in (*sources, *(part.output for part in converters)):
        if source.positive_node == source.negative_node:
            raise OutOfRange("negative_node", source.negative_node, "another node than positive_node")
    for family in (
        [source.key for source in sources],
        [branch.key for branch in branches],
        [load.key for load in (*loads, *(part.input for part in converters))],
    ):
        twice = tuple(sorted(key for key, times in Counter(family).items() if times > 1))
        if twice:
            raise NetworkError(f"Used twice: {', '.join(twice)}.", twice)


def _check_shorts(forest: Forest, sources: Sequence[NetworkSource], branches: Sequence[NetworkBranch]) -> None:
    for source in sources:
        positive, negative = forest.position[source.positive_node], forest.position[source.negative_node]
        if forest.tree_of[positive] == forest.tree_of[negative]:
            one, other = forest.between(positive, negative)
            keys = tuple(branches[index].key for node in one + other for index, _ in forest.shares[node])
            raise ShortCircuit(f"Source {source.key} is shorted by {', '.join(keys)}.", keys)


def _check_fed(
    forest: Forest,
    sources: Sequence[NetworkSource],
    branches: Sequence[NetworkBranch],
    loads: Sequence[NetworkLoad],
    converters: Sequence[NetworkConverter],
) -> None:
    """Refuse what hangs on nothing: each node's side is known by its tree, each tree by the posts in it."""
    tree = {name: int(forest.tree_of[at]) for name, at in forest.position.items()}
    lost = [branch.key for branch in branches if branch.from_node not in tree]
    supplies = {tree[source.positive_node] for source in sources}
    lost += [load.key for load in loads if tree.get(load.supply_node) not in supplies]
    if lost:
        raise Unconnected(f"No source reaches: {', '.join(lost)}.", tuple(lost))
    island = _islands(tree, sources)
    returns = {tree[source.negative_node] for source in sources}
    stuck = tuple(
        load.key
        for load in loads
        if tree.get(load.return_node) not in returns or island[tree[load.return_node]] != island[tree[load.supply_node]]
    )
    if stuck:
        raise Floating(f"No way leads back to the source from: {', '.join(stuck)}.", stuck)
    own = len(sources) - len(converters)
    live = {tree[source.positive_node] for source in sources[:own]}
    waiting = list(converters)
    while fed := [part for part in waiting if tree[part.supply_node] in live]:
        live |= {tree[part.positive_node] for part in fed}
        waiting = [part for part in waiting if part not in fed]
    if waiting:
        keys = tuple(part.key for part in waiting)
        raise SelfFed(f"Fed by nothing but themselves: {', '.join(keys)}.", keys)


def _islands(tree: dict[str, int], sources: Sequence[NetworkSource]) -> dict[int, int]:
    """A number for each tree that those share which sources join."""
    island = {number: number for number in tree.values()}
    for source in sources:
        one, other = island[tree[source.positive_node]], island[tree[source.negative_node]]
        island = {number: one if label == other else label for number, label in island.items()}
    return island


def _as_arrays(
    forest: Forest,
    sources: tuple[NetworkSource, ...],
    branches: tuple[NetworkBranch, ...],
    loads: tuple[NetworkLoad, ...],
    converters: tuple[NetworkConverter, ...],
) -> Network:
    at = forest.position
    ends = [(at[load.supply_node], at[load.return_node]) for load in loads]
    row_of = {pair: row for row, pair in enumerate(dict.fromkeys(ends))}
    pairs = np.array(list(row_of), dtype=np.int64).reshape(-1, 2)
    grid = Grid(
        trees=forest,
        supply_at=pairs[:, 0].copy(),
        return_at=pairs[:, 1].copy(),
        positive_at=np.array([at[source.positive_node] for source in sources], dtype=np.int64),
        negative_at=np.array([at[source.negative_node] for source in sources], dtype=np.int64),
    )
    core, own_ohm = core_of(grid)
    return Network(
        sources=sources,
        branches=branches,
        loads=loads,
        converters=converters,
        forest=forest,
        point_of_load=np.array([row_of[pair] for pair in ends], dtype=np.int64),
        grid=grid,
        core=core,
        own_ohm=own_ohm,
        posts=Posts(core),
        shared=shared_or_swept(core),
    )
