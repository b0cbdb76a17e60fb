"""
Few looks that show every goal that can be shown.

Goals that a large drawn sample of settings does not show are asked of the solver, which finds a setting or proves that
there is none. Then looks are chosen one by one: of thousands of candidates the one that shows most goals not yet shown,
bettered by changing it a little and looking again; last, looks whose goals the others show as well are dropped.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random

from builds.engineering.functions.compiled import CompiledSchedule, Leaves, new_leaves
from builds.engineering.functions.gates import FALSE, Literal
from builds.engineering.functions.goals import Goal, before_of
from builds.engineering.functions.looks import Batch, Look, best_columns, changed_at_random, rows_of_settings
from builds.engineering.functions.sampling import take_sample
from builds.engineering.functions.solving import StateSpace
from builds.engineering.functions.vocabulary import ON

__all__ = ["Cover", "PlanSpace", "cover_goals"]

_SEED = 2
_SAMPLE = 2048
_CANDIDATES = 512
_GENERATIONS = 3
_CROSSED = 40  # settings from each of which a change to each other is tried
_SHRUNK = 0.8  # the gates to compute are gathered anew when so many goals are left of those they were gathered for
_LARGE = 900  # variables of a space before it is opened anew


class PlanSpace:
    """
    Looks as clauses: a setting, and the settled one before it.

    A timer is done where what it watches holds and it was done before. In a settled look it was done before if it is done
    now; otherwise if what it watches held in the setting before.
    """

    def __init__(self, compiled: CompiledSchedule) -> None:
        self.compiled = compiled
        self.before = before_of(compiled)
        self._earlier, self._places = _earlier_leaves(compiled)
        self._space: StateSpace | None = None

    def __enter__(self) -> "PlanSpace":
        return self

    def __exit__(self, *_: object) -> None:
        self._close()

    def witness(self, wanted: Sequence[Literal], *, settled: bool = False) -> Look | None:
        """Return a look at which all of these hold, settled if one is or has to be; None if there is none."""
        if FALSE in wanted:
            return None
        space = self._open()
        if space.some([*wanted, self.before.settled]):
            return Look(space.state().numbers[: len(self.compiled.leaves)], waits_for=self.timers_of(wanted))
        if not settled and self.before.was and self._rests_on_time(wanted):
            return self._after_a_change(wanted, [])
        return None

    def _rests_on_time(self, wanted: Sequence[Literal]) -> bool:
        """Whether a timer matters to literals, or how one stood before: a term that is timed is seen by that alone."""
        gates = self.compiled.gates
        if gates.timers_in((*wanted, self.compiled.possible)):
            return True
        return not {self.before.settled, *self.before.was.values()}.isdisjoint(gates.cone(wanted))

    def nearest_rest(self, wanted: Sequence[Literal]) -> tuple[int, ...]:
        """Return the settled setting with fewest inputs away from rest that shows goals known to go together."""
        state = self._open().smallest((*wanted, self.before.settled))
        assert state is not None, "goals that one setting shows go together"
        return state.numbers[: len(self.compiled.leaves)]

    def witness_of(self, goal: Goal) -> Look | None:
        """Return a look that shows a goal; one that lets a button go comes from a setting in which the button is on."""
        if goal.latch < 0 or goal.literal == FALSE:
            return self.witness((goal.literal,))
        return self._after_a_change((goal.literal,), [self._earlier[goal.latch].literal(ON)])

    def _after_a_change(self, wanted: Sequence[Literal], earlier: Sequence[Literal]) -> Look | None:
        """A look right after a change, from a setting in which ``earlier`` holds and which is as like it as can be."""
        space = self._open()
        assumed = [*wanted, *earlier, -self.before.settled, self._settled_before(self.compiled.possible)]
        if not space.some(assumed):
            return None
        count = len(self.compiled.leaves)
        numbers = space.state().numbers[:count]
        here = [one.literals[number] for one, number in zip(self.compiled.leaves, numbers, strict=True)]
        kept = [one.literals[number] for one, number in zip(self._earlier, numbers, strict=True)]
        while not space.some([*assumed, *here, *kept]):
            blamed = set(space.core(kept))
            kept = [literal for literal in kept if literal not in blamed]
        return Look(numbers, space.state().numbers[count:], self.timers_of(wanted))

    def timers_of(self, wanted: Sequence[Literal]) -> frozenset[int]:
        """Return the timers that matter to literals, now or as they stood before, in any state the vehicle can rest in."""
        return _timers_of(self.compiled, (*wanted, self.compiled.possible))

    def exclude_each_other(self, one: Literal, other: Literal) -> bool:
        """Whether no look shows both."""
        return not self._open().some([one, other])

    def _settled_before(self, literal: Literal) -> Literal:
        """The literal read in the setting before: its leaves there, every timer what it watches."""
        return self.compiled.gates.replaced(literal, self._places, timers="settled")

    def _open(self) -> StateSpace:
        if self._space is not None and self._space.size > _LARGE:
            self._close()
        if self._space is None:
            compiled = self.compiled
            self._space = StateSpace(compiled.gates, (*compiled.leaves, *self._earlier), compiled.possible)
            for gate in self.before.was:
                self._relate(self._space, gate)
        return self._space

    def _relate(self, space: StateSpace, gate: int) -> None:
        """Tie a timer to how it stood before."""
        timer, was, settled = self.compiled.gates.timers[gate], self.before.was[gate], self.before.settled
        earlier = self._settled_before(timer.held)
        space.clause([-gate, was])
        space.clause([gate, -timer.held, -was])
        for same, held in ((settled, timer.held), (-settled, earlier)):
            space.clause([-same, -was, held])
            space.clause([-same, was, -held])

    def _close(self) -> None:
        if self._space is not None:
            self._space.close()
            self._space = None


def _earlier_leaves(compiled: CompiledSchedule) -> tuple[tuple[Leaves, ...], dict[Literal, Literal]]:
    """Leaves of the setting before, and which of them stands for which of the schedule's; made once."""
    made = compiled.cache.get("earlier_leaves")
    if made is None:
        count = len(compiled.leaves)
        earlier = tuple(
            new_leaves(compiled.gates, number=count + number, values=one.values, rest=one.rest)
            for number, one in enumerate(compiled.leaves)
        )
        places = {
            own: other
            for one, there in zip(compiled.leaves, earlier, strict=True)
            for own, other in zip(one.literals, there.literals, strict=True)
            if not compiled.gates.made_of[abs(own)]
        }
        made = compiled.cache["earlier_leaves"] = (earlier, places)
    assert isinstance(made, tuple)
    return made


@dataclass(frozen=True, slots=True)
class Cover:
    """The looks chosen, the goals they show between them, and the goals that nothing can show."""

    looks: tuple[Look, ...]
    shown: tuple[Goal, ...]
    impossible: tuple[Goal, ...]


def cover_goals(compiled: CompiledSchedule, goals: Sequence[Goal], space: PlanSpace) -> Cover:
    """
    Return few looks that show every goal that some look shows.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    goals : sequence of Goal
        What is to be shown; all their gates are made.
    space : PlanSpace
        Of the schedule.
    """
    work = _Covering(compiled)
    sample = work.sample()
    roots = [goal.literal for goal in goals]
    values = sample.settled(compiled, compiled.gates.cone([*roots, compiled.possible]))
    possible = values[compiled.possible]
    missed = [goal for goal in goals if not values[goal.literal] & possible]
    missed += [goal for goal in goals if goal.latch >= 0 and goal not in missed]
    witnesses = {goal: space.witness_of(goal) for goal in missed}
    impossible = [goal for goal in missed if witnesses[goal] is None]
    timed = {goal: look for goal, look in witnesses.items() if look is not None and look.before is not None}
    apart = {*impossible, *timed}
    seeds = [look.numbers for look in witnesses.values() if look is not None and look.before is None]
    changes = work.timed_looks(timed)
    looks = work.settled_looks([goal for goal in goals if goal not in apart], changes, sample, seeds, space)
    shown = tuple(goal for goal in goals if witnesses.get(goal, True) is not None)
    return Cover(tuple(looks), shown, tuple(impossible))


class _Covering:
    def __init__(self, compiled: CompiledSchedule) -> None:
        self.compiled = compiled
        self.random = Random(_SEED)  # noqa: S311 - drawing settings, not secrets

    def sample(self) -> Batch:
        """A batch of drawn settings."""
        drawn = take_sample(self.compiled, settings=_SAMPLE, gates=())
        rows = {
            leaf: drawn.values[leaf]
            for one in self.compiled.leaves
            for leaf in one.literals
            if not self.compiled.gates.made_of[abs(leaf)]
        }
        return Batch(rows, _SAMPLE)

    def settled_looks(
        self,
        goals: Sequence[Goal],
        changes: Sequence[Look],
        sample: Batch,
        seeds: Sequence[tuple[int, ...]],
        space: PlanSpace,
    ) -> list[Look]:
        """These looks right after a change, and looks at settled settings for what their own settings do not show."""
        stops = list(dict.fromkeys(numbers for look in changes for numbers in (look.before, look.numbers) if numbers))
        at_stops = self._shown_at(stops, goals)
        passed = {literal for shown in at_stops.values() for literal in shown}
        looks = self._chosen([goal for goal in goals if goal.literal not in passed], sample, seeds, space)
        others = self._shown_at([look.numbers for look in looks], goals).values()
        left = passed - {literal for shown in others for literal in shown}
        befores = {look.before for look in changes}
        for numbers in sorted(stops, key=lambda one: one not in befores):
            own = left & at_stops[numbers]
            left -= own
            if own or numbers in befores:
                looks.append(Look(numbers, waits_for=space.timers_of(sorted(own))))
        return looks + list(changes)

    def _shown_at(
        self, settings: Sequence[tuple[int, ...]], goals: Sequence[Goal]
    ) -> dict[tuple[int, ...], set[Literal]]:
        """By setting, the goals that it shows once it has settled."""
        if not settings:
            return {}
        roots = list(dict.fromkeys(goal.literal for goal in goals))
        values = rows_of_settings(self.compiled, settings).settled(self.compiled, self._cone(roots))
        possible = values[self.compiled.possible]
        return {
            numbers: {literal for literal in roots if values[literal] & possible & 1 << place}
            for place, numbers in enumerate(settings)
        }

    def _chosen(
        self, goals: Sequence[Goal], sample: Batch, seeds: Sequence[tuple[int, ...]], space: PlanSpace
    ) -> list[Look]:
        """Looks at settled settings, each the best found while there are goals not yet shown."""
        pool = joined(sample, rows_of_settings(self.compiled, seeds)) if seeds else sample
        open_goals = list(dict.fromkeys(goal.literal for goal in goals))
        chosen: list[tuple[int, ...]] = []
        gates = self._cone(open_goals)
        values, computed = pool.settled(self.compiled, gates), len(open_goals)
        while open_goals:
            if len(open_goals) < _SHRUNK * computed:
                gates, computed = self._cone(open_goals), len(open_goals)
            possible = values[self.compiled.possible]
            count, columns = best_columns((values[goal] for goal in open_goals), possible)
            numbers = pool.numbers(self.compiled, _lowest(columns))
            numbers = self._bettered(numbers, count, open_goals, gates)
            chosen.append(numbers)
            here = rows_of_settings(self.compiled, [numbers]).settled(self.compiled, gates)
            open_goals = [goal for goal in open_goals if not here[goal]]
        needed = self._needed(chosen, [goal.literal for goal in goals])
        return list(self._near_rest(needed, goals, space))

    def _near_rest(self, chosen: list[tuple[int, ...]], goals: Sequence[Goal], space: PlanSpace) -> Iterator[Look]:
        """Each setting with as few inputs away from rest as the goals allow that no setting before it shows."""
        left = list(dict.fromkeys(goal.literal for goal in goals))
        values = rows_of_settings(self.compiled, chosen).settled(self.compiled, self._cone(left))
        for place in range(len(chosen)):
            own = [goal for goal in left if values[goal] >> place & 1]
            left = [goal for goal in left if not values[goal] >> place & 1]
            yield Look(space.nearest_rest(own), waits_for=space.timers_of(own))

    def _bettered(
        self, numbers: tuple[int, ...], count: int, open_goals: Sequence[Literal], gates: Sequence[int]
    ) -> tuple[int, ...]:
        """A setting near this one that shows as many goals or more."""
        for _ in range(_GENERATIONS):
            batch = changed_at_random(self.compiled, self.random, numbers, _CANDIDATES)
            values = batch.settled(self.compiled, gates)
            better, columns = best_columns((values[goal] for goal in open_goals), values[self.compiled.possible])
            if better <= count:
                break
            numbers, count = batch.numbers(self.compiled, _lowest(columns)), better
        return numbers

    def _needed(self, chosen: list[tuple[int, ...]], goals: Sequence[Literal]) -> list[tuple[int, ...]]:
        """The settings without those whose goals the others show as well, the last chosen looked at first."""
        if not chosen:
            return []
        values = rows_of_settings(self.compiled, chosen).settled(self.compiled, self._cone(goals))
        rows = {values[goal] for goal in goals}
        kept = (1 << len(chosen)) - 1
        for place in reversed(range(len(chosen))):
            without = kept & ~(1 << place)
            if all(row & without for row in rows):
                kept = without
        return [numbers for place, numbers in enumerate(chosen) if kept >> place & 1]

    def timed_looks(self, timed: Mapping[Goal, Look]) -> list[Look]:
        """Of the looks right after a change that show these goals, few that show them all."""
        looks = self._crossed(list(dict.fromkeys(timed.values())))
        if not looks:
            return []
        batch = rows_of_settings(self.compiled, [look.numbers for look in looks])
        earlier = rows_of_settings(self.compiled, [look.before or look.numbers for look in looks])
        values = batch.after(self.compiled, earlier, self._cone(goal.literal for goal in timed))
        possible = values[self.compiled.possible] & self._possible(earlier)
        rows = {goal: values[goal.literal] & self._was_on(goal, looks) & possible for goal in timed}
        assert all(rows.values()), "a look found for a goal shows it"
        chosen: list[Look] = []
        while rows:
            _, columns = best_columns(rows.values(), batch.mask)
            column = _lowest(columns)
            shown = [goal for goal, row in rows.items() if row >> column & 1]
            waits_for = self._timers(shown) | (looks[column].waits_for or frozenset())
            watches = frozenset(goal.timer for goal in shown if goal.timer)
            chosen.append(replace(looks[column], waits_for=waits_for, watches=watches))
            rows = {goal: row for goal, row in rows.items() if goal not in shown}
        return chosen

    def _crossed(self, looks: list[Look]) -> list[Look]:
        """These looks, and some more: from every setting that one of them has to every other."""
        settings = list(dict.fromkeys(numbers for look in looks for numbers in (look.before, look.numbers) if numbers))
        settings = settings[:_CROSSED]
        pairs = {(look.before, look.numbers) for look in looks}
        more = [Look(after, before) for before in settings for after in settings if before != after]
        return looks + [look for look in more if (look.before, look.numbers) not in pairs]

    def _possible(self, batch: Batch) -> int:
        return batch.settled(self.compiled, self._cone(()))[self.compiled.possible]

    def _timers(self, goals: Sequence[Goal]) -> frozenset[int]:
        return _timers_of(self.compiled, [goal.literal for goal in goals])

    def _was_on(self, goal: Goal, looks: Sequence[Look]) -> int:
        """Marks the looks before which the goal's button was on; all where it names none."""
        if goal.latch < 0:
            return (1 << len(looks)) - 1
        on = self.compiled.leaves[goal.latch].values.index(ON)
        before = (look.before[goal.latch] == on if look.before else False for look in looks)
        return sum(1 << place for place, was_on in enumerate(before) if was_on)

    def _cone(self, literals: Iterable[Literal]) -> list[int]:
        return self.compiled.gates.cone([*literals, self.compiled.possible])


def _timers_of(compiled: CompiledSchedule, literals: Sequence[Literal]) -> frozenset[int]:
    gates, was = compiled.gates, before_of(compiled).was
    reads = set(gates.cone(literals)) if was else set()
    before = [gate for gate, leaf in was.items() if leaf in reads]
    return frozenset(timer.gate for timer in gates.timers_in([*literals, *before]))


def joined(one: Batch, other: Batch) -> Batch:
    """Return a batch with the columns of both."""
    leaves = one.rows.keys() | other.rows.keys()
    rows = {leaf: one.rows.get(leaf, 0) | other.rows.get(leaf, 0) << one.count for leaf in leaves}
    return Batch(rows, one.count + other.count)


def _lowest(row: int) -> int:
    return (row & -row).bit_length() - 1
