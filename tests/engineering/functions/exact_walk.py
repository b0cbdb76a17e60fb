"""
The fewest steps of a test of a schedule with timers or with buttons that rules let go, proved by CP-SAT.

A step is a setting to make. It is looked at right after the change and once everything has settled, and on its course where
nothing else tells two outputs apart or notices an input that is stuck; waits count with their step, and rest, where a test
begins, counts when it is looked at. Of the setting before only two things matter to a step:
which timers were done there and which buttons were on; after a step that ends where a given says that nothing can stand, only
settled looks count. So settings fall into few *standings*, and a test is a walk over
these: CP-SAT finds the shortest that is in one piece, begins at rest and shows everything that some step shows. Every
setting of the inputs that matter is looked at, so the minimum is exact.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from math import prod

import numpy as np
from ortools.sat.python import cp_model

from builds.engineering.functions.appearances import channel_logics
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.evaluate import leaf_rows
from builds.engineering.functions.gates import FALSE, Literal, Values
from builds.engineering.functions.goals import Goal, GoalKind, before_of, goals_of
from builds.engineering.functions.looks import Batch, rows_of_settings
from builds.engineering.functions.plan import TestPlan
from builds.engineering.functions.running import Run
from builds.engineering.functions.settings import setting_of_numbers
from builds.engineering.functions.telling_apart import stuck_literal
from builds.engineering.functions.vocabulary import ON
from tests.engineering.functions.exact_cover import Rows, bits

MOST_SETTINGS = 20_000
MOST_STANDINGS = 48
MOST_PLAYED = (
    10_000  # steps played moment by moment: those of which something shows on the course alone, or a button goes
)
MOST_SECONDS = 10  # as CP-SAT counts them, the same on every machine

Numbers = tuple[int, ...]


@dataclass(frozen=True)
class Step:
    """From how things stand to how they stand then, and the demands shown."""

    begins: int
    ends: int
    shows: bytes


@dataclass(frozen=True)
class Wanted:
    """
    Something to show: where, the button that was on before (-1 for none), and whether right after a change counts.

    ``on_course`` is where it shows on the course of a step, asked where no step shows it at once or settled.
    """

    literal: Literal
    latch: int = -1
    at_once: bool = True
    on_course: Literal = FALSE


def fewest_steps(compiled: CompiledSchedule) -> int | None:
    """The fewest steps; None where there is too much to look at, or CP-SAT does not prove it in time."""
    steps = Steps(compiled)
    return steps.fewest() if steps.is_small else None


class Steps:
    """Every step of a schedule, alike ones once, those that another does all of left out."""

    def __init__(self, compiled: CompiledSchedule) -> None:
        self.compiled = compiled
        self.wanted = wanted_of(compiled)  # its gates are made before any is computed
        rest = [one.values.index(one.rest) for one in compiled.leaves]
        heeded = set(compiled.gates.inputs_of([compiled.possible, *(one.literal for one in self.wanted)]))
        values = [
            range(len(one.values)) if number in heeded else (rest[number],)
            for number, one in enumerate(compiled.leaves)
        ]
        self.is_small = prod(map(len, values)) <= MOST_SETTINGS
        if not self.is_small:
            return
        self.settings: list[Numbers] = list(product(*values))
        self.place = {numbers: place for place, numbers in enumerate(self.settings)}
        self.rest = self.place[tuple(rest)]
        self.batch = rows_of_settings(compiled, self.settings)
        still = self.batch.settled(compiled)
        self.kept = self.batch.after(compiled, self.batch)
        self.possible = self.row(still[compiled.possible])
        self.still = np.array([self.once_settled(still, one) for one in self.wanted])
        self.standing = self.standings(still)
        self.is_small = bool(self.possible[self.rest]) and self.standing.max() < MOST_STANDINGS

    def once_settled(self, still: list[int], one: Wanted) -> Rows:
        """Where a settled setting shows something; no change is a change too, from a setting to itself."""
        if one.latch >= 0:
            return np.zeros(len(self.settings), bool)
        return self.row(still[one.literal] | (self.kept[one.literal] if one.at_once else 0))

    def row(self, row: int) -> Rows:
        return bits(row, len(self.settings)) > 0

    def standings(self, still: list[int]) -> Rows:
        """How things stand in each setting that can be; -1 in the others."""
        latches = sorted({one.latch for one in self.wanted if one.latch >= 0})
        rows = [self.row(still[gate]) for gate in self.compiled.gates.timers]
        rows += [self.row(still[self.compiled.leaves[latch].literal(ON)]) for latch in latches]
        table = np.array(rows).T if rows else np.zeros((len(self.settings), 1), bool)
        numbers = np.full(len(self.settings), -1)
        _, numbers[self.possible] = np.unique(table[self.possible], axis=0, return_inverse=True)
        return numbers

    def all(self) -> list[Step] | None:
        """The steps that are not spared by others, or None where too many have to be played."""
        firsts = [int(np.flatnonzero(self.standing == one)[0]) for one in range(int(self.standing.max()) + 1)]
        moved = [self.moved(first) for first in firsts]
        still = (self.still & self.possible).any(axis=1)
        seen = still | np.any([(shown & possible).any(axis=1) for possible, shown in moved], axis=0)
        self.courses = [
            (number, one.on_course)
            for number, one in enumerate(self.wanted)
            if not seen[number] and one.on_course != FALSE
        ]
        played = [possible if self.courses else possible & ~self.possible for possible, _ in moved]
        if sum(int(one.sum()) for one in played) > MOST_PLAYED:
            return None
        found: set[Step] = set()
        for standing, (first, (possible, shown), to_play) in enumerate(zip(firsts, moved, played, strict=True)):
            table = np.packbits((shown | self.still).T, axis=1)
            for place in np.flatnonzero(possible & ~to_play):
                found.add(Step(standing, int(self.standing[place]), table[place].tobytes()))
            for place in np.flatnonzero(to_play):
                end, on_course = self.played(first, int(place))
                nowhere = not self.possible[end]
                here = shown[:, place] | on_course | (self.still[:, end] & ~nowhere)
                ends = len(firsts) if nowhere else int(self.standing[end])
                found.add(Step(standing, ends, np.packbits(here).tobytes()))
        table = np.packbits(self.still.T, axis=1)
        for place in np.flatnonzero(self.possible):
            found.add(Step(len(firsts), int(self.standing[place]), table[place].tobytes()))
        return list(undominated(found))

    def moved(self, first: int) -> tuple[Rows, Rows]:
        """The settings that can be gone to from one, and what each shows right after the change."""
        earlier = rows_of_settings(self.compiled, [self.settings[first]] * len(self.settings))
        values = self.batch.after(self.compiled, earlier)
        nothing = np.zeros(len(self.settings), bool)
        shown = [
            self.row(values[one.literal]) if one.at_once and self.was_on(first, one.latch) else nothing
            for one in self.wanted
        ]
        return self.row(values[self.compiled.possible]), np.array(shown)

    def was_on(self, first: int, latch: int) -> bool:
        return latch < 0 or self.settings[first][latch] == self.compiled.leaves[latch].values.index(ON)

    def played(self, first: int, place: int) -> tuple[int, Rows]:
        """Where a step ends, which a given may forbid, and what shows on its course."""
        inputs = self.compiled.schedule.inputs
        only = tuple(literal for _, literal in self.courses) or (self.compiled.possible,)
        run = Run.wake(self.compiled, only=only)
        for to in (first, first, place):  # twice: what still runs on may let a button go
            settle(run)
            run.set(setting_of_numbers(inputs, self.settings[to]))
        shown = np.zeros(len(self.wanted), bool)
        while True:
            for number, literal in self.courses:
                shown[number] |= bool(run.values[literal])
            event_ms = run.next_event_ms()
            if event_ms is None:
                break
            run.advance(event_ms)
        end = self.place[run.numbers]
        return end, shown

    def fewest(self) -> int | None:
        steps = self.all()
        if steps is None:
            return None
        shows = np.array([np.unpackbits(np.frombuffer(step.shows, np.uint8)) for step in steps])
        start = int(self.standing[self.rest])
        return Walks(steps, shows[:, shows.any(axis=0)], start).shortest()


def settle(run: Run) -> None:
    while (event_ms := run.next_event_ms()) is not None:
        run.advance(event_ms)


def undominated(steps: set[Step]) -> Iterator[Step]:
    """Steps that show something no other one between the same two standings shows all of."""
    between: dict[tuple[int, int], list[int]] = {}
    for step in steps:
        between.setdefault((step.begins, step.ends), []).append(int.from_bytes(step.shows, "big"))
    for (begins, ends), masks in sorted(between.items()):
        kept: list[int] = []
        for mask in sorted(masks, key=lambda one: (-one.bit_count(), one)):
            if not any(mask & ~larger == 0 for larger in kept):
                kept.append(mask)
        size = max((mask.bit_length() + 7) // 8 for mask in masks) or 1
        length = len(next(iter(steps)).shows)
        yield from (Step(begins, ends, mask.to_bytes(max(size, length), "big")) for mask in kept)


class Walks:
    """Walks over standings as whole numbers: how often each step is taken."""

    def __init__(self, steps: list[Step], shows: Rows, start: int) -> None:
        self.steps, self.start = steps, start
        self.model = cp_model.CpModel()
        self.taken = [self.model.new_int_var(0, 4, f"step {number}") for number in range(len(steps))]
        standings = sorted({start, *(step.begins for step in steps), *(step.ends for step in steps)})
        last = {one: self.model.new_bool_var(f"ends at {one}") for one in standings}
        self.model.add_exactly_one(last.values())
        for one in standings:
            come = sum(var for var, step in zip(self.taken, steps, strict=True) if step.ends == one)
            gone = sum(var for var, step in zip(self.taken, steps, strict=True) if step.begins == one)
            self.model.add(come + (1 if one == start else 0) == gone + last[one])
        for column in shows.T:
            self.model.add(sum(self.taken[number] for number in np.flatnonzero(column)) >= 1)
        self.model.minimize(sum(self.taken))

    def shortest(self) -> int | None:
        """The length of the shortest walk in one piece; pieces that hang on nothing are forbidden as they turn up."""
        while True:
            solver = cp_model.CpSolver()
            solver.parameters.max_deterministic_time = MOST_SECONDS
            solver.parameters.num_workers = 1
            solver.parameters.random_seed = 1
            solver.parameters.linearization_level = 2
            if solver.solve(self.model) != cp_model.OPTIMAL:
                return None
            taken = [step for step, var in zip(self.steps, self.taken, strict=True) if solver.value(var)]
            apart = {step.begins for step in taken} - self.reached(taken)
            if not apart:
                return round(solver.objective_value)
            self.join(apart)

    def reached(self, taken: list[Step]) -> set[int]:
        reached, more = {self.start}, {self.start}
        while more:
            more = {step.ends for step in taken if step.begins in reached} - reached
            reached |= more
        return reached

    def join(self, apart: set[int]) -> None:
        """Whoever takes a step within these standings comes there from outside."""
        pairs = list(zip(self.taken, self.steps, strict=True))
        into = sum(var for var, step in pairs if step.ends in apart and step.begins not in apart)
        for var, step in pairs:
            if step.begins in apart:
                self.model.add(4 * into >= var)


def wanted_of(compiled: CompiledSchedule) -> list[Wanted]:
    """What a plan has to show."""
    wanted = [Wanted(goal.literal, goal.latch) for goal in goals_of(compiled)]
    logics = [logic.shows for logic in channel_logics(compiled)]
    gates = compiled.gates
    for number, one in enumerate(logics):
        for other in logics[number + 1 :]:
            apart = gates.any_of(gates.all_of((shown, -other.get(look, -1))) for look, shown in one.items())
            wanted.append(Wanted(apart, on_course=apart))
    for number, part in enumerate(compiled.schedule.inputs):
        for value in range(len(part.values)):
            on_course = stuck_literal(compiled, (number, value))
            noticed = stuck_literal(compiled, (number, value), settled=True)
            wanted.append(Wanted(noticed, at_once=False, on_course=on_course))
    return wanted


def missed_by(compiled: CompiledSchedule, plan: TestPlan) -> list[GoalKind]:
    """The kinds of the goals that no step of a plan shows as it is walked; what a step shows is computed from a run."""
    goals, before, gates = goals_of(compiled), before_of(compiled), compiled.gates
    impossible = {(goal.rule, goal.term, goal.value, goal.kind) for goal in plan.impossible}
    missing = {goal for goal in goals if (goal.rule, goal.term, goal.value, goal.kind) not in impossible}
    timers = {goal: {timer.gate for timer in gates.timers_in([goal.literal, compiled.possible])} for goal in missing}
    run = Run.wake(compiled, only=tuple(before.was))
    for step in plan.steps:
        if step.acts:
            numbers, settled = run.numbers, settled_goals(run, timers)
            done = {gate: run.values[gate] for gate in before.was}
            run.set(step.by_hand)
            shown = shown_now(run, done, still=False)
            missing -= {goal for goal in settled if shown[goal.literal] and was_on(compiled, numbers, goal.latch)}
        run.advance(run.now_ms + step.wait_ms)
        done = {gate: run.values[gate] for gate in before.was}
        for still in (False, True):
            shown = shown_now(run, done, still=still)
            missing -= {goal for goal in settled_goals(run, timers) if goal.latch < 0 and shown[goal.literal]}
    return [goal.kind for goal in missing]


def settled_goals(run: Run, timers: dict[Goal, set[int]]) -> list[Goal]:
    """The goals of whose timers none runs."""
    running = {timer.gate for timer, _ in run.running()}
    return [goal for goal, own in timers.items() if own.isdisjoint(running)]


def shown_now(run: Run, done_before: dict[int, int], *, still: bool) -> Values:
    """Every gate as the inputs stand, right after a change from where these timers were done, or settled."""
    before = before_of(run.compiled)
    was = {before.was[gate]: row for gate, row in done_before.items()}
    leaves = {**leaf_rows(run.compiled, run.numbers), **was, before.settled: int(still)}
    return run.compiled.gates.compute(leaves, 1, None, done_before)


def was_on(compiled: CompiledSchedule, numbers: Numbers, latch: int) -> bool:
    return latch < 0 or numbers[latch] == compiled.leaves[latch].values.index(ON)


def shown_by_some_step(compiled: CompiledSchedule, literal: Literal) -> bool:
    """Whether some step shows a goal, right after its change or once settled."""
    settled = every_setting(compiled)
    before, after = paired(settled)
    still, moved = settled.settled(compiled), after.after(compiled, before)
    possible = bits(still[compiled.possible], settled.count) > 0
    steps = np.logical_and.outer(possible, possible).ravel() & (bits(moved[compiled.possible], after.count) > 0)
    return bool(
        (bits(still[literal], settled.count) > 0)[possible].any()
        or (bits(moved[literal], after.count) > 0)[steps].any()
    )


def every_setting(compiled: CompiledSchedule) -> Batch:
    return rows_of_settings(compiled, list(product(*(range(len(one.values)) for one in compiled.leaves))))


def paired(every: Batch) -> tuple[Batch, Batch]:
    """Every setting before every setting."""
    before, after = {}, {}
    for leaf, row in every.rows.items():
        own = bits(row, every.count)
        before[leaf] = packed(np.repeat(own, every.count))
        after[leaf] = packed(np.tile(own, every.count))
    return Batch(before, every.count**2), Batch(after, every.count**2)


def packed(row: Rows) -> int:
    return int.from_bytes(np.packbits(row, bitorder="little").tobytes(), "little")
