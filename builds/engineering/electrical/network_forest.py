"""
Trees of nodes as arrays in level order, and the two sweeps over them.

Upward, each node's branch carries what its own loads take and what its children carry; downward, each node loses its
parent's drop and its own branch's. One vector step a level, for all conditions at once.
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builds.engineering.errors import NotRadial

__all__ = ["Edge", "Floats", "Forest", "Ints", "Level", "grow_forest"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """A branch as the forest sees it."""

    index: int
    key: str
    ends: tuple[str, str]
    ohm: float


@dataclass(frozen=True, slots=True)
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


@dataclass(frozen=True, slots=True, eq=False)
class Forest:
    """
    Nodes in level order with their parents.

    ``ohm`` is the resistance of the branch to the parent (0 at a root), ``shares`` the branches that make it up with the
    part of its current that each carries.
    """

    names: tuple[str, ...]
    position: dict[str, int]
    root_of: dict[str, str]
    parent: Ints
    ohm: Floats
    levels: tuple[Level, ...]
    shares: tuple[tuple[tuple[int, float], ...], ...]

    @property
    def size(self) -> int:
        """How many nodes."""
        return len(self.names)

    def is_root(self, node: int) -> bool:
        """Tell whether a node is a post that voltages of its tree are counted from."""
        return int(self.parent[node]) < 0

    def way(self, node: int) -> list[int]:
        """Return the nodes from below the root to ``node``, whose branches are the way there."""
        steps: list[int] = []
        while not self.is_root(node):
            steps.append(node)
            node = int(self.parent[node])
        return steps[::-1]

    def way_ohm(self) -> Floats:
        """Resistance between each node and its root, in ohms."""
        total = self.ohm.copy()
        for level in self.levels:
            total[level.first : level.last] += total[self.parent[level.first : level.last]]
        return total

    def between(self, node: int, other: int) -> tuple[list[int], list[int]]:
        """Return the branches between two nodes of one tree: those on the first's side, those on the other's."""
        one, two = self.way(node), self.way(other)
        shared = len([1 for a, b in zip(one, two, strict=False) if a == b])
        return one[shared:], two[shared:]

    def between_ohm(self, node: int, other: int) -> float:
        """Resistance between two nodes of one tree, in ohms."""
        one, two = self.between(node, other)
        return float(self.ohm[one].sum() + self.ohm[two].sum())

    def sweep(self, injected: Floats) -> tuple[Floats, Floats]:
        """
        Return branch currents and drops, nodes × conditions each, from the current taken at each node.

        ``injected`` is used up: it becomes the branch currents.
        """
        current = injected
        for level in reversed(self.levels):
            current[level.parents] += np.add.reduceat(current[level.first : level.last], level.starts, axis=0)
        drop = self.ohm[:, None] * current
        for level in self.levels:
            here = slice(level.first, level.last)
            drop[here] += drop[self.parent[here]]
        return current, drop


def grow_forest(positives: Sequence[str], negatives: Sequence[str], edges: Sequence[Edge]) -> Forest:
    """
    Return the trees that hang on the posts.

    Every positive post is a root; the first negative post is one, and any other that no branch joins to a negative post
    before it. Branches that no post reaches are left out.

    Raises
    ------
    NotRadial
        If a node can be reached in two ways, or two roots are joined.
    """
    bundles = _merge_parallel(edges)
    reached: dict[str, tuple[str, _Bundle | None, str]] = {}  # node: its root, the bundle that led to it, its parent
    steps: dict[str, list[_Bundle]] = {}
    for bundle in bundles:
        for end in bundle.ends:
            steps.setdefault(end, []).append(bundle)
    roots = list(dict.fromkeys(positives))
    for root in roots:
        _refuse_second_way(reached, root, None)
        _walk(root, steps, reached)
    for root in dict.fromkeys(negatives):
        if root in reached and reached[root][0] in positives:
            raise NotRadial(f"{root} is joined to a positive post.", _keys_to(reached, root))
        if root not in reached:
            roots.append(root)
            _walk(root, steps, reached)
    return _number(roots, reached)


def _merge_parallel(edges: Sequence[Edge]) -> list[_Bundle]:
    groups: dict[tuple[str, str], list[Edge]] = {}
    for edge in edges:
        if edge.ends[0] == edge.ends[1]:
            raise NotRadial(f"{edge.key} leads from {edge.ends[0]} to itself.", (edge.key,))
        groups.setdefault((min(edge.ends), max(edge.ends)), []).append(edge)
    return [_side_by_side(ends, group) for ends, group in groups.items()]


def _side_by_side(ends: tuple[str, str], group: list[Edge]) -> _Bundle:
    keys = tuple(edge.key for edge in group)
    shorts = [edge for edge in group if edge.ohm == 0.0]
    if shorts or len(group) == 1:
        # Of conductors without resistance nobody can say how they share; they are taken to share equally.
        carrying = shorts or group
        shares = tuple((edge.index, 1 / len(carrying) if edge in carrying else 0.0) for edge in group)
        return _Bundle(ends, min(edge.ohm for edge in group), shares, keys)
    total = sum(1 / edge.ohm for edge in group)
    return _Bundle(ends, 1 / total, tuple((edge.index, 1 / edge.ohm / total) for edge in group), keys)


def _walk(root: str, steps: dict[str, list[_Bundle]], reached: dict[str, tuple[str, _Bundle | None, str]]) -> None:
    reached[root] = (root, None, "")
    waiting = deque([root])
    while waiting:
        here = waiting.popleft()
        for bundle in steps.get(here, ()):
            there = bundle.far_end(here)
            if bundle is reached[here][1]:
                continue
            if there in reached:
                _refuse_second_way(reached, there, (here, bundle))
            reached[there] = (root, bundle, here)
            waiting.append(there)


def _refuse_second_way(
    reached: dict[str, tuple[str, _Bundle | None, str]], node: str, by: tuple[str, _Bundle] | None
) -> None:
    """Raise for a node met twice, naming the branches that are on exactly one of the two ways."""
    if node not in reached:
        return
    one = set(_keys_to(reached, node))
    other = set(_keys_to(reached, by[0])) | set(by[1].keys) if by else set()
    raise NotRadial(f"{node} is reached in two ways.", tuple(sorted(one ^ other)))


def _keys_to(reached: dict[str, tuple[str, _Bundle | None, str]], node: str) -> tuple[str, ...]:
    keys: list[str] = []
    _, bundle, parent = reached[node]
    while bundle is not None:
        keys.extend(bundle.keys)
        _, bundle, parent = reached[parent]
    return tuple(keys)


def _number(roots: list[str], reached: dict[str, tuple[str, _Bundle | None, str]]) -> Forest:
    """Put the nodes in level order, children of one parent side by side."""
    children: dict[str, list[str]] = {}
    for node, (_, led_by, above) in reached.items():
        if led_by is not None:
            children.setdefault(above, []).append(node)
    names, level_sizes, level = list(roots), list[int](), list(roots)
    while level := [child for node in level for child in children.get(node, ())]:
        names.extend(level)
        level_sizes.append(len(level))
    position = {name: index for index, name in enumerate(names)}
    bundles = [reached[name][1] for name in names]
    parents = np.array([position[reached[n][2]] if reached[n][1] else -1 for n in names], dtype=np.int64)
    return Forest(
        names=tuple(names),
        position=position,
        root_of={name: reached[name][0] for name in names},
        parent=parents,
        ohm=np.array([bundle.ohm if bundle else 0.0 for bundle in bundles]),
        levels=_levels(parents, len(roots), level_sizes),
        shares=tuple(bundle.shares if bundle else () for bundle in bundles),
    )


def _levels(parent: Ints, root_count: int, sizes: list[int]) -> tuple[Level, ...]:
    levels, first = [], root_count
    for size in sizes:
        parents, starts = np.unique(parent[first : first + size], return_index=True)
        levels.append(Level(first, first + size, starts, parents))
        first += size
    return tuple(levels)
