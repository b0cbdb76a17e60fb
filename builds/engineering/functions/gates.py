"""
Conditions as a graph of gates, each distinct one kept once.

A literal is a signed number of a gate: 5 is gate 5, -5 its opposite. Gate 1 is always true. Every other gate is a leaf
(something an input does), an AND of literals, or a timer: a leaf that can only be true while the literal it watches is.
Because equal gates are one gate, conditions of two schedules that say the same become the same literal.

A value is a whole number used as a row of bits, one bit per setting, so that a single pass computes one setting or a
million.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal as TypingLiteral

__all__ = ["FALSE", "TRUE", "Gates", "Literal", "Timer", "TimersReplaced"]

Literal = int
TimersReplaced = TypingLiteral["anew", "kept", "settled"]
TRUE: Literal = 1
FALSE: Literal = -1


@dataclass(frozen=True, slots=True)
class Timer:
    """
    A gate that is true once ``held`` has been true for ``duration_ms`` without a break.

    ``starts_done`` is how it stands when the module wakes: a delay counts from there, a run-on has long run out.
    """

    gate: int
    held: Literal
    duration_ms: int
    starts_done: bool


class Gates:
    """The graph. Gates are numbered in an order in which each comes after what it is made of."""

    def __init__(self) -> None:
        self.made_of: list[tuple[Literal, ...]] = [(), ()]  # by gate; leaves and timers are made of nothing
        self.support: list[int] = [0, 0]  # by gate: bit i is set where input i can matter
        self.timed: list[int] = [0, 0]  # by gate: bit i is set where the i-th timer can matter
        self.timers: dict[int, Timer] = {}
        self._known: dict[tuple[Literal, ...], int] = {}
        self._known_timers: dict[tuple[Literal, int, bool], int] = {}

    def __len__(self) -> int:
        return len(self.made_of)

    def leaf(self, number: int) -> Literal:
        """Return a new leaf that belongs to input ``number``."""
        return self._new((), 1 << number, 0)

    def free(self) -> Literal:
        """Return a new leaf that belongs to no input."""
        return self._new((), 0, 0)

    def all_of(self, literals: Iterable[Literal]) -> Literal:
        """Return the literal that is true where all of these are."""
        wanted = set(literals)
        wanted.discard(TRUE)
        if FALSE in wanted or not wanted.isdisjoint([-literal for literal in wanted]):
            return FALSE
        if len(wanted) <= 1:
            return wanted.pop() if wanted else TRUE
        key = tuple(sorted(wanted))
        gate = self._known.get(key)
        if gate is None:
            support = timed = 0
            for literal in key:
                support |= self.support[abs(literal)]
                timed |= self.timed[abs(literal)]
            gate = self._known[key] = self._new(key, support, timed)
        return gate

    def any_of(self, literals: Iterable[Literal]) -> Literal:
        """Return the literal that is true where one of these is."""
        return -self.all_of(-literal for literal in literals)

    def timer(self, held: Literal, *, duration_ms: int, starts_done: bool = False) -> Literal:
        """Return the literal of a timer over ``held``; of something that never holds it is false."""
        if held == FALSE:
            return FALSE
        if held == TRUE and starts_done:
            return TRUE
        inner = self.timers.get(held)
        if inner is not None and inner.starts_done == starts_done:  # one begins when the other has run out
            held, duration_ms = inner.held, inner.duration_ms + duration_ms
        key = (held, duration_ms, starts_done)
        gate = self._known_timers.get(key)
        if gate is None:
            timed = self.timed[abs(held)] | 1 << len(self.timers)
            gate = self._known_timers[key] = self._new((), self.support[abs(held)], timed)
            self.timers[gate] = Timer(gate, held, duration_ms, starts_done)
        return gate

    def _new(self, made_of: tuple[Literal, ...], support: int, timed: int) -> int:
        self.made_of.append(made_of)
        self.support.append(support)
        self.timed.append(timed)
        return len(self.made_of) - 1

    def cone(self, roots: Iterable[Literal]) -> list[int]:
        """Return every gate that these literals depend on, in numbered order; behind timers too."""
        seen: set[int] = set()
        waiting = [abs(root) for root in roots]
        while waiting:
            gate = waiting.pop()
            if gate not in seen:
                seen.add(gate)
                waiting += map(abs, self.made_of[gate])
                if gate in self.timers:
                    waiting.append(abs(self.timers[gate].held))
        return sorted(seen)

    def timers_in(self, roots: Iterable[Literal]) -> list[Timer]:
        """Return the timers these literals depend on, inner ones first."""
        timed = 0
        for root in roots:
            timed |= self.timed[abs(root)]
        return [timer for place, timer in enumerate(self.timers.values()) if timed >> place & 1] if timed else []

    def inputs_of(self, literals: Iterable[Literal]) -> Iterator[int]:
        """Yield the numbers of the inputs that can matter to these literals, in order."""
        support = 0
        for literal in literals:
            support |= self.support[abs(literal)]
        yield from _bits(support)

    def replaced(
        self, literal: Literal, leaves: Mapping[Literal, Literal], *, timers: TimersReplaced = "anew"
    ) -> Literal:
        """
        Return a literal with leaves replaced by other literals.

        A timer over what was replaced is one over the replacement (``anew``), stands as it did (``kept``), or has had all
        the time it needs (``settled``).
        """
        copies: dict[int, Literal] = dict(leaves)

        def of(one: Literal) -> Literal:
            return copies.get(one, one) if one > 0 else -copies.get(-one, -one)

        for gate in self.cone([literal]):
            timer = self.timers.get(gate)
            if timer is not None and timers == "settled":
                copies[gate] = of(timer.held)
            elif timer is not None and timers == "anew" and of(timer.held) != timer.held:
                copies[gate] = self.timer(of(timer.held), duration_ms=timer.duration_ms, starts_done=timer.starts_done)
            elif any(of(below) != below for below in self.made_of[gate]):
                copies[gate] = self.all_of(of(below) for below in self.made_of[gate])
        return of(literal)

    def compute(
        self,
        leaves: Mapping[int, int],
        mask: int,
        gates: Sequence[int] | None = None,
        done_before: Mapping[int, int] | None = None,
    ) -> "Values":
        """
        Return the value of every gate, or of the given ones in numbered order.

        ``leaves`` holds rows of bits by gate, ``mask`` has one bit per setting. A timer is done where what it watches
        holds: the state after a long wait; with ``done_before``, by timer, only where it was done before as well.
        """
        values = Values(len(self.made_of), mask)
        self.recompute(values, leaves, range(2, len(self.made_of)) if gates is None else gates, done_before)
        return values

    def recompute(
        self,
        values: "Values",
        leaves: Mapping[int, int],
        gates: Iterable[int],
        done_before: Mapping[int, int] | None = None,
    ) -> None:
        """Compute some gates in numbered order into ``values``, which hold what they depend on."""
        made_of, timers, size, mask = self.made_of, self.timers, len(values), values.mask
        for gate in gates:
            if made_of[gate]:
                row = mask
                for literal in made_of[gate]:
                    row &= values[literal]
            elif gate in timers:
                row = values[timers[gate].held]
                if done_before is not None:
                    row &= done_before.get(gate, mask)
            else:
                row = leaves.get(gate, mask if gate == TRUE else 0)
            values[gate] = row
            values[size - gate] = row ^ mask


def _bits(row: int) -> Iterator[int]:
    while row:
        lowest = row & -row
        yield lowest.bit_length() - 1
        row ^= lowest


class Values(list[int]):
    """Rows of bits by literal: a negative literal counts from the end, where the opposites stand."""

    def __init__(self, gates: int, mask: int) -> None:
        super().__init__([0] * (2 * gates))
        self.mask = mask
        self.put(TRUE, mask)

    def put(self, gate: int, row: int) -> None:
        """Write the row of a gate and of its opposite."""
        self[gate] = row
        self[-gate] = row ^ self.mask
