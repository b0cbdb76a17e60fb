"""
Every state of a small schedule with timers, for what neither the short way of :mod:`reachable` nor a bounded search decides.

Time is whole milliseconds, and what happens depends on timers only through which of them have run out. So states are
gathered: where the inputs stand, which timers have run out, which are running, and bounds on how long each of those has run
and how far they are apart. (In the literature on timed automata these are zones, kept as matrices of differences: Dill 1989.)
A running timer is at most as old as it is long, so there are finitely many, and what none of them shows no run shows.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import chain, combinations, product
from math import prod

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.evaluate import leaf_rows
from builds.engineering.functions.gates import Literal, Timer
from builds.engineering.functions.reachable import Trace, play
from builds.engineering.functions.running import TraceStep
from builds.engineering.functions.settings import setting_of_numbers
from builds.engineering.functions.vocabulary import OFF, ON

__all__ = ["Found", "look_everywhere"]

_MOST_SETTINGS = 160
_MOST_TIMERS = 6
_MOST_NODES = 6_000

Numbers = tuple[int, ...]
Bounds = tuple[
    tuple[float, ...], ...
]  # row i, column j: age i is at most so much above age j; number 0 is no age, but nothing


@dataclass(frozen=True, slots=True)
class Found:
    """The state nearest to rest that was looked for, and a sequence to it; ``trace`` is None where no state has it."""

    numbers: Numbers
    trace: Trace | None


@dataclass(frozen=True, slots=True)
class _Rest:
    """Where the module comes to rest in a moment: inputs, timers that have run out, those that run; and what holds there."""

    numbers: Numbers
    done: frozenset[int]
    runs: tuple[int, ...]
    allowed: bool
    wanted: bool


@dataclass(slots=True)
class _Node:
    """A gathered state with how it was entered: by setting inputs (``pressed``), or as the timers in ``over`` ran out."""

    rest: _Rest
    bounds: Bounds
    parent: "_Node | None"
    pressed: Numbers | None = None
    over: frozenset[int] = frozenset()
    started: dict[int, "_Node"] = field(default_factory=dict)  # by timer: where it began to run


def look_everywhere(compiled: CompiledSchedule, wanted: tuple[Literal, ...]) -> Found | None:
    """
    Look at every reachable state of a small schedule for one in which some literals hold.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    wanted : tuple of literals
        What to look for.

    Returns
    -------
    Found or None
        None where there are too many settings, timers or states to look at, or the evaluator does not confirm the sequence.
    """
    walk = _Walk.of(compiled, wanted)
    nodes = walk.nodes() if walk is not None else None
    if walk is None or nodes is None:
        return None
    hits = [node for node in nodes if node.rest.wanted]
    if not hits:
        return Found((), None)
    rest = walk.rest_numbers
    nearest = min(hits, key=lambda node: _away(rest, node.rest.numbers))
    trace = walk.trace_to(nearest)
    values = play(compiled, trace, only=wanted).values
    return Found(nearest.rest.numbers, trace) if all(values[literal] for literal in wanted) else None


def _away(rest: Numbers, numbers: Numbers) -> tuple[int, tuple[int, ...], tuple[int, ...]]:
    places = tuple(place for place, number in enumerate(numbers) if number != rest[place])
    return len(places), places, tuple(numbers[place] for place in places)


@dataclass(slots=True)
class _Walk:
    compiled: CompiledSchedule
    wanted: tuple[Literal, ...]
    timers: dict[int, Timer]
    cone: list[int]
    rest_numbers: Numbers
    settings: tuple[Numbers, ...]
    known: dict[tuple[Numbers, frozenset[int], frozenset[int]], _Rest] = field(default_factory=dict)

    @classmethod
    def of(cls, compiled: CompiledSchedule, wanted: tuple[Literal, ...]) -> "_Walk | None":
        """Return a walk over the inputs and timers that can matter; None where they are too many."""
        gates, inputs = compiled.gates, compiled.schedule.inputs
        roots = (*wanted, compiled.allowed, *(compiled.holds[rule] for rule, _ in compiled.releases))
        leaves = (own.literal(ON) for own in (compiled.leaves[latch] for _, latch in compiled.releases))
        roots = (*roots, *leaves)
        timers = {timer.gate: timer for timer in gates.timers_in(roots)}
        matter = set(gates.inputs_of(roots))
        rest = tuple(own.values.index(own.rest) for own in compiled.leaves)
        choices = [range(len(part.values)) if place in matter else (rest[place],) for place, part in enumerate(inputs)]
        if len(timers) > _MOST_TIMERS or prod(map(len, choices)) > _MOST_SETTINGS:
            return None
        return cls(compiled, wanted, timers, gates.cone(roots), rest, tuple(product(*choices)))

    def nodes(self) -> list[_Node] | None:
        """Return every gathered state; None where they are more than are looked at."""
        awake = frozenset(timer.gate for timer in self.timers.values() if timer.starts_done)
        start = self.settle(self.rest_numbers, awake, frozenset())
        first = _Node(start, _fresh(len(start.runs)), None)
        first.started = dict.fromkeys(start.runs, first)
        found, waiting = ([first], [first]) if start.allowed else ([], [])
        seen: dict[tuple[Numbers, frozenset[int], tuple[int, ...]], list[Bounds]] = {}
        while waiting:
            for node in self._onward(waiting.pop()):
                there = (node.rest.numbers, node.rest.done, node.rest.runs)
                before = seen.setdefault(there, [])
                if any(_within(node.bounds, bounds) for bounds in before):
                    continue
                before.append(node.bounds)
                found.append(node)
                waiting.append(node)
                if len(found) > _MOST_NODES:
                    return None
        return found

    def settle(self, numbers: Numbers, done: frozenset[int], running: frozenset[int]) -> _Rest:
        """Where the module comes to rest when inputs are set there, or timers run out; as :class:`Run` does it."""
        key = (numbers, done, running)
        if key not in self.known:
            inputs, gates = self.compiled.schedule.inputs, self.compiled.gates
            while True:
                values = gates.compute(
                    leaf_rows(self.compiled, numbers), 1, self.cone, {gate: int(gate in done) for gate in self.timers}
                )
                latch = next(
                    (
                        latch
                        for rule, latch in self.compiled.releases
                        if numbers[latch] == inputs[latch].values.index(ON) and values[self.compiled.holds[rule]]
                    ),
                    None,
                )
                if latch is None:
                    break
                numbers = (*numbers[:latch], inputs[latch].values.index(OFF), *numbers[latch + 1 :])
            held = [gate for gate, timer in self.timers.items() if values[timer.held]]
            self.known[key] = _Rest(
                numbers,
                frozenset(gate for gate in held if gate in done),
                tuple(gate for gate in held if gate not in done),
                bool(values[self.compiled.allowed]),
                all(values[literal] for literal in self.wanted),
            )
        return self.known[key]

    def _onward(self, node: _Node) -> Iterator[_Node]:
        """What follows: inputs set otherwise at some moment while nothing runs out, or some timers running out together."""
        runs = node.rest.runs
        lasts_ms = [self.timers[gate].duration_ms for gate in runs]
        waited = _delayed(node.bounds, [(0, length_ms - 1) for length_ms in lasts_ms])
        if waited is not None:
            for numbers in self.settings:
                if numbers != node.rest.numbers:
                    rest = self.settle(numbers, node.rest.done, frozenset(runs))
                    yield from self._entered(node, rest, waited, pressed=numbers)
        for over in chain.from_iterable(combinations(runs, count) for count in range(1, len(runs) + 1)):
            limits = [
                (length_ms, length_ms) if gate in over else (0, length_ms - 1)
                for gate, length_ms in zip(runs, lasts_ms, strict=True)
            ]
            bounds = _delayed(node.bounds, limits)
            if bounds is not None:
                rest = self.settle(node.rest.numbers, node.rest.done | set(over), frozenset(runs) - set(over))
                yield from self._entered(node, rest, bounds, over=frozenset(over))

    def _entered(
        self,
        node: _Node,
        rest: _Rest,
        bounds: Bounds,
        *,
        pressed: Numbers | None = None,
        over: frozenset[int] = frozenset(),
    ) -> Iterator[_Node]:
        """The state entered, its new timers at nothing; none where a given excludes it."""
        if rest.allowed:
            goes_on = {gate: place for place, gate in enumerate(node.rest.runs, 1) if gate not in over}
            places = [goes_on.get(gate, 0) for gate in rest.runs]
            after = _Node(rest, _kept(bounds, places), node, pressed, over)
            after.started = {gate: node.started[gate] if gate in goes_on else after for gate in rest.runs}
            yield after

    def trace_to(self, node: _Node) -> Trace:
        """A sequence to a gathered state, every step at the earliest moment it can be."""
        way = [node]
        while way[-1].parent is not None:
            way.append(way[-1].parent)
        way.reverse()
        at_ms = _earliest(way, self.timers)
        inputs = self.compiled.schedule.inputs
        steps = [
            TraceStep(at_ms=at, setting=setting_of_numbers(inputs, step.pressed))
            for step, at in zip(way, at_ms, strict=True)
            if step.pressed is not None
        ]
        return Trace(steps=tuple(steps), look_ms=at_ms[-1])


def _earliest(way: list[_Node], timers: Mapping[int, Timer]) -> list[int]:
    """When each step can be at the earliest: differences between moments, tightened until all hold (Bellman and Ford)."""
    number = {id(node): place for place, node in enumerate(way)}
    least: list[tuple[int, int, int]] = []  # of two moments the later one is at least so much after the other
    for place, node in enumerate(way[1:], 1):
        least.append((place - 1, place, 0))
        before = way[place - 1]
        for gate, since in before.started.items():
            start, length_ms = number[id(since)], timers[gate].duration_ms
            if gate in node.over:
                least.append((start, place, length_ms))
            least.append((place, start, -(length_ms if gate in node.over else length_ms - 1)))
    at_ms = [0] * len(way)
    for _ in way:
        for earlier, later, gap_ms in least:
            at_ms[later] = max(at_ms[later], at_ms[earlier] + gap_ms)
    return at_ms


def _fresh(count: int) -> Bounds:
    return tuple((0.0,) * (count + 1) for _ in range(count + 1))


def _within(one: Bounds, other: Bounds) -> bool:
    return all(a <= b for row, others in zip(one, other, strict=True) for a, b in zip(row, others, strict=True))


def _delayed(bounds: Bounds, limits: list[tuple[int, int]]) -> Bounds | None:
    """The ages after some time, each between its limits; None where there is no such moment."""
    size = len(bounds)
    rows = [list(row) for row in bounds]
    for place, (least_ms, most_ms) in enumerate(limits, 1):
        rows[place][0] = float(most_ms)
        rows[0][place] = min(rows[0][place], -float(least_ms))
    for via in range(size):
        for row in rows:
            for column in range(size):
                row[column] = min(row[column], row[via] + rows[via][column])
    if any(rows[place][place] < 0 for place in range(size)):
        return None
    return tuple(map(tuple, rows))


def _kept(bounds: Bounds, places: list[int]) -> Bounds:
    """The ages at these places; place 0 is an age that begins now."""
    chosen = (0, *places)
    return tuple(tuple(bounds[row][column] for column in chosen) for row in chosen)
