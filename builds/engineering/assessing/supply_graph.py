"""
The supply runs as a graph: what is alive without a run or a node, what lies on rings, what devices stand around a node.

A converter is passed from its input to its output and never back. A run that is drawn to one ends at its input.
"""

import math
from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from builds.engineering.assessing.conversion import input_node
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.design import Circuit, PowerNode, Run
from builds.engineering.vocabulary import NodeKind, RunSide

__all__ = ["SupplyGraph", "converter_feeding"]

_BATTERIES = ""  # all of them as one node: what hangs between two of them is a ring through it


@dataclass(frozen=True, slots=True)
class SupplyGraph:
    """
    Runs of the supply side with every node's steps, an isolator's runs left out where it is open.

    ``output_of`` leads from a converter's input on to the converter, from which its output runs start.
    """

    batteries: tuple[str, ...]
    disconnects: frozenset[str]
    runs: tuple[Run, ...]
    steps: dict[str, list[tuple[Run, str]]]
    output_of: dict[str, str]

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
        output_of = {input_node(node.key): node.key for node in index.design.nodes if node.converter is not None}
        steps: dict[str, list[tuple[Run, str]]] = {}
        for run in runs:
            end = _end(run, output_of)
            steps.setdefault(run.from_node, []).append((run, end))
            steps.setdefault(end, []).append((run, run.from_node))
        batteries = tuple(node.key for node in index.batteries())
        return cls(batteries, of_kind[NodeKind.DISCONNECT], runs, steps, output_of)

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
            here = waiting.popleft()
            found = [there for run, there in self.steps.get(here, ()) if not barred(run, there)]
            for there in (*found, *self._outputs(found)):
                if there not in met:
                    met.add(there)
                    waiting.append(there)
        return met

    def _outputs(self, nodes: Iterable[str]) -> Iterator[str]:
        """The converters whose inputs are among some nodes: what reaches the input makes them live."""
        return (self.output_of[node] for node in nodes if node in self.output_of)

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
                    if run is not without and (run.from_node in came_by) != (_end(run, self.output_of) in came_by)
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
                    for reached in (there, *self._outputs((there,))):
                        came_by.setdefault(reached, (run, here))
                        waiting.append(reached)
        return came_by

    def behind(self, start: str, panels: set[str], without: Run | None = None) -> set[str]:
        """Return the first of ``panels`` on every way on from a node, past no battery and over no run ``without``."""
        met, waiting = {start}, deque([start])
        while waiting:
            here = waiting.popleft()
            steps = () if here in panels else self.steps.get(here, ())
            found = [there for run, there in steps if there not in self.batteries and run is not without]
            for there in (*found, *self._outputs(found)):
                if there not in met:
                    met.add(there)
                    waiting.append(there)
        return met & panels

    def on_rings(self) -> tuple[tuple[Run, ...], set[str]]:
        """Runs and nodes that are left when every end that leads nowhere is taken off, the batteries counted as one."""
        left = {run.key: (self._node(run.from_node), self._node(_end(run, self.output_of))) for run in self.runs}
        while True:
            ends = Counter(end for pair in left.values() for end in set(pair))
            loose = {end for end, times in ends.items() if times == 1 and end != _BATTERIES}
            if not loose:
                break
            left = {key: pair for key, pair in left.items() if not loose & set(pair)}
        return tuple(run for run in self.runs if run.key in left), {end for pair in left.values() for end in pair}

    def _node(self, key: str) -> str:
        return _BATTERIES if key in self.batteries else key


def _end(run: Run, output_of: dict[str, str]) -> str:
    """The node that a run is drawn to; of a converter its input."""
    end = input_node(run.to_node)
    return end if end in output_of else run.to_node


def _room_a(run: Run, from_node: str, pushed: dict[str, float]) -> float:
    """How much more its device lets through a run in one direction; no limit without one [A]."""
    if not run.device_rating_a:
        return math.inf
    already_a = pushed.get(run.key, 0.0)
    return run.device_rating_a - (already_a if from_node == run.from_node else -already_a)


def converter_feeding(index: IndexedDesign, circuit: Circuit) -> PowerNode | None:
    """Return the converter on whose output a circuit hangs; ``None`` where a battery feeds it without one between."""
    converters = {node.key for node in index.design.nodes if node.converter is not None}
    into: dict[str, list[str]] = {}
    for run in index.design.runs:
        if run.side is RunSide.SUPPLY and run.to_node not in converters:  # one drawn to it ends at its input
            into.setdefault(run.to_node, []).append(run.from_node)
            into.setdefault(run.from_node, []).append(run.to_node)
    batteries = {node.key for node in index.batteries()}
    found: PowerNode | None = None
    met, waiting = {circuit.panel}, deque([circuit.panel])
    while waiting:
        key = waiting.popleft()
        if key in batteries:
            return None
        if key in converters:
            found = found or index.nodes[key]
            continue
        fresh = [other for other in into.get(key, ()) if other not in met]
        met.update(fresh)
        waiting.extend(fresh)
    return found
