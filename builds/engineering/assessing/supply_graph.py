"""The supply runs as a graph: what is alive without a run or a node, what lies on rings, what devices stand around a node."""

import math
from collections import Counter, deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.design import Circuit, PowerNode, Run
from builds.engineering.vocabulary import NodeKind, RunSide

__all__ = ["SupplyGraph", "converter_feeding"]

_BATTERIES = ""  # all of them as one node: what hangs between two of them is a ring through it


@dataclass(frozen=True, slots=True)
class SupplyGraph:
    """Runs of the supply side with every node's steps, an isolator's runs left out where it is open."""

    batteries: tuple[str, ...]
    disconnects: frozenset[str]
    runs: tuple[Run, ...]
    steps: dict[str, list[tuple[Run, str]]]

    @classmethod
    def of(cls, index: IndexedDesign, *, isolators_closed: bool) -> "SupplyGraph":
        """Return the graph of a design."""
        of_kind = {
            kind: frozenset(node.key for node in index.design.nodes if node.kind is kind)
            for kind in (NodeKind.ISOLATOR, NodeKind.DISCONNECT)
        }
        shut = frozenset[str]() if isolators_closed else of_kind[NodeKind.ISOLATOR]
        runs = tuple(
            run for run in index.design.runs if run.side is RunSide.SUPPLY and not shut & {run.from_node, run.to_node}
        )
        steps: dict[str, list[tuple[Run, str]]] = {}
        for run in runs:
            steps.setdefault(run.from_node, []).append((run, run.to_node))
            steps.setdefault(run.to_node, []).append((run, run.from_node))
        return cls(tuple(node.key for node in index.batteries()), of_kind[NodeKind.DISCONNECT], runs, steps)

    def alive(self, *, without: Run | str | None = None, past_devices: bool = True) -> set[str]:
        """Nodes that some battery reaches without one run or node, and where asked without passing a device."""
        start = (key for key in self.batteries if key != without)
        return self._walk(
            start,
            lambda run, there: run is without or there == without or bool(run.device_rating_a and not past_devices),
        )

    def alive_without_disconnects(self) -> set[str]:
        """Nodes that some battery still feeds with every disconnect open."""
        return self._walk(self.batteries, lambda _, there: there in self.disconnects)

    def _walk(self, start: Iterable[str], barred: Callable[[Run, str], bool]) -> set[str]:
        met = set(start)
        waiting = deque(met)
        while waiting:
            for run, there in self.steps.get(waiting.popleft(), ()):
                if there not in met and not barred(run, there):
                    met.add(there)
                    waiting.append(there)
        return met

    def guards_of(self, node: str, *, without: Run | None = None) -> tuple[Run, ...] | None:
        """
        Return the runs whose devices together bound what batteries can send to a node: the smallest sum of ratings there is.

        What comes over the run ``without`` is not counted.

        None where a battery feeds it through no device at all. (The smallest cut is the largest flow, pushed way by way.)
        """
        pushed: dict[str, float] = {}
        while True:
            came_by = self._ways_with_room(pushed, node, without)
            if node not in came_by:
                cut = (
                    run
                    for run in self.runs
                    if run is not without and (run.from_node in came_by) != (run.to_node in came_by)
                )
                return tuple(cut)
            way, here = [], node
            while (step := came_by[here]) is not None:
                way.append(step)
                here = step[1]
            more_a = min((_room_a(run, from_node, pushed) for run, from_node in way), default=math.inf)
            if math.isinf(more_a):
                return None
            for run, from_node in way:
                pushed[run.key] = pushed.get(run.key, 0.0) + (more_a if from_node == run.from_node else -more_a)

    def _ways_with_room(
        self, pushed: dict[str, float], target: str, without: Run | None
    ) -> dict[str, tuple[Run, str] | None]:
        """Nodes that more could flow to, each with the run it would come by and the node it would come from."""
        came_by: dict[str, tuple[Run, str] | None] = dict.fromkeys(self.batteries)
        waiting = deque(self.batteries)
        while waiting and target not in came_by:
            here = waiting.popleft()
            for run, there in self.steps.get(here, ()):
                if there not in came_by and run is not without and _room_a(run, here, pushed) > 0:
                    came_by[there] = (run, here)
                    waiting.append(there)
        return came_by

    def behind(self, start: str, panels: set[str], without: Run | None = None) -> set[str]:
        """Return the first of ``panels`` on every way on from a node, past no battery and over no run ``without``."""
        met, waiting = {start}, deque([start])
        while waiting:
            here = waiting.popleft()
            for run, there in () if here in panels else self.steps.get(here, ()):
                if there not in met and there not in self.batteries and run is not without:
                    met.add(there)
                    waiting.append(there)
        return met & panels

    def on_rings(self) -> tuple[tuple[Run, ...], set[str]]:
        """Runs and nodes that are left when every end that leads nowhere is taken off, the batteries counted as one."""
        left = {run.key: (self._node(run.from_node), self._node(run.to_node)) for run in self.runs}
        while True:
            ends = Counter(end for pair in left.values() for end in set(pair))
            loose = {end for end, times in ends.items() if times == 1 and end != _BATTERIES}
            if not loose:
                break
            left = {key: pair for key, pair in left.items() if not loose & set(pair)}
        return tuple(run for run in self.runs if run.key in left), {end for pair in left.values() for end in pair}

    def _node(self, key: str) -> str:
        return _BATTERIES if key in self.batteries else key


def _room_a(run: Run, from_node: str, pushed: dict[str, float]) -> float:
    """How much more its device lets through a run in one direction; no limit without one [A]."""
    if not run.device_rating_a:
        return math.inf
    already_a = pushed.get(run.key, 0.0)
    return run.device_rating_a - (already_a if from_node == run.from_node else -already_a)


def converter_feeding(index: IndexedDesign, circuit: Circuit) -> PowerNode | None:
    """Return the converter on whose output a circuit hangs; ``None`` where a battery feeds it without one between."""
    into: dict[str, list[str]] = {}
    for run in index.design.runs:
        if run.side is RunSide.SUPPLY:
            into.setdefault(run.to_node, []).append(run.from_node)
    batteries = {node.key for node in index.batteries()}
    found: PowerNode | None = None
    met, waiting = {circuit.panel}, deque([circuit.panel])
    while waiting:
        key = waiting.popleft()
        if key in batteries:
            return None
        node = index.nodes.get(key)
        if node is not None and node.converter is not None:
            found = found or node
            continue
        fresh = [other for other in into.get(key, ()) if other not in met]
        met.update(fresh)
        waiting.extend(fresh)
    return found
