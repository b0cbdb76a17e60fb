"""
Ways counted from what charges: a source that stands at its own node feeds loads from there, not from its battery's post.

A source whose cable to its battery is drawn holds its voltage at its own terminals. What hangs between it and the battery
never passes the battery's cable, and what hangs on the battery passes the source's cable first. A drop is still that from the
battery's posts: to those the source's cable loses what it loses. What the battery takes runs on its own way.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builds.engineering.assessing.trees import Elements, Tree
from builds.engineering.design import PowerNode

__all__ = [
    "Between",
    "Charger",
    "SourceWays",
    "counted_from_sources",
    "drawn_chargers",
    "most_given_a",
    "tree_ways",
    "way_between",
]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Charger:
    """A source whose cable is drawn: the battery it charges, where its current comes back, and what it gives at most [A]."""

    key: str
    battery: str
    negative: str
    most_a: float


@dataclass(frozen=True, slots=True)
class SourceWays:
    """
    What is counted from sources instead of from the batteries they charge; a row per element.

    ``supply_ways`` and ``return_ways`` (columns: panels, grounds) carry currents. ``passed_out`` and ``passed_home`` are what bounds currents: a node's own contacts
    count there by whichever end it is come to. Of ``chargers`` each column of ``charging`` is the way from the source to its
    battery. ``before_out`` and ``before_home`` (columns: ``fed``, the first source of each battery) are what lies between it and
    the battery's posts; ``mine`` (``fed`` × panels) is 1 where a panel hangs on that battery.
    """

    chargers: tuple[Charger, ...]
    charging: Floats
    fed: tuple[Charger, ...]
    supply_ways: Floats
    return_ways: Floats
    passed_out: Floats
    passed_home: Floats
    before_out: Floats
    before_home: Floats
    mine: Floats
    first_node: int

    @property
    def between(self) -> Floats:
        """The part in each run of what goes between batteries and their first sources; 0 of a node's own contacts."""
        parts = np.minimum(np.abs(self.before_out).sum(axis=1) + np.abs(self.before_home).sum(axis=1), 1.0)
        parts[self.first_node :] = 0.0
        return np.asarray(parts)


def most_given_a(node: PowerNode) -> float:
    """Return what a source gives at most, whatever a condition says of it [A]."""
    if node.alternator is not None:
        return node.alternator.rated_a * max(node.alternator.idle_ratio, node.alternator.speed_ratio)
    if node.converter is not None:
        return node.converter.limit_a
    return node.source.limit_a if node.source is not None else 0.0


def drawn_chargers(
    nodes: Mapping[str, PowerNode], chargers: Mapping[str, Sequence[str]], out: Tree, back_of: Mapping[str, Tree]
) -> tuple[Charger, ...]:
    """
    Return the sources whose cable reaches the battery they charge, battery by battery, the strongest first.

    One whose way home is not drawn has it at its battery's post, as the vehicle's own wiring has.
    """
    found = []
    for battery, keys in chargers.items():
        for key in keys:
            if battery in back_of and key != battery and out.root_of.get(key) == battery:
                converter = nodes[key].converter
                negative = key if converter is None else converter.return_node
                home = negative if negative in back_of[battery].root_of else battery
                found.append(Charger(key, battery, home, most_given_a(nodes[key])))
    return tuple(sorted(found, key=lambda charger: (charger.battery, -charger.most_a)))


def way_between(tree: Tree, start: str, end: str, elements: Elements, without_own: Sequence[str] = ()) -> Floats:
    """Return the way between two nodes of one tree as a column over elements; +1 along a step away from the root."""
    way = np.zeros(elements.count)
    up, down = tree.nodes_to(start), tree.nodes_to(end)
    shared = 0
    while shared < min(len(up), len(down)) and up[shared] == down[shared]:
        shared += 1
    for nodes, along in ((up[shared:], -1.0), (down[shared:], 1.0)):
        for node in nodes:
            step = tree.step_to[node]
            way[step.element] = along * step.sign
    for node in {*up[shared - 1 :], *down[shared - 1 :]}:
        row = elements.node_row.get(node)
        if row is not None and not way[row] and node not in without_own:
            way[row] = 1.0
    return way


def tree_ways(
    out: Tree, back_of: Mapping[str, Tree], chargers: Sequence[Charger], elements: Elements
) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """Return by source its ways from its battery's posts, out and home, over trees; a battery's own joint is not in them."""
    outs = {c.key: way_between(out, c.battery, c.key, elements, elements.batteries) for c in chargers}
    homes = {
        c.key: way_between(back_of[c.battery], c.battery, c.negative, elements, (*elements.batteries, c.negative))
        for c in chargers
    }
    return outs, homes


def counted_from_sources(
    supply_ways: Floats,
    return_ways: Floats,
    chargers: Sequence[Charger],
    node_row: Mapping[str, int],
    roots: tuple[Sequence[str], Sequence[str]],
    ways: tuple[Mapping[str, Floats], Mapping[str, Floats]],
) -> SourceWays:
    """
    Return ways counted from sources.

    Parameters
    ----------
    supply_ways, return_ways : array
        Ways from the batteries' posts, elements × panels and × grounds.
    chargers : sequence of Charger
        Those whose cable is drawn, the strongest of each battery first.
    node_row : mapping of str to int
        The row of each node's own joint; nothing passes a battery's that does not come from the battery.
    roots : pair of sequences
        The battery behind each panel and each ground.
    ways : pair of mappings
        By source, what an ampere from the battery's posts to the source's passes, out and home.
    """
    first_node = min(node_row.values())
    fed = list({charger.battery: charger for charger in reversed(chargers)}.values())[::-1]
    sides = []
    for side, (of_panels, at) in enumerate(((supply_ways, roots[0]), (return_ways, roots[1]))):
        full, hung = of_panels.copy(), np.zeros((len(fed), of_panels.shape[1]))
        for place, charger in enumerate(fed):
            mine = np.array([root == charger.battery for root in at], dtype=bool)
            full[node_row[charger.battery], mine] = 0.0
            # what a way from the battery has in common with the way to the source is not passed at all
            full[:, mine] -= ways[side][charger.key][:, None]
            hung[place] = mine
        passed = np.maximum(np.abs(full[first_node:]), np.abs(of_panels[first_node:]))
        passed[[node_row[charger.battery] - first_node for charger in fed]] = 0.0
        sides.append((full, np.concatenate((full[:first_node], passed)), hung))
    (out, passed_out, _), (home, passed_home, _) = sides
    none = np.zeros((len(supply_ways), 0))
    return SourceWays(
        chargers=tuple(chargers),
        charging=-np.array([ways[0][charger.key] for charger in chargers]).T if chargers else none,
        fed=tuple(fed),
        supply_ways=out,
        return_ways=home,
        passed_out=passed_out,
        passed_home=passed_home,
        before_out=-np.array([ways[0][charger.key] for charger in fed]).T if fed else none,
        before_home=-np.array([ways[1][charger.key] for charger in fed]).T if fed else none,
        mine=sides[0][2],
        first_node=first_node,
    )


@dataclass(frozen=True, slots=True)
class Between:
    """
    What rows (circuits, converters) share with the cables of their sources, ``fed`` × rows, and those cables by themselves [Ω].

    ``mine`` is 1 where a row hangs on the battery that such a source charges.
    """

    shared_ohm: Floats
    whole_ohm: Floats
    mine: Floats

    @classmethod
    def of(cls, ways: SourceWays, element_ohm: Floats, columns: tuple[Ints, Ints], roots: Sequence[str]) -> "Between":
        """Read it off the ways; ``columns`` are each row's panel and ground."""
        out, home = (side * element_ohm[:, None] for side in (ways.before_out, ways.before_home))
        shared_ohm = (out.T @ ways.supply_ways)[:, columns[0]] + (home.T @ ways.return_ways)[:, columns[1]]
        whole_ohm = (out * ways.before_out).sum(axis=0) + (home * ways.before_home).sum(axis=0)
        mine = np.array([[float(root == charger.battery) for root in roots] for charger in ways.fed])
        return cls(shared_ohm, whole_ohm, mine)

    def lost_v(self, current_a: Floats) -> Floats:
        """Return what the rows lose in each source's cable, ``fed`` × columns [V]."""
        return np.asarray((self.shared_ohm * self.mine) @ current_a)

    def lift_v(self, lost_v: Floats, short_a: Floats) -> Floats:
        """
        Return how much higher than its battery's post a source seems to stand to each row, rows × conditions [V].

        So much is what is lost in the source's cable, less what the battery sends the other way when the source is short.
        """
        sent_ohm = self.mine.T @ self.whole_ohm - (self.mine * self.shared_ohm).sum(axis=0)
        return np.asarray(self.mine.T @ lost_v - sent_ohm[:, None] * short_a)
