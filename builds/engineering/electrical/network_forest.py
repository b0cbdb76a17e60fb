"""
Nodes and branches as trees in level order, and the two sweeps over them.

Upward, each node's branch carries what is drawn at its own node and what its children carry; then the rings' currents are
added; downward, each node loses its parent's drop and its own branch's. One vector step a level, for all conditions at once.
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builds.engineering.electrical.network_rings import Closer, Floats, Ints, Rings
from builds.engineering.errors import NetworkError

__all__ = ["Edge", "Floats", "Forest", "Ints", "Level", "Trees", "grow_forest"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """A branch as the forest sees it."""

    index: int
    key: str
    ends: tuple[str, str]
    ohm: float


@dataclass(frozen=True, slots=True, eq=False)
class _Bundle:
    """Edges side by side between the same two nodes, as one: each edge carries its share of the current."""

    ends: tuple[str, str]
    ohm: float
    shares: tuple[tuple[int, float], ...]
    keys: tuple[str, ...]

    def far_end(self, node: str) -> str:
        return self.ends[1] if node == self.ends[0] else self.ends[0]


@dataclass(frozen=True, slots=True, eq=False)
class Level:
    """Nodes ``first`` up to ``last`` stand equally far from their posts; ``starts`` opens each of ``parents``' children."""

    first: int
    last: int
    starts: Ints
    parents: Ints


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Trees:
    """
    Nodes in level order, roots first, with their parents and the rings between them.

    ``ohm`` is the resistance of the branch to the parent (0 at a root); ``tree_of`` numbers each node's tree by its root's
    position.
    """

    parent: Ints
    ohm: Floats
    tree_of: Ints
    levels: tuple[Level, ...]
    rings: Rings

    @property
    def size(self) -> int:
        """How many nodes."""
        return len(self.parent)

    @property
    def roots(self) -> int:
        """How many trees."""
        return self.levels[0].first if self.levels else self.size

    def sweep(self, drawn: Floats) -> tuple[Floats, Floats, Floats]:
        """
        Return the currents away from the root in each node's branch, the drops from the root, and the rings' currents.

        ``drawn`` (nodes × conditions) is what is taken at each node; it is used up. A root's own entry becomes what its tree
        takes in all.
        """
        down = drawn
        for level in reversed(self.levels):
            down[level.parents] += np.add.reduceat(down[level.first : level.last], level.starts, axis=0)
        around = self.rings.compensate(down)
        drop = self.ohm[:, None] * down
        for level in self.levels:
            here = slice(level.first, level.last)
            drop[here] += drop[self.parent[here]]
        return down, drop, around

    def below(self, counts: Ints) -> Ints:
        """Return the sums of ``counts`` over each node and everything that hangs on it."""
        total = counts.copy()
        for level in reversed(self.levels):
            total[level.parents] += np.add.reduceat(total[level.first : level.last], level.starts)
        return total

    def hung_on(self, kept: NDArray[np.bool_]) -> tuple[Ints, Floats]:
        """Return for each node the nearest kept one towards the root (itself if kept), and the resistance up to it."""
        at, ohm = np.arange(self.size), np.zeros(self.size)
        for level in self.levels:
            here = slice(level.first, level.last)
            above = self.parent[here]
            at[here] = np.where(kept[here], at[here], at[above])
            ohm[here] = np.where(kept[here], 0.0, self.ohm[here] + ohm[above])
        return at, ohm

    def restricted(self, kept: NDArray[np.bool_]) -> tuple["Trees", Ints]:
        """Return the trees of the kept nodes alone, and every kept node's new number; a kept node's parent is kept too."""
        new = np.cumsum(kept) - 1
        parent = self.parent[kept]
        parent = np.where(parent < 0, -1, new[parent])
        sizes = [int(np.count_nonzero(kept[level.first : level.last])) for level in self.levels]
        trees = Trees(
            parent=parent,
            ohm=self.ohm[kept],
            tree_of=self.tree_of[kept],
            levels=_levels(parent, self.roots, [size for size in sizes if size]),
            rings=self.rings.renumbered(new),
        )
        return trees, new


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Forest(Trees):
    """
    The trees of a drawing with the names of its nodes.

    ``shares`` are the branches that make up each node's branch to its parent, with the part of its current that each
    carries; ``keys`` their keys.
    """

    names: tuple[str, ...]
    position: dict[str, int]
    shares: tuple[tuple[tuple[int, float], ...], ...]

    def is_root(self, node: int) -> bool:
        """Tell whether voltages of its tree are counted from this node."""
        return int(self.parent[node]) < 0

    def way(self, node: int) -> list[int]:
        """Return the nodes from below the root to ``node``, whose branches are the way there."""
        steps: list[int] = []
        while not self.is_root(node):
            steps.append(node)
            node = int(self.parent[node])
        return steps[::-1]

    def flows(self, ends: Sequence[tuple[str, str]], down: Floats, around: Floats) -> Floats:
        """
        Return each edge's current from its first end to its second, edges × conditions.

        ``down`` and ``around`` are a sweep's; an edge that no post reaches carries nothing.
        """
        amps = np.zeros((len(ends), down.shape[1]))
        for node, shares in enumerate(self.shares):
            for edge, share in shares:
                amps[edge] = (share if self.position[ends[edge][1]] == node else -share) * down[node]
        for closer, ampere in zip(self.rings.closers, around, strict=True):
            for edge, share in closer.shares:
                amps[edge] = (share if self.position[ends[edge][1]] == closer.other else -share) * ampere
        return amps

    def between(self, node: int, other: int) -> tuple[list[int], list[int]]:
        """Return the branches between two nodes of one tree: those on the first's side, those on the other's."""
        one, two = self.way(node), self.way(other)
        shared = len([1 for a, b in zip(one, two, strict=False) if a == b])
        return one[shared:], two[shared:]


def grow_forest(roots: Sequence[str], edges: Sequence[Edge]) -> Forest:
    """
    Return the trees that hang on the posts, each post a root unless a post before it reaches it.

    Branches that no post reaches are left out. Links without resistance are followed first, so that a ring of them alone
    is closed by one of them.

    Raises
    ------
    NetworkError
        If a branch leads from a node to itself.
    """
    steps: dict[str, list[_Bundle]] = {}
    for bundle in _merge_parallel(edges):
        for end in bundle.ends:
            steps.setdefault(end, []).append(bundle)
    walk = _Walk(steps)
    started = [root for root in dict.fromkeys(roots) if walk.start(root)]
    return _number(started, walk)


def _merge_parallel(edges: Sequence[Edge]) -> list[_Bundle]:
    groups: dict[tuple[str, str], list[Edge]] = {}
    for edge in edges:
        one, other = edge.ends
        if one == other:
            raise NetworkError(f"{edge.key} leads from {one} to itself.", (edge.key,))
        groups.setdefault((one, other) if one < other else (other, one), []).append(edge)
    return [_side_by_side(ends, group) for ends, group in groups.items()]


def _side_by_side(ends: tuple[str, str], group: list[Edge]) -> _Bundle:
    if len(group) == 1:
        edge = group[0]
        return _Bundle(ends, edge.ohm, ((edge.index, 1.0),), (edge.key,))
    keys = tuple(edge.key for edge in group)
    shorts = [edge for edge in group if edge.ohm == 0.0]
    if shorts:
        # Of conductors without resistance nobody can say how they share; they are taken to share equally.
        shares = tuple((edge.index, 0.0 if edge.ohm else 1 / len(shorts)) for edge in group)
        return _Bundle(ends, 0.0, shares, keys)
    total = sum(1 / edge.ohm for edge in group)
    return _Bundle(ends, 1 / total, tuple((edge.index, 1 / edge.ohm / total) for edge in group), keys)


class _Walk:
    """Nodes reached, in order, each with the bundle that led to it and its parent; and the bundles that close rings."""

    def __init__(self, steps: dict[str, list[_Bundle]]) -> None:
        self.steps = steps
        self.reached: dict[str, tuple[_Bundle | None, str]] = {}
        self.closing: list[_Bundle] = []

    def start(self, root: str) -> bool:
        """Walk from a root; False if it had been reached before."""
        if root in self.reached:
            return False
        waiting: deque[tuple[_Bundle | None, str, str]] = deque([(None, root, "")])
        while waiting:
            bundle, node, parent = waiting.popleft()
            if node in self.reached:
                self.closing += [bundle] if bundle else []
                continue
            self.reached[node] = (bundle, parent)
            for step in self.steps.get(node, ()):
                if step is not bundle:
                    (waiting.append if step.ohm else waiting.appendleft)((step, step.far_end(node), node))
        return True

    def closers(self) -> list[_Bundle]:
        """The bundles that close rings; each was met from both its ends."""
        return list(dict.fromkeys(self.closing))


def _number(roots: list[str], walk: _Walk) -> Forest:
    """Put the nodes in level order, children of one parent side by side."""
    children: dict[str, list[str]] = {}
    for node, (led_by, above) in walk.reached.items():
        if led_by is not None:
            children.setdefault(above, []).append(node)
    names, level_sizes, level = list(roots), list[int](), list(roots)
    while level := [child for node in level for child in children.get(node, ())]:
        names.extend(level)
        level_sizes.append(len(level))
    position = {name: index for index, name in enumerate(names)}
    led = [walk.reached[name] for name in names]
    parent = np.array([position[above] if bundle else -1 for bundle, above in led], dtype=np.int64)
    ohm = np.array([bundle.ohm if bundle else 0.0 for bundle, _ in led])
    closers = [Closer(position[b.ends[0]], position[b.ends[1]], b.ohm, b.shares) for b in walk.closers()]
    levels = _levels(parent, len(roots), level_sizes)
    return Forest(
        parent=parent,
        ohm=ohm,
        tree_of=_trees(parent, levels),
        levels=levels,
        rings=Rings.of(parent, ohm, closers),
        names=tuple(names),
        position=position,
        shares=tuple(bundle.shares if bundle else () for bundle, _ in led),
    )


def _levels(parent: Ints, root_count: int, sizes: list[int]) -> tuple[Level, ...]:
    levels, first = [], root_count
    for size in sizes:
        parents, starts = np.unique(parent[first : first + size], return_index=True)
        levels.append(Level(first, first + size, starts, parents))
        first += size
    return tuple(levels)


def _trees(parent: Ints, levels: tuple[Level, ...]) -> Ints:
    tree_of = np.arange(len(parent))
    for level in levels:
        here = slice(level.first, level.last)
        tree_of[here] = tree_of[parent[here]]
    return tree_of
