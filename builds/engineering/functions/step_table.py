"""
What each step of a test shows: a setting changed from a settled one, looked at right after it, on its course, and settled.

Of the setting before only two things matter: which timers were done there, and which buttons were on that a rule may let
go. Settings that agree in those are one *standing*, so a table of standings by settings says what every step shows.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from builds.engineering.functions.appearances import channel_logics
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.courses import Course, course_of
from builds.engineering.functions.gates import FALSE, Literal, Values
from builds.engineering.functions.goals import Goal, before_of
from builds.engineering.functions.looks import Batch, rows_of_settings
from builds.engineering.functions.telling_apart import Stuck, stuck_literal
from builds.engineering.functions.vocabulary import ON

__all__ = ["Demand", "StepTable", "demands_of", "pairs_of", "table_of"]

Numbers = tuple[int, ...]
_MOST_STEPS = 40_000  # with more, the later half of the settings is left out
_FEWEST = 100


@dataclass(frozen=True, slots=True)
class Demand:
    """
    Something a plan has to show: where, the button that was on before (-1 for none), the timer whose length is watched.

    ``at_once`` and ``settled`` say when a look can show it; ``on_course`` that it shows while timers run, if at all.
    """

    literal: Literal
    latch: int = -1
    timer: int = 0
    at_once: bool = True
    settled: bool = True
    on_course: bool = False


@dataclass(frozen=True, slots=True)
class StepTable:
    """
    Steps from every standing to every setting of a pool, the first of which is rest.

    All by ``[standing][setting]``: ``can`` says whether there is such a step, ``ends`` how things stand at its end; as rows
    of bits, one per demand, ``at_once`` is shown right after the change, ``on_course`` until the end and ``settled`` there.
    The last standing is for steps that end where a given says that nothing can stand: after those only settled looks count.
    ``lets_go`` says whether a rule lets a button go on the way, so that the step ends elsewhere. ``start`` is how rest stands.
    """

    settings: tuple[Numbers, ...]
    ends: NDArray[np.int64]
    can: NDArray[np.bool_]
    at_once: list[list[int]]
    on_course: list[list[int]]
    settled: list[list[int]]
    lets_go: NDArray[np.bool_]
    start: int

    def of(self, places: Sequence[int]) -> "StepTable":
        """Return the steps to some of the settings."""
        at_once, on_course, settled = (
            [[row[place] for place in places] for row in rows] for rows in (self.at_once, self.on_course, self.settled)
        )
        return StepTable(
            tuple(self.settings[place] for place in places),
            np.ascontiguousarray(self.ends[:, places]),
            np.ascontiguousarray(self.can[:, places]),
            at_once,
            on_course,
            settled,
            np.ascontiguousarray(self.lets_go[:, places]),
            self.start,
        )


def demands_of(
    compiled: CompiledSchedule,
    goals: Iterable[Goal],
    apart: Iterable[tuple[int, int]],
    stuck: Iterable[Stuck],
    *,
    on_course: bool = False,
) -> list[Demand]:
    """
    Return what a plan has to show: these goals, these outputs apart, these inputs stuck.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    goals : iterable of Goal
        Goals that can be shown.
    apart : iterable of (int, int)
        Channels to be told apart.
    stuck : iterable of (input, value)
        Inputs and values to be noticed.
    on_course : bool
        Whether outputs and inputs are such as no look at once or settled tells of.
    """
    gates, logics = compiled.gates, [logic.shows for logic in channel_logics(compiled)]
    demands = [Demand(goal.literal, goal.latch, goal.timer, settled=goal.latch < 0) for goal in goals]
    for one, other in apart:
        shown = (gates.all_of((literal, -logics[other].get(look, FALSE))) for look, literal in logics[one].items())
        demands.append(Demand(gates.any_of(shown), on_course=on_course))
    for part in stuck:
        literal = stuck_literal(compiled, part, settled=not on_course)
        demands.append(Demand(literal, at_once=False, settled=not on_course, on_course=on_course))
    return list(dict.fromkeys(demands))


def table_of(compiled: CompiledSchedule, demands: Sequence[Demand], settings: Sequence[Numbers]) -> StepTable | None:
    """
    Return the steps between some settings; None if rest cannot settle as it is.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule; the gates of the demands are made.
    demands : sequence of Demand
        What steps may show, a bit each.
    settings : sequence of tuple of int
        Rest first.
    """
    return _Table(compiled, demands, settings).made()


@dataclass(slots=True)
class _Table:
    compiled: CompiledSchedule
    demands: Sequence[Demand]
    settings: Sequence[Numbers]
    gates: list[int] = field(init=False)
    later_gates: list[int] = field(init=False)
    latches: list[int] = field(init=False)
    timers: list[int] = field(init=False)
    numbers: dict[int, int] = field(default_factory=dict)  # what counts of how things stand, to the standing's number

    def __post_init__(self) -> None:
        compiled = self.compiled
        roots = [demand.literal for demand in self.demands]
        roots += [compiled.possible, *before_of(compiled).was, *(compiled.holds[rule] for rule, _ in compiled.releases)]
        self.gates = compiled.gates.cone(roots)
        later = [demand.literal for demand in self.demands if demand.on_course]
        self.later_gates = compiled.gates.cone([*later, *(compiled.holds[rule] for rule, _ in compiled.releases)])
        self.timers = [gate for gate in self.gates if gate in compiled.gates.timers]
        self.latches = sorted({demand.latch for demand in self.demands if demand.latch >= 0})

    def made(self) -> StepTable | None:
        compiled, count = self.compiled, len(self.settings)
        batch = rows_of_settings(compiled, self.settings)
        still = batch.settled(compiled, self.gates)
        possible = _bits(still[compiled.possible], count)
        if not possible[0]:
            return None
        firsts: dict[int, int] = {}
        keys = self._keys(still, batch)
        for place, key in enumerate(keys):
            if possible[place]:
                firsts.setdefault(self.numbers.setdefault(key, len(self.numbers)), place)
        if len(firsts) * count > _MOST_STEPS and count > _FEWEST:
            return _Table(compiled, self.demands, self.settings[: max(_FEWEST, count // 2)]).made()
        settled = self._shown_settled(batch, still)
        shape = (len(firsts) + 1, count)
        ends, can, lets_go = np.zeros(shape, np.int64), np.zeros(shape, np.bool_), np.zeros(shape, np.bool_)
        table = StepTable(tuple(self.settings), ends, can, [], [], [], lets_go, 0)
        for standing, first in firsts.items():
            course = course_of(compiled, self.settings[first], batch, self.gates, self.later_gates)
            self._add(table, standing, batch, first, course, settled)
        table.can[-1], table.ends[-1] = possible, np.where(possible, [self.numbers.get(key, 0) for key in keys], 0)
        for rows, row in ((table.at_once, [0] * count), (table.on_course, [0] * count), (table.settled, settled)):
            rows.append(row)
        return table

    def _add(
        self, table: StepTable, standing: int, batch: Batch, first: int, course: Course, settled: list[int]
    ) -> None:
        """The steps from one standing, for which one of its settings stands."""
        compiled, count = self.compiled, len(self.settings)
        at_once = [demand.at_once and self._was_on(first, demand.latch) for demand in self.demands]
        table.at_once.append(self._shown(course.at_once, count, at_once))
        on_course = [0] * count
        counts = [demand.on_course for demand in self.demands]
        for values in (course.at_once, *course.later) if any(counts) else ():
            more = self._shown(values, count, counts)
            on_course = [one | other for one, other in zip(on_course, more, strict=True)]
        table.on_course.append(on_course)
        end = course.end.settled(compiled, self.gates)
        table.can[standing] = _bits(course.at_once[compiled.possible], count)
        allowed = _bits(end[compiled.possible], count)
        ends = [self.numbers.get(key, -1) for key in self._keys(end, course.end)]
        table.ends[standing] = np.where(allowed, ends, len(self.numbers))
        table.can[standing] &= table.ends[standing] >= 0
        table.ends[standing][~table.can[standing]] = 0
        table.lets_go[standing] = _bits(self._let_go(batch, course.end), count)
        shown = list(settled)
        if table.lets_go[standing].any():
            at_end = self._shown_settled(course.end, end)
            for place in np.flatnonzero(table.lets_go[standing]):
                shown[place] = at_end[place] if allowed[place] else 0
        table.settled.append(shown)

    def _was_on(self, first: int, latch: int) -> bool:
        return latch < 0 or self.settings[first][latch] == self.compiled.leaves[latch].values.index(ON)

    def _let_go(self, batch: Batch, end: Batch) -> int:
        """Marks the settings in which a button was let go on the way to the end."""
        row = 0
        for _, latch in self.compiled.releases:
            on = self.compiled.leaves[latch].literal(ON)
            row |= batch.rows[on] & ~end.rows[on]
        return row

    def _keys(self, values: Values, batch: Batch) -> list[int]:
        """What counts of how things stand in each column."""
        rows = [values[gate] for gate in self.timers]
        rows += [batch.rows[self.compiled.leaves[latch].literal(ON)] for latch in self.latches]
        return _by_column(rows, batch.count)

    def _shown_settled(self, batch: Batch, still: Values) -> list[int]:
        """By settled setting, the demands that hold; also those right after a change that changes nothing."""
        shown = self._shown(still, batch.count, [demand.settled for demand in self.demands])
        kept = batch.after(self.compiled, batch, self.gates)
        counts = [demand.settled and demand.at_once for demand in self.demands]
        return [one | other for one, other in zip(shown, self._shown(kept, batch.count, counts), strict=True)]

    def _shown(self, values: Values, count: int, counts: Sequence[bool]) -> list[int]:
        """By setting, the demands that hold, of those that count."""
        rows = [values[demand.literal] if own else 0 for demand, own in zip(self.demands, counts, strict=True)]
        return _by_column(rows, count)


def pairs_of(count: int, alike: Iterable[Sequence[int]]) -> list[tuple[int, int]]:
    """Return every two of so many channels that are not in one of these groups."""
    group = {channel: number for number, members in enumerate(alike) for channel in members}
    pairs = combinations(range(count), 2)
    return [(one, other) for one, other in pairs if group.get(one, -1 - one) != group.get(other, -1 - other)]


def _bits(row: int, count: int) -> NDArray[np.bool_]:
    packed = np.frombuffer(row.to_bytes((count + 7) // 8, "little"), np.uint8)
    return np.unpackbits(packed, bitorder="little", count=count).astype(bool)


def _by_column(rows: Sequence[int], count: int) -> list[int]:
    """Rows of bits turned round: for each column a whole number with a bit per row."""
    if not any(rows):
        return [0] * count
    size = (count + 7) // 8
    own = np.frombuffer(b"".join(row.to_bytes(size, "little") for row in rows), np.uint8).reshape(len(rows), size)
    bits = np.unpackbits(own, axis=1, bitorder="little", count=count)
    packed = np.packbits(bits.T, axis=1, bitorder="little")
    return [int.from_bytes(column, "little") for column in map(bytes, packed)]
