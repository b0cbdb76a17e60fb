"""
How currents share in the rings of a power tree: the ways of its panels and grounds found from resistances.

In a tree a way is a row of ones. Where a panel is fed over two runs, a chassis has two straps or two batteries are joined, an
ampere to a panel divides, and so does one from a ground. Those parts stand in the same matrices as the ones did: the drop
between any two is still the sum over all elements of resistance × part × part (Tellegen), so nothing else changes.

Joined batteries stand at one voltage behind their own resistances, so they carry nothing between them when nothing is on.
"""

from dataclasses import replace

import numpy as np

from builds.engineering.assessing.links import links_of, node_of
from builds.engineering.assessing.source_ways import Charger, SourceWays, counted_from_sources
from builds.engineering.assessing.topology import Feeding, Floats, Sharing
from builds.engineering.assessing.trees import Elements, Tree
from builds.engineering.electrical.network_forest import Edge, grow_forest

__all__ = ["joined_roots", "shared"]


def joined_roots(tree: Tree) -> tuple[tuple[str, ...], ...]:
    """Return the batteries of a supply side, those together that runs join with nothing open between."""
    group = {root: {root} for root in dict.fromkeys(tree.root_of.values())}
    for closer in tree.closers:
        one, other = group[tree.root_of[closer.from_node]], group[tree.root_of[closer.way.to_node]]
        one |= other
        for root in one:
            group[root] = one
    return tuple(dict.fromkeys(tuple(root for root in group if root in together) for together in group.values()))


def shared(feeding: Feeding, elements: Elements, *, element_ohm: Floats, inside_ohm: Floats) -> Feeding:
    """
    Return the feeding with its ways as its rings share them; the same one where it has no rings.

    Parameters
    ----------
    feeding : Feeding
        What is fed and how, walked as trees.
    elements : Elements
        Rows of runs and nodes.
    element_ohm : array
        Resistance of every element. [Ω]
    inside_ohm : array
        Resistance inside each battery, in the order of ``elements.batteries``, 0 where the source is held at its post. [Ω]
    """
    if not feeding.closers:
        return feeding
    groups = joined_roots(feeding.supply_tree)
    ways = [np.zeros_like(feeding.supply_ways), np.zeros_like(feeding.return_ways)]
    shares = [np.zeros((len(elements.batteries), way.shape[1])) for way in ways]
    columns = []
    is_battery = np.zeros(elements.count, dtype=bool)
    is_battery[[elements.node_row[key] for key in elements.batteries]] = True
    alone = {roots[0] for roots in groups if len(roots) == 1}
    chargers = [charger for charger in feeding.drawn if charger.battery in alone]
    to_sources: tuple[dict[str, Floats], dict[str, Floats]] = ({}, {})
    for roots in groups:
        graph = _Graph(feeding, elements, roots, element_ohm, inside_ohm)
        panels = [
            at for at, (panel, _) in enumerate(feeding.panels.names) if feeding.supply_tree.root_of[panel] in roots
        ]
        grounds = [at for at, (_, root) in enumerate(feeding.returns.names) if root in roots]
        columns.append((np.array(panels, dtype=np.int64), np.array(grounds, dtype=np.int64)))
        drawn = [("+" + feeding.panels.names[at][0], 1.0) for at in panels]
        drawn += [("-" + feeding.returns.names[at][0], -1.0) for at in grounds]
        charging = [charger for charger in chargers if charger.battery in roots]
        ends = [("+" + charger.key, 1.0) for charger in charging]
        ends += [("-" + charger.negative, -1.0) for charger in charging]
        flows, of_batteries = graph.flows(drawn + ends)
        for place, charger in enumerate(charging):
            for side, way in enumerate((flows[:, len(drawn) + place], flows[:, place - len(charging)])):
                to_sources[side][charger.key] = np.where(is_battery, 0.0, way)
        flows, of_batteries = flows[:, : len(drawn)], of_batteries[:, : len(drawn)]
        for side, at in enumerate((panels, grounds)):
            part = slice(0, len(panels)) if side == 0 else slice(len(panels), None)
            ways[side][:, at], shares[side][:, at] = flows[:, part], of_batteries[:, part]
    out_rows = np.zeros(elements.count, dtype=bool)
    out_rows[[row for link in links_of(feeding.supply_tree, elements) for row in link.rows]] = True
    return replace(
        feeding,
        supply_ways=ways[0],
        return_ways=ways[1],
        battery=shares[0][:, feeding.panels.column] + shares[1][:, feeding.returns.column],
        from_sources=_from_sources(feeding, elements, ways, chargers, to_sources),
        sharing=Sharing(tuple(columns), out_rows, any(len(roots) > 1 for roots in groups)),
    )


def _from_sources(
    feeding: Feeding,
    elements: Elements,
    ways: list[Floats],
    chargers: list[Charger],
    to_sources: tuple[dict[str, Floats], dict[str, Floats]],
) -> SourceWays | None:
    """Ways counted from sources over rings; those that charge batteries which stand joined are left at their posts."""
    if not chargers:
        return None
    panels = [feeding.supply_tree.root_of[panel] for panel, _ in feeding.panels.names]
    grounds = [root for _, root in feeding.returns.names]
    return counted_from_sources(ways[0], ways[1], chargers, elements.node_row, (panels, grounds), to_sources)


class _Graph:
    """The supply side of joined batteries, the batteries themselves, and all of the return side, as one."""

    def __init__(
        self,
        feeding: Feeding,
        elements: Elements,
        roots: tuple[str, ...],
        element_ohm: Floats,
        inside_ohm: Floats,
    ) -> None:
        self.count, self.batteries = elements.count, elements.batteries
        self.ends: list[tuple[str, str]] = []
        self.rows: list[tuple[int, ...]] = []
        self.battery_of: dict[int, int] = {}
        for link in links_of(feeding.supply_tree, elements):
            if feeding.supply_tree.root_of[node_of(link.one)] in roots:
                self._add(("+" + link.one, "+" + link.other), link.rows)
        for link in links_of(feeding.return_tree, elements, without_own=frozenset(elements.batteries), home=True):
            self._add(("-" + link.one, "-" + link.other), link.rows)
        ohms = [float(sum(element_ohm[row] for row in rows)) for rows in self.rows]
        for root in roots:
            if root not in self.batteries:  # a converter, which holds its voltage
                ohms.append(0.0)
                self._add(("-" + feeding.negative_of[root], "+" + root), ())
                continue
            battery, own = self.batteries.index(root), elements.node_row[root]
            self.battery_of[len(self.ends)] = battery
            ohms.append(float(element_ohm[own] + inside_ohm[battery]))
            self._add(("-" + root, "+" + root), (own,))
        edges = [
            Edge(index=at, key=str(at), ends=ends, ohm=ohm)
            for at, (ends, ohm) in enumerate(zip(self.ends, ohms, strict=True))
        ]
        self.forest = grow_forest(["-" + feeding.negative_of[roots[0]]], edges)

    def _add(self, ends: tuple[str, str], rows: tuple[int, ...]) -> None:
        self.ends.append(ends)
        self.rows.append(rows)

    def flows(self, drawn: list[tuple[str, float]]) -> tuple[Floats, Floats]:
        """Return what flows in every element and battery for each ampere drawn, elements and batteries × draws."""
        at = self.forest.position
        taken = np.zeros((self.forest.size, len(drawn)))
        for column, (node, ampere) in enumerate(drawn):
            taken[at[node], column] = ampere
        down, _, around = self.forest.sweep(taken)
        in_edges = self.forest.flows(self.ends, down, around)
        elements, of_batteries = np.zeros((self.count, len(drawn))), np.zeros((len(self.batteries), len(drawn)))
        for edge, rows in enumerate(self.rows):
            for row in rows:
                elements[row] = in_edges[edge]
        for edge, battery in self.battery_of.items():
            of_batteries[battery] = in_edges[edge]
        return elements, of_batteries
