"""
The course of many steps at once: from one settled setting to each of several, until nothing changes any more.

Between a change and the next only timers run out and buttons are let go, at moments that are sums of the timers' times. Each
moment is one computation of the gates; a timer is done when what it watches has held at every moment of its time.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.gates import Values
from builds.engineering.functions.goals import before_of
from builds.engineering.functions.looks import Batch, rows_of_settings
from builds.engineering.functions.vocabulary import ON

__all__ = ["Course", "course_of"]

Numbers = tuple[int, ...]
_DEPTH = 3  # a timer within a timer within a timer
_MOST_MOMENTS = 40


@dataclass(frozen=True, slots=True)
class Course:
    """The gates right after the change, at every later moment, and how the inputs stand at the end."""

    at_once: Values
    later: tuple[Values, ...]
    end: Batch


def course_of(
    compiled: CompiledSchedule, earlier: Numbers, batch: Batch, gates: Sequence[int], later_gates: Sequence[int]
) -> Course:
    """
    Return how steps go from one settled setting to each of a batch.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    earlier : tuple of int
        The setting before.
    batch : Batch
        The settings changed to, one per column.
    gates : sequence of int
        The gates to compute, in numbered order, with all that they depend on.
    later_gates : sequence of int
        Those of them that are followed to the end, which the rules that let buttons go are among; none if there is nothing
        to follow.
    """
    work = _Course(compiled, batch, later_gates)
    at_once = work.changed_from(earlier, gates)
    later = tuple(work.moments())
    return Course(at_once, later, Batch(work.rows, batch.count))


class _Course:
    def __init__(self, compiled: CompiledSchedule, batch: Batch, gates: Sequence[int]) -> None:
        self.compiled, self.gates, self.mask = compiled, gates, batch.mask
        self.rows = dict(batch.rows)
        self.timers = [compiled.gates.timers[gate] for gate in gates if gate in compiled.gates.timers]
        self.past: list[tuple[int, Values]] = []

    def changed_from(self, earlier: Numbers, gates: Sequence[int]) -> Values:
        compiled = self.compiled
        stood = rows_of_settings(compiled, [earlier]).settled(compiled, gates)
        timers = [gate for gate in gates if gate in compiled.gates.timers]
        done = {gate: self.mask if stood[gate] else 0 for gate in timers}
        was = {leaf: done.get(gate, 0) for gate, leaf in before_of(compiled).was.items()}
        values = compiled.gates.compute({**self.rows, **was}, self.mask, gates, done)
        self.past = [(0, values)]
        return values

    def moments(self) -> Iterator[Values]:
        lengths = sorted({timer.duration_ms for timer in self.timers})
        found = {0}
        for _ in range(_DEPTH):
            found |= {moment + length for moment in found for length in lengths}
        for moment in sorted(found)[1:_MOST_MOMENTS]:
            values = self._at(moment)
            self.past.append((moment, values))
            yield values

    def _at(self, moment: int) -> Values:
        done = {}
        for timer in self.timers:
            row = self.mask if moment >= timer.duration_ms else 0
            for at, values in self.past:
                if at >= moment - timer.duration_ms:
                    row &= values[timer.held]
            done[timer.gate] = row | self.past[-1][1][timer.gate]
        while True:
            values = self.compiled.gates.compute(self.rows, self.mask, self.gates, done)
            if not self._let_go(values):
                return values

    def _let_go(self, values: Values) -> bool:
        """Take the buttons off that rules let go now; whether there were any."""
        gone = False
        for rule, latch in self.compiled.releases:
            on = self.compiled.leaves[latch].literal(ON)
            freed = values[self.compiled.holds[rule]] & self.rows[on]
            if freed:
                self.rows[on] &= ~freed
                gone = True
        return gone
