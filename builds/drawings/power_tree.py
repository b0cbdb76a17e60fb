"""
A power tree read for drawing: the way from the supply to the main bus, and what hangs on each step of it.

The *spine* runs from an alternator (or the farthest battery) to the bus that feeds most. Everything else hangs on a
spine step or on that bus as branches. Runs that close a ring cannot be part of a tree; they are returned apart.
"""

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from builds.engineering.design import Circuit, Design, PowerNode, Run
from builds.engineering.vocabulary import NodeKind, RunSide

__all__ = ["Branch", "PowerTree", "SpineStep", "live_nodes", "power_trees"]

SOURCES = frozenset({NodeKind.BATTERY, NodeKind.ALTERNATOR, NodeKind.DCDC, NodeKind.SHORE, NodeKind.SOLAR})
_SPINE_KINDS = frozenset({NodeKind.BATTERY, NodeKind.ALTERNATOR, NodeKind.ISOLATOR, NodeKind.DISCONNECT})
_HOLDS_CIRCUITS = frozenset({NodeKind.PANEL, NodeKind.MODULE})
_RETURN_ONLY = frozenset({NodeKind.GROUND, NodeKind.CHASSIS})


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """
    A node with the run that leads to it, or a circuit that hangs on no panel; and what hangs on it in turn.

    With ``link_to`` it is a run that closes a ring, going on to that node; ``link_ends`` where it comes in again.
    """

    node: PowerNode | None = None
    run: Run | None = None
    circuit: Circuit | None = None
    children: tuple["Branch", ...] = ()
    link_to: PowerNode | None = None
    link_ends: bool = False

    def walk(self) -> Iterable[tuple[int, "Branch"]]:
        """Yield this branch and all below it with their depth, parents first."""
        waiting = [(0, self)]
        while waiting:
            depth, branch = waiting.pop()
            yield depth, branch
            waiting += [(depth + 1, child) for child in reversed(branch.children)]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpineStep:
    """One node on the way from the supply to the main bus; ``run`` leads to it from the step before."""

    node: PowerNode
    run: Run | None
    branches: tuple[Branch, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerTree:
    """One connected system: its spine, its main bus (None where nothing branches), what the bus feeds, runs left out."""

    spine: tuple[SpineStep, ...]
    bus: SpineStep | None
    left_out: tuple[Run, ...]


_Steps: TypeAlias = Mapping[str, list[tuple[str, Run]]]


def power_trees(design: Design) -> tuple[PowerTree, ...]:
    """Return one tree for every system of the design that no run joins to another, in the order of its nodes."""
    nodes = {node.key: node for node in design.nodes if node.kind not in _RETURN_ONLY}
    runs = [
        run for run in design.runs if run.side is RunSide.SUPPLY and run.from_node in nodes and run.to_node in nodes
    ]
    steps: dict[str, list[tuple[str, Run]]] = {key: [] for key in nodes}
    for run in runs:
        steps[run.from_node].append((run.to_node, run))
        steps[run.to_node].append((run.from_node, run))
    trees, seen = [], set[str]()
    for key in nodes:
        if key not in seen:
            system = _reached(key, steps)
            seen |= set(system)
            trees.append(_tree(design, [nodes[name] for name in nodes if name in system], steps))
    return tuple(trees)


def live_nodes(design: Design) -> frozenset[str]:
    """Return the nodes that a source reaches with every main disconnect open; the disconnects themselves are not in it."""
    opened = {node.key for node in design.nodes if node.kind is NodeKind.DISCONNECT}
    steps: dict[str, list[str]] = {}
    for run in design.runs:
        if run.side is RunSide.SUPPLY:
            steps.setdefault(run.from_node, []).append(run.to_node)
            steps.setdefault(run.to_node, []).append(run.from_node)
    waiting = [node.key for node in design.nodes if node.kind in SOURCES]
    live = set(waiting)
    while waiting:
        for other in steps.get(waiting.pop(), ()):
            if other not in live and other not in opened:
                live.add(other)
                waiting.append(other)
    return frozenset(live)


def _reached(start: str, steps: _Steps, *, closed: frozenset[str] = frozenset()) -> dict[str, None]:
    """Nodes reached from ``start`` without entering ``closed``, in the order they are met."""
    reached = {start: None}
    waiting = deque([start])
    while waiting:
        for other, _ in steps[waiting.popleft()]:
            if other not in reached and other not in closed:
                reached[other] = None
                waiting.append(other)
    return reached


def _tree(design: Design, nodes: list[PowerNode], steps: _Steps) -> PowerTree:
    bus = _main_bus(nodes, steps)
    root = _root(nodes, steps, bus)
    parents = _parents(root.key, steps)
    children: dict[str, list[tuple[str, Run]]] = {}
    for key, (parent, run) in parents.items():
        children.setdefault(parent, []).append((key, run))
    way = _way(root, bus, parents, children, {node.key: node for node in nodes})
    branches = _Branches(design, {node.key: node for node in nodes}, children)
    spine = tuple(
        SpineStep(
            node=node, run=parents[node.key][1] if node.key in parents else None, branches=branches.of(node, set(way))
        )
        for node in (branches.nodes[key] for key in way)
    )
    used = {run.key for _, run in parents.values()}
    inside = {node.key for node in nodes}
    left_out = tuple(
        run for run in design.runs if run.side is RunSide.SUPPLY and run.from_node in inside and run.key not in used
    )
    if bus is not None:
        return PowerTree(spine=spine[:-1], bus=spine[-1], left_out=left_out)
    return PowerTree(spine=spine, bus=None, left_out=left_out)


def _main_bus(nodes: list[PowerNode], steps: _Steps) -> PowerNode | None:
    """The bus with most behind it: nodes in branches that hold no source."""
    sources = {node.key for node in nodes if node.kind in SOURCES}
    best, best_count = None, 0
    for node in nodes:
        if node.kind is not NodeKind.BUS:
            continue
        count = 0
        for other, _ in steps[node.key]:
            behind = _reached(other, steps, closed=frozenset({node.key}))
            count += 0 if sources & set(behind) else len(behind)
        if count > best_count or best is None:
            best, best_count = node, count
    return best


def _root(nodes: list[PowerNode], steps: _Steps, bus: PowerNode | None) -> PowerNode:
    """An alternator, else the battery farthest from the bus, else what is listed first; never the bus if there is more."""
    for node in nodes:
        if node.kind is NodeKind.ALTERNATOR:
            return node
    batteries = [node for node in nodes if node.kind is NodeKind.BATTERY]
    if batteries and bus is not None:
        order = list(_reached(bus.key, steps))
        return max(batteries, key=lambda node: order.index(node.key))
    others = [node for node in nodes if node is not bus]
    return (batteries or others or nodes)[0]


def _parents(root: str, steps: _Steps) -> dict[str, tuple[str, Run]]:
    parents: dict[str, tuple[str, Run]] = {}
    seen = {root}
    waiting = deque([root])
    while waiting:
        here = waiting.popleft()
        for other, run in steps[here]:
            if other not in seen:
                seen.add(other)
                parents[other] = (here, run)
                waiting.append(other)
    return parents


def _way(
    root: PowerNode,
    bus: PowerNode | None,
    parents: Mapping[str, tuple[str, Run]],
    children: Mapping[str, list[tuple[str, Run]]],
    nodes: Mapping[str, PowerNode],
) -> list[str]:
    """Keys from the root to the bus; without a bus, on through sources and switches as long as something follows."""
    if bus is not None:
        way = [bus.key]
        while way[-1] in parents:
            way.append(parents[way[-1]][0])
        return way[::-1]
    way = [root.key]
    while True:
        onward = [key for key, _ in children.get(way[-1], []) if nodes[key].kind in _SPINE_KINDS]
        if not onward:
            return way
        way.append(max(onward, key=lambda key: (len(children.get(key, [])), -list(nodes).index(key))))


class _Branches:
    """Builds the branches that hang on a node, circuits that hang on no panel included."""

    def __init__(
        self, design: Design, nodes: Mapping[str, PowerNode], children: Mapping[str, list[tuple[str, Run]]]
    ) -> None:
        self.nodes = nodes
        self.children = children
        self.circuits: dict[str, list[Circuit]] = {}
        for circuit in design.circuits:
            self.circuits.setdefault(circuit.panel, []).append(circuit)

    def of(self, node: PowerNode, without: set[str]) -> tuple[Branch, ...]:
        """Return the branches at a node; made from the leaves up, since a chain may be longer than a call stack."""
        order, waiting = [], [node]
        while waiting:
            here = waiting.pop()
            order.append(here)
            waiting += [self.nodes[key] for key, _ in self.children.get(here.key, []) if key not in without]
        made: dict[str, tuple[Branch, ...]] = {}
        for here in reversed(order):
            fed = [
                Branch(node=self.nodes[key], run=run, children=made[key])
                for key, run in self.children.get(here.key, [])
                if key not in without
            ]
            if here.kind not in _HOLDS_CIRCUITS:
                fed += [Branch(circuit=circuit) for circuit in self.circuits.get(here.key, ())]
            made[here.key] = tuple(fed)
        return made[node.key]
