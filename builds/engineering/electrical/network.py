"""
The distribution as drawn: sources, branches out and back, loads; read once into ordered arrays.

Everything that carries current to the loads hangs on a source's positive post, everything that carries it back on a
negative post: two trees that only the loads join. A wired return, a stud, a chassis body and a strap are all branches of
the return tree, so two circuits that share a strap share its drop. Branches between the same two nodes are conductors side
by side and are merged.

Both kinds of tree are swept in one go: counted along the way from a post, the drop on the supply side and the rise on the
return side obey the same sums.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from builds.engineering.electrical.network_forest import Edge, Floats, Forest, Ints, grow_forest
from builds.engineering.errors import NetworkError, OutOfRange, Unconnected
from builds.engineering.ranges import check_within
from builds.engineering.vocabulary import LoadModel

__all__ = ["Network", "NetworkBranch", "NetworkLoad", "NetworkSource", "build_network"]

# A short between two parts of the tree is drawn as no resistance; longer than this is no conductor.
_MOST_OHM = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkSource:
    """A battery or other source by its two posts."""

    key: str
    positive_node: str
    negative_node: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkBranch:
    """Something with a resistance between two nodes: one leg of a run, a contact, a stud's joint, a strap."""

    key: str
    from_node: str
    to_node: str
    resistance_ohm: float

    def __post_init__(self) -> None:
        check_within("resistance_ohm", self.resistance_ohm, 0.0, _MOST_OHM)


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkLoad:
    """
    A load between a supply node and a return node, with its data-sheet current and the voltage that was stated at.

    Below ``min_v`` at its terminals it is off.
    """

    key: str
    supply_node: str
    return_node: str
    model: LoadModel
    current_a: float
    at_v: float
    min_v: float = 0.0

    def __post_init__(self) -> None:
        check_within("current_a", self.current_a, 0.0, 1e5)
        check_within("at_v", self.at_v, 0.1, 1000.0)
        check_within("min_v", self.min_v, 0.0, 1000.0)


@dataclass(frozen=True, eq=False, kw_only=True)
class Network:
    """
    A distribution ready to be solved; made by :func:`build_network`.

    Loads are kept in the caller's order; the arrays below are one entry a load in *solving* order (constant current, then
    resistive, then constant power), which ``order`` maps: solving position → caller's position.
    """

    sources: tuple[NetworkSource, ...]
    branches: tuple[NetworkBranch, ...]
    loads: tuple[NetworkLoad, ...]
    forest: Forest
    order: Ints
    first_resistive: int
    first_power: int
    source_of_load: Ints
    supply_at: Ints
    return_at: Ints
    negative_at: Ints
    negative_of_source: Ints
    own_ohm: Floats

    @cached_property
    def _ports(self) -> tuple[Ints, Ints, Ints]:
        """Loads gathered by node: load of each port, first port of each node, the nodes."""
        at = np.concatenate([self.supply_at, self.return_at])
        port_order = np.argsort(at, kind="stable")
        nodes, starts = np.unique(at[port_order], return_index=True)
        return port_order % max(len(self.loads), 1), starts, nodes

    @cached_property
    def current_a(self) -> Floats:
        """Data-sheet currents as a column, solving order."""
        return np.array([[self.loads[i].current_a] for i in self.order]).reshape(-1, 1)

    @cached_property
    def at_v(self) -> Floats:
        """Voltages those currents are stated at as a column, solving order."""
        return np.array([[self.loads[i].at_v] for i in self.order]).reshape(-1, 1)

    @cached_property
    def min_v(self) -> Floats:
        """Cut-out voltages as a column, solving order."""
        return np.array([[self.loads[i].min_v] for i in self.order]).reshape(-1, 1)

    @cached_property
    def _by_source(self) -> Floats:
        """1 where a source (row) feeds a load (column)."""
        rows = np.arange(len(self.sources))[:, None]
        return np.asarray(rows == self.source_of_load, dtype=np.float64)

    def source_totals_a(self, load_a: Floats) -> Floats:
        """Return each source's current, sources × conditions, from the loads' in solving order."""
        totals: Floats = self._by_source @ load_a
        return totals

    def sweep(self, load_a: Floats) -> tuple[Floats, Floats]:
        """Return each node's branch current and its drop (rise, on the return side), nodes × conditions."""
        injected = np.zeros((self.forest.size, load_a.shape[1]))
        if len(self.loads):
            port_loads, starts, nodes = self._ports
            ports_a = load_a[port_loads]
            injected[nodes] = ports_a if len(nodes) == len(port_loads) else np.add.reduceat(ports_a, starts, axis=0)
        for source, node in enumerate(self.negative_of_source):
            if not self.forest.is_root(node):
                # A second battery's current leaves the return tree at that battery's own negative post.
                injected[node] -= load_a[self.source_of_load == source].sum(axis=0)
        return self.forest.sweep(injected)

    def drops_v(self, load_a: Floats) -> Floats:
        """Return what each load loses between its source's posts and its terminals, loads × conditions."""
        _, drop = self.sweep(load_a)
        lost = drop[self.supply_at] + drop[self.return_at]
        return lost - drop[self.negative_at] if len(self.sources) > 1 else lost

    @cached_property
    def transfer_ohm(self) -> Floats:
        """Volts lost at a load (row) per ampere of a load (column), source resistance not counted."""
        return self.drops_v(np.eye(len(self.loads)))


def build_network(
    *, sources: Sequence[NetworkSource], branches: Sequence[NetworkBranch], loads: Sequence[NetworkLoad]
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

    Returns
    -------
    Network
        To be given to :func:`~builds.engineering.electrical.network_solver.solve_network`.

    Raises
    ------
    NotRadial
        If a node can be reached from a post in two ways, or two posts are joined by branches; the keys name the ring.
    Unconnected
        If a branch or a load is reached from no post, or cannot return to its own source; the keys name them all.
    NetworkError
        If there is no source, or two parts carry one key.
    """
    _check_keys(sources, branches, loads)
    edges = [
        Edge(index=i, key=b.key, ends=(b.from_node, b.to_node), ohm=b.resistance_ohm) for i, b in enumerate(branches)
    ]
    forest = grow_forest([s.positive_node for s in sources], [s.negative_node for s in sources], edges)
    _check_reached(forest, sources, branches, loads)
    return _in_solving_order(tuple(sources), tuple(branches), tuple(loads), forest)


def _check_keys(
    sources: Sequence[NetworkSource], branches: Sequence[NetworkBranch], loads: Sequence[NetworkLoad]
) -> None:
    if not sources:
        raise NetworkError("A network needs a source.", ())
    for source in sources:
        if source.positive_node == source.negative_node:
            raise OutOfRange("negative_node", source.negative_node, "another node than positive_node")
    for keys in (
        [source.key for source in sources],
        [source.positive_node for source in sources],
        [branch.key for branch in branches],
        [load.key for load in loads],
    ):
        twice = tuple(sorted({key for key in keys if keys.count(key) > 1})) if len(set(keys)) < len(keys) else ()
        if twice:
            raise NetworkError(f"Used twice: {', '.join(twice)}.", twice)


def _check_reached(
    forest: Forest, sources: Sequence[NetworkSource], branches: Sequence[NetworkBranch], loads: Sequence[NetworkLoad]
) -> None:
    negative_root = {forest.root_of[source.positive_node]: forest.root_of[source.negative_node] for source in sources}
    lost = [branch.key for branch in branches if branch.from_node not in forest.root_of]
    for load in loads:
        supply, back = forest.root_of.get(load.supply_node), forest.root_of.get(load.return_node)
        if supply not in negative_root or negative_root[supply] != back:
            lost.append(load.key)
    if lost:
        raise Unconnected(f"No source reaches, or no way leads back from: {', '.join(lost)}.", tuple(lost))


_SOLVING_ORDER = (LoadModel.CONSTANT_CURRENT, LoadModel.RESISTIVE, LoadModel.CONSTANT_POWER)


def _in_solving_order(
    sources: tuple[NetworkSource, ...],
    branches: tuple[NetworkBranch, ...],
    loads: tuple[NetworkLoad, ...],
    forest: Forest,
) -> Network:
    rank = np.array([_SOLVING_ORDER.index(load.model) for load in loads], dtype=np.int64)
    order = np.argsort(rank, kind="stable")
    source_of_root = {source.positive_node: index for index, source in enumerate(sources)}
    sorted_loads = [loads[i] for i in order]
    source_of_load = _ints(source_of_root[forest.root_of[load.supply_node]] for load in sorted_loads)
    negatives = _ints(forest.position[source.negative_node] for source in sources)
    supply_at = _ints(forest.position[load.supply_node] for load in sorted_loads)
    return_at = _ints(forest.position[load.return_node] for load in sorted_loads)
    return Network(
        sources=sources,
        branches=branches,
        loads=loads,
        forest=forest,
        order=order,
        first_resistive=int(np.count_nonzero(rank < 1)),
        first_power=int(np.count_nonzero(rank < 2)),
        source_of_load=source_of_load,
        supply_at=supply_at,
        return_at=return_at,
        negative_at=negatives[source_of_load],
        negative_of_source=negatives,
        own_ohm=_own_ohm(forest, supply_at, return_at, negatives[source_of_load]),
    )


def _own_ohm(forest: Forest, supply_at: Ints, return_at: Ints, negative_at: Ints) -> Floats:
    """Resistance of each load's own way out and back."""
    way_ohm = forest.way_ohm()
    own = way_ohm[supply_at] + way_ohm[return_at]
    for load, (at, post) in enumerate(zip(return_at, negative_at, strict=True)):
        if not forest.is_root(int(post)):
            own[load] = way_ohm[supply_at[load]] + forest.between_ohm(int(at), int(post))
    return own


def _ints(values: Iterable[int]) -> Ints:
    return np.fromiter(values, dtype=np.int64)
