"""
A bounded search for a sequence, for states that the short way of :mod:`reachable` neither brings about nor excludes.

A run of a few settings, each held for one of a few lengths, is written out moment by moment: every moment at which
something can change is a copy of the gates, a timer at a moment is the conjunction of what it watches over its time before
it. The solver fills in the settings; the evaluator confirms what it finds. Finding nothing proves nothing.
"""

from dataclasses import dataclass, field
from itertools import product

from builds.engineering.functions.compiled import CompiledSchedule, Leaves, new_leaves
from builds.engineering.functions.gates import FALSE, TRUE, Gates, Literal
from builds.engineering.functions.reachable import Trace, play
from builds.engineering.functions.running import TraceStep
from builds.engineering.functions.settings import setting_of_numbers
from builds.engineering.functions.solving import StateSpace
from builds.engineering.functions.vocabulary import ON

__all__ = ["search"]

_MOST_SETTINGS = 3
_MOST_LENGTHS = 4
_MOST_MOMENTS = 60
_MOST_COPIES = 150_000  # gates copied in one search: about a second
_DEPTH = 3  # a timer within a timer within a timer


def search(compiled: CompiledSchedule, wanted: tuple[Literal, ...], numbers: tuple[int, ...]) -> Trace | None:
    """
    Return a sequence of at most three settings that ends in a given one with all of ``wanted``; None if it finds none.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    wanted : tuple of literals
        What must hold at the end.
    numbers : tuple of int
        The setting it ends in, a number of a value per input.
    """
    gates = compiled.gates
    timers = gates.timers_in([*wanted, compiled.possible])
    leaves = [literal for one in compiled.leaves for literal in one.literals if not gates.made_of[abs(literal)]]
    cone = gates.cone([*wanted, compiled.possible, *leaves])
    copied = 0
    lengths = sorted({timer.duration_ms for timer in timers})[:_MOST_LENGTHS]
    before = [1, *(length + 1 for length in lengths)]
    for count in range(_MOST_SETTINGS):
        for held in product(*[before] * count, [0, *lengths]):
            run = _Unrolled(compiled, wanted, numbers, held, lengths, cone)
            copied += len(run.moments) * len(cone)
            if copied > _MOST_COPIES:
                return None
            trace = run.find()
            if trace is not None:
                return trace
    return None


@dataclass(slots=True)
class _Unrolled:
    """One run of as many settings as ``held`` has lengths, as gates of its own."""

    compiled: CompiledSchedule
    wanted: tuple[Literal, ...]
    numbers: tuple[int, ...]
    held: tuple[int, ...]
    lengths: list[int]
    cone: list[int]
    gates: Gates = field(default_factory=Gates)
    settings: list[tuple[Leaves, ...]] = field(default_factory=list)
    moments: list[int] = field(default_factory=list)
    copies: list[dict[int, Literal]] = field(default_factory=list)  # by moment: gate of the schedule to literal here
    conditions: list[Literal] = field(default_factory=list)

    @property
    def starts(self) -> list[int]:
        """When each setting begins."""
        return [sum(self.held[:place]) for place in range(len(self.held))]

    def __post_init__(self) -> None:
        end_ms = sum(self.held)
        self.moments = sorted(moment for moment in self._closed({*self.starts, end_ms}) if moment <= end_ms)

    def find(self) -> Trace | None:
        """The run as a trace if the solver finds one and the evaluator confirms it."""
        starts, end_ms = self.starts, sum(self.held)
        if len(self.moments) > _MOST_MOMENTS:
            return None
        self.settings = [self._setting(place) for place in range(len(starts))]
        for moment in self.moments:
            self._copy(moment, starts)
        last = self.copies[-1]
        ends = [leaves.literals[number] for leaves, number in zip(self.settings[-1], self.numbers, strict=True)]
        return self._solve(starts, end_ms, [*ends, *(_in(last, literal) for literal in self.wanted)])

    def _closed(self, moments: set[int]) -> set[int]:
        for _ in range(_DEPTH):
            moments = moments | {moment + length for moment in moments for length in self.lengths}
        return moments

    def _setting(self, place: int) -> tuple[Leaves, ...]:
        inputs = self.compiled.schedule.inputs
        return tuple(
            new_leaves(self.gates, number=place * len(inputs) + number, values=part.values, rest=part.rest)
            for number, part in enumerate(inputs)
        )

    def _copy(self, moment: int, starts: list[int]) -> None:
        place = max(number for number, start in enumerate(starts) if start <= moment)
        begins = moment == starts[place]
        own = self._leaves(self.settings[place], begins=begins)
        copy: dict[int, Literal] = {TRUE: TRUE}
        self.copies.append(copy)
        source = self.compiled.gates
        for gate in self.cone:
            timer = source.timers.get(gate)
            if gate in own:
                copy[gate] = own[gate]
            elif timer is not None:
                copy[gate] = self._timer(moment, timer.held, timer.duration_ms, starts_done=timer.starts_done)
            elif source.made_of[gate]:
                copy[gate] = self.gates.all_of(_in(copy, literal) for literal in source.made_of[gate])
        if begins:
            self.conditions.append(_in(copy, self.compiled.possible))

    def _leaves(self, setting: tuple[Leaves, ...], *, begins: bool) -> dict[int, Literal]:
        """The schedule's leaves here; within a setting a latch stays on only while no rule has let it go."""
        own: dict[int, Literal] = {}
        for leaves, here in zip(self.compiled.leaves, setting, strict=True):
            own |= {
                abs(literal): mine
                for literal, mine in zip(leaves.literals, here.literals, strict=True)
                if not self.compiled.gates.made_of[abs(literal)]
            }
        if not begins:
            before = self.copies[-1]
            for rule, latch in self.compiled.releases:
                on = self.compiled.leaves[latch].literal(ON)
                let_go = _in(before, self.compiled.holds[rule]) if abs(self.compiled.holds[rule]) in before else FALSE
                own[on] = self.gates.all_of((before[on], -let_go))
        return own

    def _timer(self, moment: int, held: Literal, duration_ms: int, *, starts_done: bool) -> Literal:
        since = moment - duration_ms
        if since < 0 and not starts_done:
            return FALSE
        first = max((at for at in self.moments if at <= since), default=0)
        within = [_in(copy, held) for at, copy in zip(self.moments, self.copies, strict=False) if at >= first]
        return self.gates.all_of(within)

    def _solve(self, starts: list[int], end_ms: int, ends: list[Literal]) -> Trace | None:
        space = StateSpace(self.gates, [leaves for setting in self.settings for leaves in setting])
        try:
            if not space.some([*self.conditions, *ends]):
                return None
            numbers = space.state().numbers
        finally:
            space.close()
        return self._confirmed(starts, end_ms, numbers)

    def _confirmed(self, starts: list[int], end_ms: int, numbers: tuple[int, ...]) -> Trace | None:
        inputs = self.compiled.schedule.inputs
        steps = tuple(
            TraceStep(at_ms=at_ms, setting=setting_of_numbers(inputs, numbers[place * len(inputs) :][: len(inputs)]))
            for place, at_ms in enumerate(starts)
        )
        trace = Trace(steps=steps, look_ms=end_ms)
        values = play(self.compiled, trace, only=self.wanted).values
        return trace if all(values[literal] for literal in self.wanted) else None


def _in(copy: dict[int, Literal], literal: Literal) -> Literal:
    return copy[literal] if literal > 0 else -copy[-literal]
