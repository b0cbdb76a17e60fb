"""
The power tree read from a design: which battery feeds what, by which way out and by which way back.

Two graphs are walked from the batteries: the supply runs, and the return runs together with every stud's joint to its
chassis body. With an engine running the isolator is closed and everything hangs on the battery that the alternator
charges; with the engine off it is open and each battery carries what is on its own side. A way is kept as a row of
signed numbers over *elements* (every run, then every node's own resistance), so that the currents of all elements and
the resistance that two circuits share are one matrix product each.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from builds.engineering.assessing.conversion import Conversion, input_node
from builds.engineering.assessing.settings import Setting
from builds.engineering.assessing.source_ways import (
    Charger,
    SourceWays,
    counted_from_sources,
    drawn_chargers,
    tree_ways,
)
from builds.engineering.assessing.trees import (
    Closer,
    Elements,
    Tree,
    Way,
    charged_batteries,
    grow_tree,
    joined_trees,
    neighbours,
)
from builds.engineering.design import Circuit, Design, PowerNode
from builds.engineering.vocabulary import NodeKind, RunSide

__all__ = ["Feeding", "Floats", "Group", "Sharing", "feedings_of", "resized_feedings"]

Floats = NDArray[np.float64]


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
    Ways are those from the batteries; ``from_sources`` has those from the sources of ``drawn``, where currents then run.
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
    drawn: tuple[Charger, ...] = ()
    from_sources: SourceWays | None = None
    sharing: Sharing | None = None

    @property
    def closers(self) -> tuple[Closer, ...]:
        """The steps that close rings, out and back."""
        return self.supply_tree.closers + self.return_tree.closers

    @property
    def from_batteries(self) -> NDArray[np.bool_]:
        """Rows whose current comes from a battery, not from a converter whose own input is a row already."""
        return np.asarray(self.battery.any(axis=0))

    @property
    def flow_ways(self) -> tuple[Floats, Floats]:
        """Ways out and home that currents run on: from the sources that are drawn, else from the batteries."""
        counted = self.from_sources
        return (self.supply_ways, self.return_ways) if counted is None else (counted.supply_ways, counted.return_ways)

    @property
    def passed_ways(self) -> tuple[Floats, Floats]:
        """Ways out and home by which what flows through each element is counted."""
        counted = self.from_sources
        return (self.supply_ways, self.return_ways) if counted is None else (counted.passed_out, counted.passed_home)

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
        out, home = self.passed_ways
        if self.sharing is None:
            return np.asarray(np.abs(out) @ panel_a + np.abs(home) @ ground_a)
        total = np.zeros((len(out), current_a.shape[1]))
        for panels, grounds in self.sharing.groups:  # in a ring of one source they do flow at the same time
            total += np.abs(out[:, panels] @ panel_a[panels] + home[:, grounds] @ ground_a[grounds])
        return total

    def _ways_of(self, *, out: bool) -> Floats:
        ways = self.supply_ways if out else self.return_ways
        return ways if self.sharing is None else ways * (self.sharing.out_rows == out)[:, None]

    def _flows_a(self, current_a: Floats, *, out: bool) -> Floats:
        """Currents of the elements with their signs: of one side, but for joined batteries, whose currents mix."""
        if self.sharing is not None and self.sharing.joined:
            return self.supply_ways @ self.panels.total(current_a) + self.return_ways @ self.returns.total(current_a)
        group, ways = (self.panels, self.flow_ways[0]) if out else (self.returns, self.flow_ways[1])
        return np.asarray(ways @ group.total(current_a))

    def before_post_v(self, element_ohm: Floats, current_a: Floats) -> Floats | float:
        """Voltage lost between the source behind each circuit and its battery's posts, circuits × conditions [V]."""
        counted = self.from_sources
        if counted is None:
            return 0.0
        lost_v = (counted.before_out * element_ohm[:, None]).T @ self._flows_a(current_a, out=True)
        if counted.before_home.any():
            lost_v += (counted.before_home * element_ohm[:, None]).T @ self._flows_a(current_a, out=False)
        return np.asarray(counted.mine[:, self.panels.column].T @ lost_v)

    def feed_drop_v(self, element_ohm: Floats, current_a: Floats) -> Floats:
        """Voltage lost from the post to each panel of ``panels``, panels × conditions [V]."""
        return np.asarray(self._ways_of(out=True).T @ (element_ohm[:, None] * self._flows_a(current_a, out=True)))

    def feed_losses_v(self, element_ohm: Floats, current_a: Floats, panel: int) -> Floats:
        """Voltage that each element takes on the way to one of ``panels``, elements × conditions; they add up to its feed drop [V]."""
        way = self._ways_of(out=True)[:, panel]
        return np.asarray((way * element_ohm)[:, None] * self._flows_a(current_a, out=True))

    def parts_of(self, row: int) -> Floats:
        """Return which part of one circuit's current goes through each element on its way out or home."""
        out = self._ways_of(out=True)[:, self.panels.column[row]]
        return np.asarray(np.abs(out + self._ways_of(out=False)[:, self.returns.column[row]]))

    def supply_losses_v(self, element_ohm: Floats, current_a: Floats) -> Floats:
        """Voltage that each element takes, elements × conditions; on the supply side that is in the sense of its ways [V]."""
        return np.asarray(element_ohm[:, None] * self._flows_a(current_a, out=True))

    def walk(self, elements: Elements, node: str) -> Floats:
        """The walked way from the root to a node of the supply side in the sense of its ways, one number an element."""
        way = np.zeros((elements.count, 1))
        _mark(way, 0, self.supply_tree, node, elements)
        return np.asarray(way[:, 0] if self.sharing is None else np.abs(way[:, 0]))  # rings count outwards

    def losses_v(self, element_ohm: Floats, current_a: Floats, row: int) -> Floats:
        """Voltage that each element takes on the way out and back of one circuit, elements × conditions [V]."""
        out = self._ways_of(out=True)[:, self.panels.column[row]]
        home = self._ways_of(out=False)[:, self.returns.column[row]]
        lost = out[:, None] * self._flows_a(current_a, out=True) + home[:, None] * self._flows_a(current_a, out=False)
        return np.asarray(element_ohm[:, None] * lost)

    def rise_v(self, element_ohm: Floats, current_a: Floats) -> Floats:
        """Rise of each ground of ``returns`` above its battery's negative post, grounds × conditions [V]."""
        return np.asarray(self._ways_of(out=False).T @ (element_ohm[:, None] * self._flows_a(current_a, out=False)))


def feedings_of(design: Design, elements: Elements, settings: Iterable[Setting]) -> tuple[Feeding, ...]:
    """
    Return which circuits are fed and how, in each setting of switches and sources.

    While the engine runs everything that its battery reaches hangs on that; else each battery feeds what is on its side.
    """
    steps = {side: neighbours(design, elements, side) for side in RunSide}
    return tuple(_feeding_in(design, elements, steps, setting) for setting in settings)


def resized_feedings(feedings: Iterable[Feeding], design: Design) -> tuple[Feeding, ...]:
    """Return the feedings of a design that differs from theirs in the sizes of wires and devices alone: the ways are the same."""
    circuits = {circuit.number: circuit for circuit in design.circuits}
    return tuple(
        replace(feeding, circuits=tuple(circuits[circuit.number] for circuit in feeding.circuits))
        for feeding in feedings
    )


def _feeding_in(
    design: Design, elements: Elements, steps: Mapping[RunSide, Mapping[str, list[Way]]], setting: Setting
) -> Feeding:
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
    drawn = drawn_chargers({node.key: node for node in design.nodes}, chargers, out, trees.back_of)
    home = trees.forest()
    return Feeding(
        setting=setting,
        chargers=chargers,
        supply_tree=out,
        return_tree=home,
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
        drawn=drawn,
        from_sources=None
        if not drawn or out.closers or home.closers
        else counted_from_sources(
            supply_ways,
            return_ways,
            drawn,
            elements.node_row,
            ([out.root_of[panel] for panel, _ in panels.names], [at for _, at in returns.names]),
            tree_ways(out, trees.back_of, drawn, elements),
        ),
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
