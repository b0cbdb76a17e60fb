"""
The power tree read from a design: which battery feeds what, by which way out and by which way back.

Two graphs are walked from the batteries: the supply runs, and the return runs together with every stud's joint to its
chassis body. With an engine running the isolator is closed and everything hangs on the battery that the alternator
charges; with the engine off it is open and each battery carries what is on its own side. A way is kept as a row of
signed numbers over *elements* (every run, then every node's own resistance), so that the currents of all elements and
the resistance that two circuits share are one matrix product each.
"""

from collections import deque
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builds.engineering.assessing.conversion import Conversion, input_node
from builds.engineering.assessing.settings import Setting
from builds.engineering.design import Circuit, Design, PowerNode
from builds.engineering.vocabulary import NodeKind, RunSide

__all__ = [
    "Closer",
    "Elements",
    "Feeding",
    "Floats",
    "Group",
    "Sharing",
    "Tree",
    "Way",
    "charged_batteries",
    "elements_of",
    "feeding_of",
    "grow_tree",
]

Floats = NDArray[np.float64]


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


@dataclass(frozen=True, slots=True)
class Group:
    """Circuits by what they share: the names of the groups, each circuit's group, and 1 where a group (row) has a circuit."""

    names: tuple[tuple[str, str], ...]
    column: NDArray[np.int64]
    members: Floats

    @classmethod
    def of(cls, keys: tuple[tuple[str, str], ...]) -> "Group":
        """Group circuits by key, groups in the order of their first circuit."""
        column_of = {key: column for column, key in enumerate(dict.fromkeys(keys))}
        column = np.array([column_of[key] for key in keys], dtype=np.int64)
        members = np.zeros((len(column_of), len(keys)))
        members[column, np.arange(len(keys))] = 1.0
        return cls(tuple(column_of), column, members)

    def total(self, current_a: Floats) -> Floats:
        """Sum the rows of each group, groups × conditions."""
        return np.asarray(self.members @ current_a)


@dataclass(frozen=True, slots=True)
class Sharing:
    """
    What rings change: ``groups`` are the columns of the panels and of the grounds that the same batteries feed, ``out_rows``
    the elements on the supply side, ``joined`` tells whether two batteries are joined so that currents go home by either.
    """

    groups: tuple[tuple[NDArray[np.int64], NDArray[np.int64]], ...]
    out_rows: NDArray[np.bool_]
    joined: bool


@dataclass(frozen=True, slots=True)
class Feeding:
    """
    How circuits are fed in one setting of switches and sources.

    Circuits of one panel share their way out, circuits of one ground their way back, so ways are kept once each:
    ``supply_ways`` and ``return_ways`` have a row per element and a column per panel or ground, ``panels`` and ``returns``
    say which column is whose. ``root`` names each circuit's battery; ``battery`` has a row per battery and a column per
    circuit, 1 where that battery feeds it. ``chargers`` names what charges each battery that is charged. The inputs of converters stand in the columns
    behind those of the circuits; a converter that no battery stands beside is a root of its own, and ``negative_of`` says
    where each root's way back begins. In rings ways and batteries are parts of one: :mod:`sharing` finds them.
    """

    setting: Setting
    chargers: Mapping[str, tuple[str, ...]]
    supply_tree: Tree
    return_tree: Tree
    negative_of: Mapping[str, str]
    circuits: tuple[Circuit, ...]
    column_of: Mapping[str, int]
    conversions: tuple[Conversion, ...]
    root: tuple[str, ...]
    panels: Group
    returns: Group
    supply_ways: Floats
    return_ways: Floats
    battery: Floats
    sharing: Sharing | None = None

    @property
    def closers(self) -> tuple[Closer, ...]:
        """The steps that close rings, out and back."""
        return self.supply_tree.closers + self.return_tree.closers

    @property
    def from_batteries(self) -> NDArray[np.bool_]:
        """Rows whose current comes from a battery, not from a converter whose own input is a row already."""
        return np.asarray(self.battery.any(axis=0))

    def cross_ohm(self, element_ohm: Floats) -> Floats | None:
        """What an ampere from a ground costs a panel, panels × grounds; None where ways out and back share nothing [Ω]."""
        if self.sharing is None or not self.sharing.joined:
            return None
        return np.asarray(self.supply_ways.T @ (element_ohm[:, None] * self.return_ways))

    def loop_ohm(self, element_ohm: Floats) -> Floats:
        """Resistance of each circuit's own way out and back, its own wire not counted [Ω]."""
        out, home = element_ohm @ self.supply_ways**2, element_ohm @ self.return_ways**2
        total = np.asarray(out[self.panels.column] + home[self.returns.column])
        cross = self.cross_ohm(element_ohm)
        return total if cross is None else total + 2 * cross[self.panels.column, self.returns.column]

    def through_a(self, current_a: Floats) -> Floats:
        """
        Currents of the elements, elements × conditions, from those of the circuits.

        Opposing currents of two batteries in one strap are added, not set off: they need not flow at the same time.
        """
        panel_a, ground_a = self.panels.total(current_a), self.returns.total(current_a)
        if self.sharing is None:
            return np.asarray(np.abs(self.supply_ways) @ panel_a + np.abs(self.return_ways) @ ground_a)
        total = np.zeros((len(self.supply_ways), current_a.shape[1]))
        for panels, grounds in self.sharing.groups:  # in a ring of one source they do flow at the same time
            total += np.abs(
                self.supply_ways[:, panels] @ panel_a[panels] + self.return_ways[:, grounds] @ ground_a[grounds]
            )
        return total

    def _ways_of(self, *, out: bool) -> Floats:
        ways = self.supply_ways if out else self.return_ways
        return ways if self.sharing is None else ways * (self.sharing.out_rows == out)[:, None]

    def _flows_a(self, current_a: Floats, *, out: bool) -> Floats:
        """Currents of the elements with their signs: of one side, but for joined batteries, whose currents mix."""
        if self.sharing is not None and self.sharing.joined:
            return self.supply_ways @ self.panels.total(current_a) + self.return_ways @ self.returns.total(current_a)
        group, ways = (self.panels, self.supply_ways) if out else (self.returns, self.return_ways)
        return np.asarray(ways @ group.total(current_a))

    def feed_drop_v(self, element_ohm: Floats, current_a: Floats) -> Floats:
        """Voltage lost from the post to each panel of ``panels``, panels × conditions [V]."""
        return np.asarray(self._ways_of(out=True).T @ (element_ohm[:, None] * self._flows_a(current_a, out=True)))

    def rise_v(self, element_ohm: Floats, current_a: Floats) -> Floats:
        """Rise of each ground of ``returns`` above its battery's negative post, grounds × conditions [V]."""
        return np.asarray(self._ways_of(out=False).T @ (element_ohm[:, None] * self._flows_a(current_a, out=False)))


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


def feeding_of(design: Design, elements: Elements, setting: Setting) -> Feeding:
    """
    Return which circuits are fed and how, in one setting of switches and sources.

    While the engine runs everything that its battery reaches hangs on that; else each battery feeds what is on its side.
    """
    steps = {side: neighbours(design, elements, side) for side in RunSide}
    shut = setting.shut | {node.key for node in design.nodes if node.kind is NodeKind.CHASSIS and not node.metal}
    batteries = [node.key for node in design.nodes if node.battery is not None]
    chargers = charged_batteries(design, steps[RunSide.SUPPLY], setting)
    first = [key for key in batteries if key in chargers][:1] if setting.running else batteries
    trees = _Trees(steps, shut, _supply_forest(steps[RunSide.SUPPLY], first, batteries, shut))
    converters = [node for node in design.nodes if node.converter is not None]
    fed = trees.feed(converters)
    for node in fed:
        root, behind = trees.out.root_of[node.key], trees.out.root_of[input_node(node.key)]
        if root in batteries and behind in chargers and root != behind:
            chargers[root] = (*chargers.get(root, ()), node.key)
    return _feeding(design, elements, setting, chargers, trees, fed, batteries)


class _Trees:
    """The supply side and the ways back to each root, growing as converters are found to be fed."""

    def __init__(self, steps: Mapping[RunSide, Mapping[str, list[Way]]], shut: frozenset[str], out: Tree) -> None:
        self.steps, self.shut, self.out = steps, shut, out
        self.negative_of = {root: root for root in dict.fromkeys(out.root_of.values())}
        self.back_of = {root: self._back(root) for root in self.negative_of}

    def _back(self, negative: str) -> Tree:
        return grow_tree(self.steps[RunSide.RETURN], [negative], self.shut)

    def feed(self, converters: list[PowerNode]) -> list[PowerNode]:
        """Let every converter feed on whose input something feeds; return those, nearest the batteries first."""
        fed: list[PowerNode] = []
        waiting = list(converters)
        while ready := [node for node in waiting if self._is_fed(node)]:
            for node in ready:
                assert node.converter is not None
                if node.key not in self.out.root_of:
                    grown = grow_tree(self.steps[RunSide.SUPPLY], [node.key], self.shut)
                    self.out = joined_trees(self.out, grown)
                    self.negative_of[node.key] = node.converter.return_node
                    self.back_of[node.key] = self._back(node.converter.return_node)
            fed += ready
            waiting = [node for node in waiting if node not in ready]
        return fed

    def _is_fed(self, node: PowerNode) -> bool:
        root = self.out.root_of.get(input_node(node.key))
        return root is not None and node.converter is not None and self.returns(node.converter.return_node, root)

    def returns(self, node: str, root: str) -> bool:
        """Whether a way leads from a node back to a root."""
        return node in self.back_of[root].root_of

    def forest(self) -> Tree:
        """The ways back from the first negative, then from each that it did not reach: negatives may share a chassis."""
        whole = Tree({}, {}, {}, ())
        for negative in self.negative_of.values():
            if negative not in whole.root_of:
                whole = joined_trees(whole, self._back(negative))
        return whole


def _supply_forest(
    steps: Mapping[str, list[Way]], first: list[str], batteries: list[str], shut: frozenset[str]
) -> Tree:
    """Walk from the first roots, then from each battery that was not reached from them."""
    whole = grow_tree(steps, first, shut)
    for battery in batteries:
        if battery not in whole.root_of:
            whole = joined_trees(whole, grow_tree(steps, [battery], shut))
    return whole


def joined_trees(one: Tree, other: Tree) -> Tree:
    """Return two trees that share no node as one."""
    return Tree(
        one.root_of | other.root_of,
        one.parent_of | other.parent_of,
        one.step_to | other.step_to,
        one.closers + other.closers,
    )


def _feeding(
    design: Design,
    elements: Elements,
    setting: Setting,
    chargers: dict[str, tuple[str, ...]],
    trees: _Trees,
    converters: list[PowerNode],
    batteries: list[str],
) -> Feeding:
    out = trees.out
    fed = tuple(
        c for c in design.circuits if c.panel in out.root_of and trees.returns(c.return_node, out.root_of[c.panel])
    )
    ends = [(circuit.panel, circuit.return_node) for circuit in fed]
    ends += [(input_node(node.key), node.converter.return_node) for node in converters if node.converter is not None]
    root = tuple(out.root_of[panel] for panel, _ in ends)
    panels = Group.of(tuple((panel, "") for panel, _ in ends))
    returns = Group.of(tuple((node, at) for (_, node), at in zip(ends, root, strict=True)))
    supply_ways = np.zeros((elements.count, len(panels.names)))
    return_ways = np.zeros((elements.count, len(returns.names)))
    for column, (panel, _) in enumerate(panels.names):
        _mark(supply_ways, column, out, panel, elements)
    for column, (node, at) in enumerate(returns.names):
        without_own = (*elements.batteries, trees.negative_of[at])
        _mark(return_ways, column, trees.back_of[at], node, elements, without_own)
    return Feeding(
        setting=setting,
        chargers=chargers,
        supply_tree=out,
        return_tree=trees.forest(),
        negative_of=trees.negative_of,
        circuits=fed,
        column_of={circuit.number: column for column, circuit in enumerate(fed)},
        conversions=tuple(_conversions(converters, chargers, out, root, len(fed))),
        root=root,
        panels=panels,
        returns=returns,
        supply_ways=supply_ways,
        return_ways=return_ways,
        battery=np.array([[float(key == at) for at in root] for key in batteries]).reshape(len(batteries), len(root)),
    )


def _conversions(
    converters: list[PowerNode],
    chargers: Mapping[str, tuple[str, ...]],
    out: Tree,
    root: tuple[str, ...],
    circuits: int,
) -> Iterator[Conversion]:
    """Each converter feeds what hangs on it, or on the battery that it charges; one beside another source gives nothing."""
    for place, node in enumerate(converters):
        assert node.converter is not None
        own = out.root_of[node.key]
        charges = node.key in chargers.get(own, ())
        fed = np.array([float(at == own and (charges or own == node.key)) for at in root])
        yield Conversion(node.key, node.converter, circuits + place, fed, charges)


def _mark(
    ways: Floats, column: int, tree: Tree, node: str, elements: Elements, without_own: tuple[str, ...] = ()
) -> None:
    """Write the way between a root and ``node`` into a column; a battery's own resistance is its source's, never a return's."""
    for element, sign in tree.elements_to(node):
        ways[element, column] = sign
    for key in tree.nodes_to(node):
        row = elements.node_row.get(key)
        if (
            row is not None and not ways[row, column] and key not in without_own
        ):  # a stud's joint is already the step to its chassis body
            ways[row, column] = 1.0
