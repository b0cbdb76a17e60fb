"""A schedule run through looks and sequences, step by step: what a plan's steps are made of."""

from dataclasses import dataclass, field

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.evaluate import Outcome, numbers_of
from builds.engineering.functions.looks import Look
from builds.engineering.functions.ordering import moves_between
from builds.engineering.functions.reachable import Trace
from builds.engineering.functions.running import Run
from builds.engineering.functions.settings import AT_REST, Setting, setting_of_numbers
from builds.engineering.functions.vocabulary import OFF, ON
from builds.engineering.functions.words import changes_words

__all__ = ["PlanStep", "Walk", "rest_numbers"]

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


def rest_numbers(compiled: CompiledSchedule) -> Numbers:
    """Return the numbers of the setting in which everything is at rest."""
    return tuple(one.values.index(one.rest) for one in compiled.leaves)


@dataclass(slots=True)
class Walk:
    """The schedule run through the plan, step by step."""

    compiled: CompiledSchedule
    run: Run = field(init=False)
    steps: list[PlanStep] = field(default_factory=list)
    moves: int = 0
    since_ms: int = 0  # when the hand was last on the inputs
    before: Setting = AT_REST
    by_hand: Setting = AT_REST

    def __post_init__(self) -> None:
        self.run = Run.wake(self.compiled)

    def follow(self, trace: Trace) -> None:
        """Go back to rest, wait, and go through a sequence, looking at its end."""
        self._go(rest_numbers(self.compiled))
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
        """Go to a look and look; right after a change, look again while each timer it watches runs and when it is over."""
        if look.before is None:
            is_seen = bool(self.steps) and self.run.numbers == look.numbers and not self._due(look.waits_for)
            if not is_seen:
                self._reach(look.numbers, look.waits_for)
            return
        if self.run.numbers != look.before or self._due(look.waits_for):
            self._reach(look.before, look.waits_for)
        if (stood_ms := self.run.now_ms - self.since_ms) < look.stands_ms:
            self.run.advance(self.since_ms + look.stands_ms)
            self._step(look.stands_ms - stood_ms)
        self._go(look.numbers)
        changed_ms = self.run.now_ms
        moments = sorted(
            {
                round(timer.duration_ms * part)
                for timer, due_ms in self.run.running()
                if timer.gate in look.watches and due_ms - timer.duration_ms == changed_ms
                for part in (_EARLY, _LATE)
            }
            | set(look.looks_ms)
        )
        self._step(0)
        for moment in moments:
            before_ms = self.run.now_ms
            self.run.advance(changed_ms + moment)
            self._step(self.run.now_ms - before_ms)

    def _reach(self, numbers: Numbers, waits_for: frozenset[int] | None) -> None:
        """
        Bring the inputs to a setting, wait, and look.

        A button that is let go by what still ran on from the setting before is pressed again once that has run out.
        """
        if self._comes_to(numbers):
            self._step(self._settle())
            return
        self._go(numbers)
        waited_ms = self._settle(waits_for)
        if self.run.numbers != numbers:
            self._step(waited_ms + self._settle())
            self._go(numbers)
            waited_ms = self._settle(waits_for)
        self._step(waited_ms)

    def _comes_to(self, numbers: Numbers) -> bool:
        """Whether the inputs come to a setting by waiting: rules let go of what is on there no more."""
        if self.run.numbers == numbers:
            return False
        trial = self.run.copy()
        while (event_ms := trial.next_event_ms()) is not None:
            trial.advance(event_ms)
        return trial.numbers == numbers

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
        self.since_ms = self.run.now_ms

    def _settle(self, waits_for: frozenset[int] | None = None) -> int:
        """Wait until none of these timers runs, or none at all; how long that took."""
        started_ms = self.run.now_ms
        while due := self._due(waits_for):
            self.run.advance(min(due))
        return self.run.now_ms - started_ms

    def _due(self, waits_for: frozenset[int] | None) -> list[int]:
        """When those of these timers that run will have run out."""
        return [due_ms for timer, due_ms in self.run.running() if waits_for is None or timer.gate in waits_for]

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
