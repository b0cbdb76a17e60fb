"""
Settings looked at many at once: rows of bits over settings that have settled, or over changes between settled settings.

:class:`Batch` holds one bit per look. For a look right after a change it also knows the setting before, from which the
timers that were done then follow.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from random import Random

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.gates import Literal, Values
from builds.engineering.functions.goals import before_of
from builds.engineering.functions.sampling import value_rows

__all__ = ["Batch", "Look", "best_columns", "changed_at_random", "rows_of_settings"]

Numbers = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Look:
    """
    A setting to look at, as numbers of values; ``before`` is the settled one it is come to from, None after a wait.

    ``waits_for`` are the timers that matter to what is looked at; None for all. ``watches`` are timers whose length is to be
    seen: they are looked at before and after they have run out. ``looks_ms`` are moments after the change at which to look as
    well, ``stands_ms`` is how long the setting before stands at least.
    """

    numbers: Numbers
    before: Numbers | None = None
    waits_for: frozenset[int] | None = None
    watches: frozenset[int] = frozenset()
    looks_ms: tuple[int, ...] = ()
    stands_ms: int = 0


@dataclass(frozen=True, slots=True)
class Batch:
    """Rows by leaf for several settings, ``count`` of them."""

    rows: dict[int, int]
    count: int

    @property
    def mask(self) -> int:
        """One bit per setting."""
        return (1 << self.count) - 1

    def numbers(self, compiled: CompiledSchedule, column: int) -> Numbers:
        """Return the setting in a column."""
        found = []
        for one in compiled.leaves:
            places = [place for place, leaf in enumerate(one.literals) if self.rows.get(leaf, 0) >> column & 1]
            found.append(places[0] if places else 0)
        return tuple(found)

    def settled(self, compiled: CompiledSchedule, gates: Sequence[int] | None = None) -> Values:
        """Compute gates for settings that have settled: every timer was done before if it is done now."""
        before = before_of(compiled)
        leaves = {**self.rows, before.settled: self.mask}
        if before.was:
            done = compiled.gates.compute(self.rows, self.mask, timer_gates(compiled))
            leaves |= {leaf: done[gate] for gate, leaf in before.was.items()}
        return compiled.gates.compute(leaves, self.mask, gates)

    def after(self, compiled: CompiledSchedule, earlier: "Batch", gates: Sequence[int] | None = None) -> Values:
        """Compute gates for settings looked at right after a change from settled ones, column by column."""
        before = before_of(compiled)
        done = compiled.gates.compute(earlier.rows, self.mask, timer_gates(compiled))
        was = {gate: done[gate] for gate in before.was}
        leaves = {**self.rows, **{leaf: was[gate] for gate, leaf in before.was.items()}}
        return compiled.gates.compute(leaves, self.mask, gates, was)


def timer_gates(compiled: CompiledSchedule) -> list[int]:
    """Return the gates that the timers of the rules depend on, in order; found once."""
    made = compiled.cache.get("timer_gates")
    if made is None:
        made = compiled.cache["timer_gates"] = compiled.gates.cone(before_of(compiled).was)
    assert isinstance(made, list)
    return made


def rows_of_settings(compiled: CompiledSchedule, settings: Sequence[Numbers]) -> Batch:
    """Return a batch with one column per setting."""
    rows: dict[int, int] = {}
    for number, one in enumerate(compiled.leaves):
        for place, leaf in enumerate(one.literals):
            if not compiled.gates.made_of[abs(leaf)]:
                digits = "".join("1" if numbers[number] == place else "0" for numbers in reversed(settings))
                rows[leaf] = int(digits or "0", 2)
    return Batch(rows, len(settings))


def changed_at_random(compiled: CompiledSchedule, random: Random, numbers: Numbers, count: int) -> Batch:
    """Return a batch of one setting with some inputs changed at random, about one of eight; the first column unchanged."""
    mask = (1 << count) - 1
    rows: dict[int, int] = {}
    for one, number in zip(compiled.leaves, numbers, strict=True):
        changed = random.getrandbits(count) & random.getrandbits(count) & random.getrandbits(count) & ~1
        drawn = value_rows(random, len(one.values), count)
        for place, (leaf, row) in enumerate(zip(one.literals, drawn, strict=True)):
            if not compiled.gates.made_of[abs(leaf)]:
                kept = mask & ~changed if place == number else 0
                rows[leaf] = kept | changed & row
    return Batch(rows, count)


def best_columns(rows: Iterable[int], mask: int) -> tuple[int, int]:
    """
    Return how many of these rows the best columns have set, and a row that marks them.

    Parameters
    ----------
    rows : iterable of int
        Rows of bits.
    mask : int
        The columns in question.
    """
    planes: list[int] = []
    for row in rows:
        carry = row & mask
        for place, plane in enumerate(planes):
            planes[place], carry = plane ^ carry, plane & carry
            if not carry:
                break
        if carry:
            planes.append(carry)
    best, count = mask, 0
    for place in reversed(range(len(planes))):
        if best & planes[place]:
            best &= planes[place]
            count += 1 << place
    return count, best


def holds_at(values: Values, literals: Iterable[Literal], column: int) -> list[bool]:
    """Return which literals hold in a column."""
    return [bool(values[literal] >> column & 1) for literal in literals]
