"""
The looks of a plan with timers or buttons that rules let go, chosen together: what a step shows depends on the one before.

Settings that show something are gathered: every one where there are few, else a drawn sample, those that the goals were
found at, and settings near them. Of all steps between them a short walk is chosen that shows everything.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod
from random import Random

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.covering import PlanSpace
from builds.engineering.functions.goals import before_of
from builds.engineering.functions.looks import Look, changed_at_random
from builds.engineering.functions.running import Run
from builds.engineering.functions.sampling import take_sample
from builds.engineering.functions.settings import setting_of_numbers
from builds.engineering.functions.shortening import NoWalk, Path, short_path
from builds.engineering.functions.step_table import Demand, StepTable, table_of
from builds.engineering.functions.telling_apart import look_rows
from builds.engineering.functions.vocabulary import ON
from builds.engineering.functions.walking import rest_numbers

__all__ = ["Walked", "is_walk", "walked_looks"]

Numbers = tuple[int, ...]
_SEED = 5
_EVERY = 3000  # settings of which every one is looked at
_SAMPLE = 1500
_NEAR = 48  # settings tried near each of those found
_MOST_KEPT = 700


@dataclass(frozen=True, slots=True)
class Walked:
    """Looks in the order in which they are walked, and of what shows on the course of a step alone what they show."""

    looks: tuple[Look, ...]
    on_course: frozenset[Demand]


def is_walk(compiled: CompiledSchedule) -> bool:
    """Return whether what a step shows depends on the one before."""
    return bool(before_of(compiled).was or compiled.releases)


def walked_looks(
    compiled: CompiledSchedule,
    demands: Sequence[Demand],
    looks: Sequence[Look],
    space: PlanSpace,
    further: Sequence[Numbers] = (),
) -> Walked | None:
    """
    Return looks in the order of a short walk that show these demands; None where no walk was found.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    demands : sequence of Demand
        What to show; those on the course of a step only where some step does.
    looks : sequence of Look
        Looks that show all others, in an order in which they can be walked.
    space : PlanSpace
        Of the schedule.
    further : sequence of tuple of int
        Settings that may show something besides those of the looks.
    """
    table = table_of(compiled, demands, _pool(compiled, demands, [*_visited(looks), *further]))
    if table is None:
        return None
    table, start = _fewer(table, looks)
    try:
        path = short_path(table, start)
    except NoWalk:
        return None
    return _Emitted(compiled, table, demands, space).walked(path, looks)


def _pool(compiled: CompiledSchedule, demands: Sequence[Demand], found: Sequence[Numbers]) -> list[Numbers]:
    """Settings to choose among, rest first."""
    rest = rest_numbers(compiled)
    heeded = set(compiled.gates.inputs_of([compiled.possible, *(demand.literal for demand in demands)]))
    values = [
        range(len(one.values)) if number in heeded else (at_rest,)
        for number, (one, at_rest) in enumerate(zip(compiled.leaves, rest, strict=True))
    ]
    if prod(map(len, values)) <= _EVERY:
        return list(dict.fromkeys((rest, *found, *product(*values))))
    random = Random(_SEED)  # noqa: S311 - drawing settings, not secrets
    drawn = take_sample(compiled, settings=_SAMPLE, gates=()).values
    sample = [
        tuple(
            max(range(len(one.values)), key=lambda at: drawn[one.literals[at]] >> column & 1) for one in compiled.leaves
        )
        for column in range(_SAMPLE)
    ]
    near: list[Numbers] = []
    for numbers in found:
        batch = changed_at_random(compiled, random, numbers, _NEAR)
        near += [batch.numbers(compiled, column) for column in range(_NEAR)]
    return list(dict.fromkeys((rest, *found, *near, *sample)))


def _visited(looks: Sequence[Look]) -> list[Numbers]:
    """The settings that looks visit, in order, none twice running."""
    visited: list[Numbers] = []
    for look in looks:
        for numbers in (look.before, look.numbers):
            if numbers is not None and (not visited or visited[-1] != numbers):
                visited.append(numbers)
    return visited


def _fewer(table: StepTable, looks: Sequence[Look]) -> tuple[StepTable, Path | None]:
    """The table without settings that do all that another does, and the walk of these looks in it."""
    places: dict[tuple[object, ...], int] = {}
    kept: list[int] = []
    stands_for: dict[Numbers, int] = {}
    rows = (*table.at_once, *table.on_course, *table.settled)
    for place, numbers in enumerate(table.settings):
        does = (*(row[place] for row in rows), table.can[:, place].tobytes(), table.ends[:, place].tobytes())
        if does not in places:
            places[does] = len(kept)
            kept.append(place)
        stands_for[numbers] = places[does]
    chosen = kept[:_MOST_KEPT]
    visited = [stands_for.get(numbers, _MOST_KEPT) for numbers in _visited(looks)]
    return table.of(chosen), tuple(visited) if max(visited, default=0) < len(chosen) else None


class _Emitted:
    """The steps of a walk as looks."""

    def __init__(
        self, compiled: CompiledSchedule, table: StepTable, demands: Sequence[Demand], space: PlanSpace
    ) -> None:
        self.compiled, self.table, self.demands, self.space = compiled, table, demands, space
        self.unseen: set[Demand] = set()  # shown by the table and not by a run

    def walked(self, path: Path, looks: Sequence[Look]) -> Walked:
        """The looks of the walk, and after them those of these that show what no step between the settings shows."""
        steps = list(self._steps(path))
        shown = 0
        for standing, place in steps:
            for rows in (self.table.at_once, self.table.on_course, self.table.settled):
                shown |= rows[standing][place]
        missed = [demand for demand in self._of(~shown) if not demand.on_course]
        walked = (*self._looks(steps), *self._left(missed, looks))
        on_course = frozenset(demand for demand in self._of(shown) if demand.on_course) - self.unseen
        return Walked(walked, on_course)

    def _of(self, mask: int) -> list[Demand]:
        return [demand for number, demand in enumerate(self.demands) if mask >> number & 1]

    def _steps(self, path: Path) -> Iterator[tuple[int, int]]:
        standing = self.table.start
        for place in path:
            yield standing, place
            standing = int(self.table.ends[standing, place])

    def _looks(self, steps: Sequence[tuple[int, int]]) -> Iterator[Look]:
        """What shows once things have settled is looked at then; what is left right after the change, or on its course."""
        table = self.table
        settled = seen = 0
        for standing, place in steps:
            settled |= table.settled[standing][place]
        before = table.settings[0]
        for standing, place in steps:
            at_once = table.at_once[standing][place] & ~settled & ~seen
            on_course = table.on_course[standing][place] & ~settled & ~seen & ~at_once
            still = table.settled[standing][place] & ~seen
            seen |= at_once | on_course | still
            numbers, lets_go = table.settings[place], bool(table.lets_go[standing, place])
            if at_once or on_course or lets_go:
                yield self._after_a_change(before, numbers, self._of(at_once), self._of(on_course), whole=lets_go)
            before = self._end(before, numbers) if lets_go else numbers
            if still:
                yield Look(before, None, self._timers(self._of(still)))

    def _after_a_change(
        self, before: Numbers, numbers: Numbers, at_once: list[Demand], on_course: list[Demand], *, whole: bool
    ) -> Look:
        waits_for = None if whole or on_course else self._timers(at_once)
        watches = frozenset(demand.timer for demand in at_once if demand.timer)
        moments = [self._moment(before, numbers, demand) for demand in on_course]
        looks_ms = {moment for moment in moments if moment is not None}
        stuck = any(not demand.at_once for demand in on_course)
        timers = self.compiled.gates.timers_in([demand.literal for demand in on_course]) if stuck else []
        stands_ms = sum(sorted(timer.duration_ms for timer in timers)[-2:])
        return Look(numbers, before, waits_for, watches, tuple(sorted(looks_ms)), stands_ms)

    def _moment(self, before: Numbers, numbers: Numbers, demand: Demand) -> int | None:
        """How long after the change a demand is best looked at: in the middle of the time for which it shows, if it does."""
        run = self._changed(before, numbers, demand)
        changed_ms = run.now_ms
        while not run.values[demand.literal]:
            event_ms = run.next_event_ms()
            if event_ms is None:
                self.unseen.add(demand)
                return None
            run.advance(event_ms)
        shows_ms = run.now_ms
        while run.values[demand.literal] and (event_ms := run.next_event_ms()) is not None:
            run.advance(event_ms)
        return (shows_ms + run.now_ms) // 2 - changed_ms

    def _end(self, before: Numbers, numbers: Numbers) -> Numbers:
        """Where the inputs stand at the end of a step in which a rule lets a button go."""
        run = self._changed(before, numbers, *self.demands)
        _settle(run)
        return run.numbers

    def _changed(self, before: Numbers, numbers: Numbers, *demands: Demand) -> Run:
        """A run right after a change from a setting that has settled."""
        inputs = self.compiled.schedule.inputs
        only = tuple(demand.literal for demand in demands)
        run = Run.wake(self.compiled, only=only)
        for wanted in (before, before, numbers):  # twice: what still runs on may let a button go
            _settle(run)
            run.set(setting_of_numbers(inputs, wanted))
        return run

    def _timers(self, demands: Sequence[Demand]) -> frozenset[int]:
        return self.space.timers_of([demand.literal for demand in demands])

    def _left(self, missed: Sequence[Demand], looks: Sequence[Look]) -> Iterator[Look]:
        """Of these looks, one for each demand that the walk does not show."""
        ordered = [look for look in looks if look.before is None] + [look for look in looks if look.before is not None]
        rows = look_rows(self.compiled, looks, [demand.literal for demand in missed])
        found = []
        for demand in missed:
            showing = (look for place, look in enumerate(ordered) if rows[demand.literal] >> place & 1)
            found += [look for look in showing if self._counts(demand, look)][:1]
        yield from dict.fromkeys(found)

    def _counts(self, demand: Demand, look: Look) -> bool:
        if demand.latch < 0:
            return True
        on = self.compiled.leaves[demand.latch].values.index(ON)
        return look.before is not None and look.before[demand.latch] == on


def _settle(run: Run) -> None:
    while (event_ms := run.next_event_ms()) is not None:
        run.advance(event_ms)
