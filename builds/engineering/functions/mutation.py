"""How many one-fault schedules a test plan notices: each mutant is run through the plan's steps and its outputs compared."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import compress

from builds.engineering.functions.appearances import channel_logics, differ
from builds.engineering.functions.comparing import compare_schedules
from builds.engineering.functions.compiled import CompiledSchedule, channel_rules, compile_schedule, rule_literal
from builds.engineering.functions.evaluate import evaluate_holding, numbers_of
from builds.engineering.functions.gates import FALSE, Literal
from builds.engineering.functions.looks import Look, rows_of_settings
from builds.engineering.functions.mutants import Mutant, MutantKind, mutants_of
from builds.engineering.functions.plan import TestPlan, plan_test, with_more
from builds.engineering.functions.proof import Counterexample, SpaceInUse, Verdict, find_state
from builds.engineering.functions.running import Run
from builds.engineering.functions.schedule import FunctionSchedule
from builds.engineering.functions.settings import AT_REST, Setting, setting_of_numbers
from builds.engineering.functions.telling_apart import told_by_stuck
from builds.engineering.functions.vocabulary import EffectKind
from builds.engineering.functions.walking import PlanStep

__all__ = ["MutationReport", "Survivor", "measure_plan", "sharp_plan", "sharpened"]

_MOST_KEPT = 512


@dataclass(frozen=True, slots=True)
class Survivor:
    """A mutant that no step notices, and the smallest state that tells it from the original, where one was found."""

    mutant: Mutant
    example: Counterexample | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MutationReport:
    """
    Mutants by what became of them, each group by kind of fault.

    ``survived`` are noticed by no step and not proved to be without effect; ``score_ratio`` is the noticed part of all
    that are not equivalent.
    """

    killed: dict[MutantKind, int]
    equivalent: dict[MutantKind, int]
    survived: tuple[Survivor, ...]

    @property
    def score_ratio(self) -> float:
        """Noticed over noticed and survived; 1 where nothing could be noticed."""
        killed = sum(self.killed.values())
        return killed / (killed + len(self.survived)) if killed or self.survived else 1.0


def measure_plan(compiled: CompiledSchedule, plan: TestPlan, *, looked: frozenset[int] | None = None) -> MutationReport:
    """
    Return how many mutants of a schedule its plan notices.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    plan : TestPlan
        Its plan.
    looked : frozenset of int, optional
        Numbers of the steps, from 0, at which somebody looks; all if left out.
    """
    work = _Measure(compiled, plan.steps, looked)
    killed = dict.fromkeys(MutantKind, 0)
    equivalent = dict.fromkeys(MutantKind, 0)
    survived: list[Survivor] = []
    with SpaceInUse(compiled) as spaces:
        for mutant in mutants_of(compiled.schedule):
            if work.notices(mutant):
                killed[mutant.kind] += 1
                continue
            verdict, example = _told_apart(spaces, mutant)
            if verdict is Verdict.PROVED:
                equivalent[mutant.kind] += 1
            else:
                survived.append(Survivor(mutant, example))
    return MutationReport(killed=killed, equivalent=equivalent, survived=tuple(survived))


def sharp_plan(compiled: CompiledSchedule) -> tuple[TestPlan, MutationReport]:
    """
    Return a test plan to which looks were added until it notices every mutant for which a look is known; and its measure.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule; each mutant costs a run through the plan, so a large schedule takes minutes.
    """
    plan = plan_test(compiled)
    report = measure_plan(compiled, plan)
    if any(one.example is not None for one in report.survived):
        plan = sharpened(compiled, plan, report)
        report = measure_plan(compiled, plan)
    return plan, report


def sharpened(compiled: CompiledSchedule, plan: TestPlan, report: MutationReport) -> TestPlan:
    """
    Return a plan that notices survivors too, as far as a sequence is known that tells them from the original.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    plan : TestPlan
        Its plan.
    report : MutationReport
        What that plan missed.
    """
    left = [(one.mutant, one.example) for one in report.survived]
    for mutant, example in left:
        if example is None or _Measure(compiled, plan.steps).notices(mutant):
            continue
        if compiled.gates.timers:
            plan = with_more(compiled, plan, traces=[example.trace])
        else:
            plan = with_more(compiled, plan, looks=[Look(numbers_of(compiled, example.setting))])
    return plan


def _told_apart(spaces: SpaceInUse, mutant: Mutant) -> tuple[Verdict, Counterexample | None]:
    """PROVED where no reachable state tells a mutant from the original; else the smallest that does, if one is found."""
    compiled = spaces.compiled
    if mutant.exchanged is None and mutant.stuck is None:
        return _compared(compiled.schedule, mutant.schedule)
    if mutant.stuck is not None:
        return told_by_stuck(spaces, mutant.stuck)
    assert mutant.exchanged is not None
    one, other = (channel_logics(compiled)[channel].shows for channel in mutant.exchanged)
    literal = differ(compiled.gates, one, other)
    return (Verdict.PROVED, None) if literal == FALSE else find_state(spaces, (literal,))


@lru_cache(maxsize=_MOST_KEPT)
def _compared(original: FunctionSchedule, faulty: FunctionSchedule) -> tuple[Verdict, Counterexample | None]:
    """What tells two schedules apart, whatever plan missed it: another plan of the same schedule asks the same again."""
    different = compare_schedules(original, faulty).different
    examples = [one.example for one in different if one.example is not None]
    return (Verdict.REFUTED if different else Verdict.PROVED), examples[0] if examples else None


class _Measure:
    """The plan's steps, and which rules hold at each in the original."""

    def __init__(
        self, compiled: CompiledSchedule, steps: Iterable[PlanStep], looked: frozenset[int] | None = None
    ) -> None:
        self.compiled = compiled
        self.steps = tuple(steps)
        self.looked = [looked is None or number in looked for number in range(len(self.steps))]
        self.shown = [tuple(outcome.shows for outcome in step.outcomes) for step in self.steps]
        self.holding = [[run.values[one] for one in compiled.holds] for run in self._replayed(compiled)]
        self.batch = rows_of_settings(compiled, [numbers_of(compiled, step.setting) for step in self.steps])
        self.by_key = compiled.reads

    def notices(self, mutant: Mutant) -> bool:
        """Whether some step of the plan sees another outcome than it expects."""
        if mutant.exchanged is not None:
            one, other = mutant.exchanged
            return any(shown[one] != shown[other] for shown in compress(self.shown, self.looked))
        if mutant.stuck is not None:
            return self._sees_other(self._replayed(self.compiled, stuck=mutant.stuck))
        changed = [
            number
            for number, (rule, original) in enumerate(
                zip(mutant.schedule.rules, self.compiled.schedule.rules, strict=True)
            )
            if rule != original
        ]
        if any(mutant.schedule.rules[number].effect.kind is EffectKind.RELEASE for number in changed):
            return self._sees_other(self._replayed(compile_schedule(mutant.schedule)))
        return self._notices_rules(mutant, changed)

    def _notices_rules(self, mutant: Mutant, changed: list[int]) -> bool:
        """Only the changed rules are computed anew; what they come to together is looked at where something differs."""
        compiled = self.compiled
        literals = {
            number: rule_literal(compiled.gates, self.by_key, mutant.schedule.rules[number]) for number in changed
        }
        rows = {number: self._row(literal) for number, literal in literals.items()}
        faulty = replace(
            compiled,
            schedule=mutant.schedule,
            channels=channel_rules(mutant.schedule, compiled.names),
            cache={},
        )
        reordered = mutant.kind in (MutantKind.PRIORITIES_EXCHANGED, MutantKind.PATTERNS_EXCHANGED)
        for step, (shown, holding) in enumerate(zip(self.shown, self.holding, strict=True)):
            if not self.looked[step]:
                continue
            now = {number: row >> step & 1 for number, row in rows.items()}
            if reordered or any(holding[number] != bit for number, bit in now.items()):
                faulty_holding = [now.get(number, bit) for number, bit in enumerate(holding)]
                if tuple(outcome.shows for outcome in evaluate_holding(faulty, faulty_holding)) != shown:
                    return True
        return False

    def _row(self, literal: Literal) -> int:
        """The steps at which a literal holds."""
        gates = self.compiled.gates
        if gates.timers_in([literal]):
            bits = [run.values[literal] for run in self._replayed(self.compiled, only=(literal,))]
            return sum(bit << step for step, bit in enumerate(bits))
        return gates.compute(self.batch.rows, self.batch.mask, gates.cone([literal]))[literal]

    def _sees_other(self, runs: Iterable[Run]) -> bool:
        return any(
            looks and tuple(outcome.shows for outcome in run.outcomes()) != shown
            for run, shown, looks in zip(runs, self.shown, self.looked, strict=True)
        )

    def _replayed(
        self, compiled: CompiledSchedule, *, only: tuple[Literal, ...] = (), stuck: tuple[int, int] | None = None
    ) -> Iterator[Run]:
        """The run at each step, as the hand works the inputs; an input that is stuck does not follow."""
        run = Run.wake(compiled, self._as_worked(AT_REST, stuck), only=only)
        for step in self.steps:
            if step.acts:
                run.set(self._as_worked(step.by_hand, stuck))
            run.advance(run.now_ms + step.wait_ms)
            yield run

    def _as_worked(self, setting: Setting, stuck: tuple[int, int] | None) -> Setting:
        if stuck is None:
            return setting
        number, place = stuck
        numbers = numbers_of(self.compiled, setting)
        return setting_of_numbers(self.compiled.schedule.inputs, (*numbers[:number], place, *numbers[number + 1 :]))
