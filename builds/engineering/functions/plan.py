"""
The technician's test plan: settings in the order in which fewest controls change, with what every output does at each.

The plan is a sequence. A step changes inputs, waits, and looks. Its expected outcomes come from running the schedule
through the sequence, so what a step expects is what the schedule does then and not what a formula says it should do.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.covering import Cover, PlanSpace, cover_goals
from builds.engineering.functions.evaluate import Outcome, numbers_of
from builds.engineering.functions.goals import Goal, GoalKind, goals_of
from builds.engineering.functions.looks import Look
from builds.engineering.functions.lower_bound import mutually_exclusive
from builds.engineering.functions.ordering import moves_between, order_settings, total_moves
from builds.engineering.functions.printing import print_name
from builds.engineering.functions.reachable import Trace
from builds.engineering.functions.running import Run
from builds.engineering.functions.settings import AT_REST, Setting, setting_of_numbers
from builds.engineering.functions.telling_apart import add_apart, add_stuck
from builds.engineering.functions.vocabulary import OFF, ON
from builds.engineering.functions.words import changes_words

__all__ = ["PlanStep", "TestPlan", "extended", "goal_words", "plan_test"]

Numbers = tuple[int, ...]
_EARLY, _LATE = (
    0.75,
    1.25,
)  # parts of a timer's time at which it is looked at: a timer off by half is seen at one of them


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStep:
    """
    One step: what to do, how long to wait, and what every output then does.

    ``by_hand`` is where the hand leaves the inputs; ``setting`` where they are when looked at, buttons that a rule has let
    go off. ``acts`` is empty where the step only waits on.
    """

    by_hand: Setting
    setting: Setting
    acts: tuple[str, ...]
    wait_ms: int
    outcomes: tuple[Outcome, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TestPlan:
    """
    Steps in order, with what they show and what nothing can.

    ``settings`` counts the settings looked at, ``at_least`` is a proven bound below which no plan shows all goals (each of
    so many goals excludes all the others). ``moves`` counts changes of controls, ``moves_unordered`` what they would be in
    the order found. ``alike`` are groups of outputs that always show the same, ``unheeded`` inputs with values they may be stuck at
    without any output telling.
    """

    steps: tuple[PlanStep, ...]
    goals: tuple[Goal, ...]
    impossible: tuple[Goal, ...]
    settings: int
    at_least: int
    moves: int
    moves_unordered: int
    wait_ms: int
    alike: tuple[tuple[str, ...], ...] = ()
    unheeded: tuple[tuple[str, str], ...] = ()

    __test__ = False  # a plan of tests, and none itself


def plan_test(compiled: CompiledSchedule) -> TestPlan:
    """
    Return a test plan for a schedule.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.

    Returns
    -------
    TestPlan
        Every rule winning and every term mattering both ways wherever some state shows it, every two outputs told apart,
        every stuck input noticed. Two runs give the same.
    """
    goals = goals_of(compiled)
    with PlanSpace(compiled) as space:
        cover = cover_goals(compiled, goals, space)
        looks = list(cover.looks)
        alike = add_apart(compiled, looks, space)
        unheeded = add_stuck(compiled, looks, space)
        at_least = mutually_exclusive(compiled, cover.shown, looks, space)
    return _made(compiled, cover, looks, at_least, alike, unheeded)


def _made(
    compiled: CompiledSchedule,
    cover: Cover,
    looks: list[Look],
    at_least: int,
    alike: Iterable[tuple[int, ...]],
    unheeded: Iterable[tuple[int, int]],
) -> TestPlan:
    channels, inputs = compiled.schedule.channels, compiled.schedule.inputs
    walk = _Walk(compiled, _timers_to_watch(cover.shown))
    ordered = _ordered(walk.numbers, looks)
    for look in ordered:
        walk.take(look)
    visited = [numbers for look in looks for numbers in ([look.before] if look.before else []) + [look.numbers]]
    return TestPlan(
        steps=tuple(walk.steps),
        goals=cover.shown,
        impossible=cover.impossible,
        settings=len(visited),
        at_least=at_least,
        moves=walk.moves,
        moves_unordered=total_moves(_rest(compiled), visited),
        wait_ms=walk.run.now_ms,
        alike=tuple(tuple(channels[channel].key for channel in group) for group in alike),
        unheeded=tuple((inputs[number].key, inputs[number].values[value]) for number, value in unheeded),
    )


def extended(compiled: CompiledSchedule, plan: TestPlan, traces: Sequence[Trace]) -> TestPlan:
    """
    Return a plan that goes through more sequences after its own steps.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    plan : TestPlan
        Its plan.
    traces : sequence of Trace
        Each starts at rest and ends with a look.
    """
    walk = _Walk(compiled, frozenset())
    walk.repeat(plan.steps)
    for trace in traces:
        walk.follow(trace)
    return replace(
        plan,
        steps=tuple(walk.steps),
        settings=plan.settings + sum(len(trace.steps) for trace in traces),
        moves=plan.moves + walk.moves,
        moves_unordered=plan.moves_unordered + walk.moves,
        wait_ms=walk.run.now_ms,
    )


def _rest(compiled: CompiledSchedule) -> Numbers:
    return tuple(one.values.index(one.rest) for one in compiled.leaves)


def _timers_to_watch(goals: Iterable[Goal]) -> frozenset[int]:
    return frozenset(goal.timer for goal in goals if goal.kind is GoalKind.MATTERS and goal.timer)


def _ordered(start: Numbers, looks: list[Look]) -> Iterator[Look]:
    """Settled settings first, then the looks right after a change, each from the nearest place."""
    settled = [look for look in looks if look.before is None]
    here = start
    for place in order_settings(start, [look.numbers for look in settled]):
        here = settled[place].numbers
        yield settled[place]
    left = [look for look in looks if look.before is not None]
    while left:
        nearest = min(left, key=lambda look: moves_between(here, look.before or look.numbers))
        left.remove(nearest)
        here = nearest.numbers
        yield nearest


@dataclass(slots=True)
class _Walk:
    """The schedule run through the plan, step by step."""

    compiled: CompiledSchedule
    timers: frozenset[int]
    run: Run = field(init=False)
    steps: list[PlanStep] = field(default_factory=list)
    moves: int = 0
    before: Setting = AT_REST
    by_hand: Setting = AT_REST

    def __post_init__(self) -> None:
        self.run = Run.wake(self.compiled)

    def repeat(self, steps: Iterable[PlanStep]) -> None:
        """Go through steps again as they stand."""
        for step in steps:
            if step.acts:
                self.run.set(step.by_hand)
            self.run.advance(self.run.now_ms + step.wait_ms)
            self.steps.append(step)

    def follow(self, trace: Trace) -> None:
        """Go back to rest, wait, and go through a sequence, looking at its end."""
        self._go(_rest(self.compiled))
        self._step(self._settle())
        now_ms = 0
        for step in trace.steps:
            if step.at_ms > now_ms:
                self.run.advance(self.run.now_ms + step.at_ms - now_ms)
                self._step(step.at_ms - now_ms)
            self._go(numbers_of(self.compiled, step.setting))
            now_ms = step.at_ms
        self.run.advance(self.run.now_ms + trace.look_ms - now_ms)
        self._step(trace.look_ms - now_ms)

    @property
    def numbers(self) -> Numbers:
        """Where the inputs stand."""
        return self.run.numbers

    def take(self, look: Look) -> None:
        """Go to a look and look; right after a change, look again while each timer to watch runs and when it is over."""
        if look.before is None:
            self._go(look.numbers)
            self._step(self._settle())
            return
        self._go(look.before)
        self._step(self._settle())
        self._go(look.numbers)
        changed_ms = self.run.now_ms
        moments = sorted(
            {
                round(timer.duration_ms * part)
                for timer, due_ms in self.run.running()
                if timer.gate in self.timers and due_ms - timer.duration_ms == changed_ms
                for part in (_EARLY, _LATE)
            }
        )
        self._step(0)
        for moment in moments:
            before_ms = self.run.now_ms
            self.run.advance(changed_ms + moment)
            self._step(self.run.now_ms - before_ms)

    def _left_to_rules(self, numbers: Numbers) -> Numbers:
        """The setting as the hand leaves it: buttons that rules let go there are not touched."""
        by_hand = list(numbers)
        for _, latch in self.compiled.releases:
            values = self.compiled.schedule.inputs[latch].values
            if self.numbers[latch] == values.index(ON) and numbers[latch] == values.index(OFF):
                by_hand[latch] = values.index(ON)
        trial = self.run.copy()
        trial.set(setting_of_numbers(self.compiled.schedule.inputs, by_hand))
        return tuple(by_hand) if trial.numbers == numbers else numbers

    def _go(self, numbers: Numbers) -> None:
        by_hand = self._left_to_rules(numbers)
        self.before = self.run.setting
        self.by_hand = setting_of_numbers(self.compiled.schedule.inputs, by_hand)
        self.moves += moves_between(self.run.numbers, by_hand)
        self.run.set(self.by_hand)

    def _settle(self) -> int:
        """Wait until no timer runs; how long that took."""
        started_ms = self.run.now_ms
        while (event_ms := self.run.next_event_ms()) is not None:
            self.run.advance(event_ms)
        return self.run.now_ms - started_ms

    def _step(self, wait_ms: int) -> None:
        self.steps.append(
            PlanStep(
                by_hand=self.by_hand,
                setting=self.run.setting,
                acts=changes_words(self.compiled.schedule, self.before, self.by_hand),
                wait_ms=wait_ms,
                outcomes=self.run.outcomes(),
            )
        )
        self.before = self.by_hand


def goal_words(compiled: CompiledSchedule, goal: Goal) -> str:
    """Return what a goal shows: "rule rear cut wins", "in rule rear cut, brake matters while it is not so"."""
    name = print_name(compiled.schedule.rules[goal.rule].key)
    match goal.kind:
        case GoalKind.WINS:
            return f"rule {name} decides"
        case GoalKind.LETS_GO:
            return f"rule {name} lets go"
        case _:
            return f"in rule {name}, “{goal.text}” {'being so' if goal.value else 'not being so'} decides"
