"""
A schedule in time: settings that change, timers that run out, latching buttons that are let go.

Time is whole milliseconds since the module woke. Nothing is polled: between two changes of setting only timers can run
out, and the moments at which they do are known, so a run steps from event to event. A changed setting acts at once and at
its own moment.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from builds.engineering.errors import OutOfRange
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.evaluate import Outcome, evaluate_values, leaf_rows, numbers_of, rule_gates
from builds.engineering.functions.gates import TRUE, Literal, Timer, Values
from builds.engineering.functions.settings import AT_REST, Setting, setting_of_numbers
from builds.engineering.functions.vocabulary import OFF, ON

__all__ = ["Run", "TraceStep", "held_ms"]

_LONG_AGO_MS = -(10**12)


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceStep:
    """From ``at_ms`` on the inputs stand like this."""

    at_ms: int
    setting: Setting


@dataclass(slots=True)
class Run:
    """
    A schedule running; make one with :meth:`wake`, which with ``only`` follows some literals and has no outcomes.

    ``held_since`` says of each timer since when what it watches holds.
    """

    compiled: CompiledSchedule
    now_ms: int
    numbers: tuple[int, ...]
    values: Values
    held_since: dict[int, int] = field(default_factory=dict)
    gates: list[int] = field(default_factory=list)

    @classmethod
    def wake(cls, compiled: CompiledSchedule, setting: Setting = AT_REST, *, only: tuple[Literal, ...] = ()) -> "Run":
        """Return a run that finds the inputs at a setting at 0 ms: delays start there, run-ons are over."""
        roots = [*only, *(compiled.holds[rule] for rule, _ in compiled.releases)] if only else compiled.holds
        gates = compiled.gates.cone(roots) if only else rule_gates(compiled)
        run = cls(compiled, 0, (), Values(1, 1), gates=gates)
        run.held_since = {timer.gate: _LONG_AGO_MS for timer in compiled.gates.timers_in(roots) if timer.starts_done}
        run._settle(numbers_of(compiled, setting))
        return run

    def copy(self) -> "Run":
        """Return another run in the same state."""
        return replace(self, held_since=dict(self.held_since))

    @property
    def setting(self) -> Setting:
        """Where the inputs stand, latching buttons as the module has them."""
        return setting_of_numbers(self.compiled.schedule.inputs, self.numbers)

    def outcomes(self) -> tuple[Outcome, ...]:
        """What every channel does now."""
        return evaluate_values(self.compiled, self.values)

    def set(self, setting: Setting) -> None:
        """Change the inputs now, all at once."""
        self._settle(numbers_of(self.compiled, setting))

    def advance(self, to_ms: int) -> None:
        """
        Let time pass, timers running out on the way.

        Raises
        ------
        OutOfRange
            If the moment has passed already.
        """
        if to_ms < self.now_ms:
            raise OutOfRange("to_ms", to_ms, f"at least {self.now_ms}")
        while (event_ms := self.next_event_ms()) is not None and event_ms <= to_ms:
            self.now_ms = event_ms
            self._settle(self.numbers)
        self.now_ms = to_ms

    def next_event_ms(self) -> int | None:
        """Return when the next timer runs out if nothing is touched; None if none runs."""
        return min((due_ms for timer, due_ms in self._running() if due_ms > self.now_ms), default=None)

    def running(self) -> Iterator[tuple[Timer, int]]:
        """Yield the timers that have not run out, each with the moment at which it will."""
        yield from ((timer, due_ms) for timer, due_ms in self._running() if due_ms > self.now_ms)

    def _running(self) -> Iterator[tuple[Timer, int]]:
        for gate, since_ms in self.held_since.items():
            timer = self.compiled.gates.timers[gate]
            yield timer, since_ms + timer.duration_ms

    def _settle(self, numbers: tuple[int, ...]) -> None:
        """Compute this moment, letting go of latching buttons until none has to be; only the last round counts."""
        before = dict(self.held_since)
        while True:
            self.held_since = dict(before)
            self.values = self._compute(numbers)
            freed = self._freed(numbers)
            if freed is None:
                break
            numbers = freed
        self.numbers = numbers

    def _compute(self, numbers: tuple[int, ...]) -> Values:
        gates, rows = self.compiled.gates, leaf_rows(self.compiled, numbers)
        made_of, timers = gates.made_of, gates.timers
        values = Values(len(gates), 1)
        for gate in self.gates:
            row = 1
            if made_of[gate]:
                for literal in made_of[gate]:
                    if not values[literal]:
                        row = 0
                        break
            elif gate in timers:
                row = self._timed(timers[gate], held=bool(values[timers[gate].held]))
            else:
                row = rows.get(gate, int(gate == TRUE))
            values[gate], values[-gate] = row, 1 - row
        return values

    def _timed(self, timer: Timer, *, held: bool) -> int:
        if not held:
            self.held_since.pop(timer.gate, None)
            return 0
        since_ms = self.held_since.setdefault(timer.gate, self.now_ms)
        return int(self.now_ms - since_ms >= timer.duration_ms)

    def _freed(self, numbers: tuple[int, ...]) -> tuple[int, ...] | None:
        for rule, latch in self.compiled.releases:
            part = self.compiled.schedule.inputs[latch]
            if numbers[latch] == part.values.index(ON) and self.values[self.compiled.holds[rule]]:
                return (*numbers[:latch], part.values.index(OFF), *numbers[latch + 1 :])
        return None


def held_ms(edges_ms: tuple[tuple[int, bool], ...], *, hold_ms: int) -> tuple[tuple[int, bool], ...]:
    """
    Return what rules see of a wire that is held on after it goes off.

    Parameters
    ----------
    edges_ms : tuple of (int, bool)
        When the wire changed, and to what, in order; off before the first.
    hold_ms : int
        How long it counts as on after it last was.

    Returns
    -------
    tuple of (int, bool)
        When the held value changed, and to what.

    Examples
    --------
    >>> held_ms(((0, True), (375, False), (750, True), (1125, False)), hold_ms=800)
    ((0, True), (1925, False))
    """
    changes: list[tuple[int, bool]] = []
    for place, (at_ms, on) in enumerate(edges_ms):
        is_on = bool(changes) and changes[-1][1]
        if on and not is_on:
            changes.append((at_ms, True))
        if not on and is_on:
            next_on_ms = next((later_ms for later_ms, state in edges_ms[place + 1 :] if state), None)
            if next_on_ms is None or next_on_ms > at_ms + hold_ms:
                changes.append((at_ms + hold_ms, False))
    return tuple(changes)
