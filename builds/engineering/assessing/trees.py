"""
The two graphs of the power tree, and what grows over them from the roots.

Supply runs make one; return runs, together with every stud's joint to its chassis body, the other. *Elements* are the rows
that figures of both are kept in: every run, then every node's own resistance.
"""

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from builds.engineering.assessing.conversion import input_node
from builds.engineering.assessing.settings import Setting
from builds.engineering.design import Circuit, Design, PowerNode
from builds.engineering.vocabulary import NodeKind, RunSide

__all__ = [
    "Closer",
    "Elements",
    "Tree",
    "Way",
    "charged_batteries",
    "elements_of",
    "grow_tree",
    "joined_trees",
    "neighbours",
    "without_metal",
]


@dataclass(frozen=True, slots=True)
class Way:
    """One step between two neighbouring nodes: the element passed and +1 along the run's own direction, else -1."""

    to_node: str
    element: int
    sign: int


@dataclass(frozen=True, slots=True)
class Closer:
    """A step that closes a ring, or that joins two batteries: it leads to a node that was reached before."""

    from_node: str
    way: Way


@dataclass(frozen=True, slots=True)
class Tree:
    """
    What grew from the roots: for each node reached its root and the step that led to it, in order of reaching.

    ``closers`` is empty when every node has exactly one way back to exactly one root.
    """

    root_of: dict[str, str]
    parent_of: dict[str, str]
    step_to: dict[str, Way]
    closers: tuple[Closer, ...]

    def nodes_to(self, node: str) -> tuple[str, ...]:
        """Nodes from the root to ``node``, both ends counted."""
        way = [node]
        while way[-1] in self.parent_of:
            way.append(self.parent_of[way[-1]])
        return tuple(reversed(way))

    def elements_to(self, node: str) -> list[tuple[int, int]]:
        """(element, sign) of each step from the root to ``node``."""
        steps = []
        while node in self.parent_of:
            step = self.step_to[node]
            steps.append((step.element, step.sign))
            node = self.parent_of[node]
        return steps


@dataclass(frozen=True, slots=True)
class Elements:
    """Rows of the way matrices: runs first, then nodes, each in the design's order; and which nodes are batteries."""

    run_row: Mapping[str, int]
    node_row: Mapping[str, int]
    count: int
    names: tuple[str, ...]
    batteries: tuple[str, ...]


def elements_of(design: Design) -> Elements:
    """Return the rows of every way matrix of this design."""
    run_row = {run.key: row for row, run in enumerate(design.runs)}
    node_row = {node.key: len(run_row) + row for row, node in enumerate(design.nodes)}
    return Elements(
        run_row=run_row,
        node_row=node_row,
        count=len(run_row) + len(node_row),
        names=tuple(run.key for run in design.runs) + tuple(node.key for node in design.nodes),
        batteries=tuple(node.key for node in design.nodes if node.battery is not None),
    )


def without_metal(nodes: Mapping[str, PowerNode], circuit: Circuit) -> PowerNode | None:
    """Return the body without continuous metal that a circuit is drawn to return over, if there is one."""
    node = nodes.get(circuit.return_node)
    if node is not None and node.kind is NodeKind.GROUND and node.chassis:
        node = nodes.get(node.chassis)
    return node if node is not None and node.kind is NodeKind.CHASSIS and not node.metal else None


def neighbours(design: Design, elements: Elements, side: RunSide) -> dict[str, list[Way]]:
    """
    Return every node's steps over the runs of one side; on the return side each stud steps to its chassis body.

    A run out to a converter ends at its input, which leads nowhere by itself.
    """
    converters = {node.key for node in design.nodes if node.converter is not None}
    steps: dict[str, list[Way]] = {}
    for run in design.runs:
        if run.side is side:
            row, end = elements.run_row[run.key], run.to_node
            if end in converters and side is RunSide.SUPPLY:
                end = input_node(end)
            steps.setdefault(run.from_node, []).append(Way(end, row, 1))
            steps.setdefault(end, []).append(Way(run.from_node, row, -1))
    if side is RunSide.RETURN:
        for node in design.nodes:
            if node.kind is NodeKind.GROUND and node.chassis:
                row = elements.node_row[node.key]
                steps.setdefault(node.chassis, []).append(Way(node.key, row, 1))
                steps.setdefault(node.key, []).append(Way(node.chassis, row, -1))
    return steps


def grow_tree(steps: Mapping[str, list[Way]], roots: Iterable[str], shut: frozenset[str] = frozenset()) -> Tree:
    """
    Walk from the roots, nearest first, and never through a node in ``shut``.

    A node that is met again by another step than the one that reached it closes a ring; every closer is told once.
    """
    tree = Tree({root: root for root in roots}, {}, {}, ())
    waiting = deque(tree.root_of)
    closing: dict[int, Closer] = {}
    while waiting:
        here = waiting.popleft()
        came_by = tree.step_to[here].element if here in tree.step_to else -1
        for step in steps.get(here, ()):
            if step.to_node in shut or step.element == came_by:
                continue
            if step.to_node in tree.root_of:
                closing.setdefault(step.element, Closer(here, step))
                continue
            tree.root_of[step.to_node] = tree.root_of[here]
            tree.parent_of[step.to_node] = here
            tree.step_to[step.to_node] = step
            waiting.append(step.to_node)
    return Tree(tree.root_of, tree.parent_of, tree.step_to, tuple(closing.values()))


def joined_trees(one: Tree, other: Tree) -> Tree:
    """Return two trees that share no node as one."""
    return Tree(
        one.root_of | other.root_of,
        one.parent_of | other.parent_of,
        one.step_to | other.step_to,
        one.closers + other.closers,
    )


def charged_batteries(design: Design, steps: Mapping[str, list[Way]], setting: Setting) -> dict[str, tuple[str, ...]]:
    """
    Return what charges which battery: each source the nearest one that no isolator and nothing open parts from it.

    The vehicle's own wiring is often not drawn: a source that reaches no battery charges the first one that another source
    charges, else the first of the design, which is charged while the engine runs even where nothing that charges is drawn.
    """
    kinds = {node.key: node.kind for node in design.nodes}
    batteries = [node.key for node in design.nodes if node.battery is not None]
    nearest = {source: _nearest(source, batteries, steps, setting.shut, kinds) for source in setting.charging}
    if not batteries or not (setting.running or nearest):
        return {}
    first = next((found for found in nearest.values() if found is not None), batteries[0])
    chargers: dict[str, tuple[str, ...]] = {first: ()} if setting.running else {}
    for source, found in nearest.items():
        chargers[found or first] = (*chargers.get(found or first, ()), source)
    return chargers


def _nearest(
    source: str,
    batteries: list[str],
    steps: Mapping[str, list[Way]],
    shut: frozenset[str],
    kinds: Mapping[str, NodeKind],
) -> str | None:
    waiting, met = deque([source]), {source}
    while waiting:
        here = waiting.popleft()
        if here in batteries:
            return here
        for step in steps.get(here, ()):
            there = step.to_node
            if there not in met and there not in shut and kinds.get(there) is not NodeKind.ISOLATOR:
                met.add(there)
                waiting.append(there)
    return None
