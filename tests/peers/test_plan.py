"""The test plan: short, complete, in few moves, proved no shorter than its bound; and what it notices."""

from dataclasses import replace
from itertools import count, permutations
from math import prod
from random import Random

import pytest

from builds.engineering.functions.appearances import channel_logics
from builds.engineering.functions.compiled import CompiledSchedule, compile_schedule
from builds.engineering.functions.conditions import AllOf, AnyOf, Condition, InputIs, Not, leaves
from builds.engineering.functions.covering import PlanSpace, cover_goals
from builds.engineering.functions.evaluate import evaluate
from builds.engineering.functions.goals import GoalKind, goals_of
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.mutants import MutantKind, mutants_of
from builds.engineering.functions.mutation import measure_plan, sharpened
from builds.engineering.functions.ordering import order_settings, total_moves
from builds.engineering.functions.plan import TestPlan, goal_words, plan_test
from builds.engineering.functions.running import Run
from builds.engineering.functions.schedule import FunctionSchedule
from builds.engineering.functions.settings import Setting, setting_of_numbers
from builds.engineering.functions.telling_apart import stuck_literal
from builds.engineering.functions.vocabulary import EffectKind
from tests.engineering.functions.brute_force import EverySetting
from tests.engineering.functions.exact_cover import every_batch, fewest_settings
from tests.engineering.functions.exact_walk import shown_by_some_step
from tests.engineering.functions.language_page import COMPILED
from tests.engineering.functions.random_schedules import random_schedule


def releases(schedule: FunctionSchedule) -> bool:
    return any(rule.effect.kind is EffectKind.RELEASE for rule in schedule.rules)


def without_releases(seeds: range) -> list[FunctionSchedule]:
    made = [random_schedule(Random(seed), inputs=4 + seed % 4, claims=0) for seed in seeds]
    return [one for one in made if not releases(one)]


def only_read(schedule: FunctionSchedule) -> FunctionSchedule:
    """The schedule without the inputs that nothing reads: what they do shows nowhere."""
    read = {
        leaf.input
        for part in (*schedule.rules, *schedule.givens)
        for leaf in leaves(part.condition)
        if isinstance(leaf, InputIs)
    }
    return replace(schedule, inputs=tuple(part for part in schedule.inputs if part.key in read))


def of_fourteen_inputs() -> FunctionSchedule:
    """The first one made in which many inputs are read, and whose every setting can still be looked at."""
    for seed in count():
        schedule = random_schedule(Random(seed), inputs=14, claims=0)
        read = only_read(schedule).inputs
        if not releases(schedule) and len(read) >= 11 and prod(len(part.values) for part in read) < 700_000:
            return schedule
    raise AssertionError("seeds do not run out")


SCHEDULES = without_releases(range(45))


def test_plans_are_at_most_half_as_long_again_as_the_exact_minimum() -> None:
    assert len(SCHEDULES) >= 20
    for schedule in SCHEDULES:
        compiled = compile_schedule(schedule)

        settings, fewest = plan_test(compiled).settings, fewest_settings(compile_schedule(schedule))

        assert fewest <= settings <= 1.5 * fewest


@pytest.mark.slow
def test_a_plan_of_fourteen_inputs_is_at_most_half_as_long_again_as_the_exact_minimum() -> None:
    schedule = of_fourteen_inputs()

    settings = plan_test(compile_schedule(schedule)).settings
    fewest = fewest_settings(compile_schedule(only_read(schedule)))

    assert len(schedule.inputs) == 14
    assert fewest <= settings <= 1.5 * fewest


def with_timers(seeds: range) -> list[FunctionSchedule]:
    """Schedules with timers and without releases, of so few settings that every step between two can be looked at."""
    made = [random_schedule(Random(seed), inputs=3, claims=0, rules=5, channels=4, timers=True) for seed in seeds]
    small = [one for one in made if not releases(one) and prod(len(part.values) for part in one.inputs) <= 40]
    return [one for one in small if compile_schedule(one).gates.timers]


def test_goals_called_impossible_are_shown_by_no_step_of_a_schedule_with_timers() -> None:
    checked = 0
    for schedule in with_timers(range(60)):
        compiled = compile_schedule(schedule)
        plan = plan_test(compiled)
        impossible = {(goal.rule, goal.term, goal.value, goal.kind) for goal in plan.impossible}
        fresh = compile_schedule(schedule)
        goals = [goal for goal in goals_of(fresh) if (goal.rule, goal.term, goal.value, goal.kind) in impossible]

        checked += len(goals)

        assert [goal_words(fresh, goal) for goal in goals if shown_by_some_step(fresh, goal.literal)] == []

    assert checked > 50


def test_the_proven_bound_is_never_above_the_exact_minimum() -> None:
    for schedule in SCHEDULES[:12]:
        plan = plan_test(compile_schedule(schedule))

        assert 1 <= plan.at_least <= fewest_settings(compile_schedule(schedule)) <= plan.settings


def test_goals_called_impossible_are_shown_by_no_setting() -> None:
    for schedule in SCHEDULES:
        compiled = compile_schedule(schedule)
        goals = goals_of(compiled)
        values = every_batch(compiled).settled(compiled)

        with PlanSpace(compiled) as space:
            cover = cover_goals(compiled, goals, space)

        possible = values[compiled.possible]
        assert {goal for goal in goals if values[goal.literal] & possible} == set(cover.shown)
        assert set(cover.shown) | set(cover.impossible) == set(goals)


# A term matters by another way than the gates: the condition with this one term turned round, evaluated again.


def turned(condition: Condition, number: int) -> tuple[Condition, int]:
    """The condition with its leaf of a number turned round; and how many leaves it has before that number's end."""
    match condition:
        case AllOf(terms=terms) | AnyOf(terms=terms):
            made = []
            for term in terms:
                changed, number = turned(term, number)
                made.append(changed)
            return replace(condition, terms=tuple(made)), number
        case Not(term=term):
            changed, number = turned(term, number)
            return Not(term=changed), number
        case InputIs():
            return (Not(term=condition) if number == 0 else condition), number - 1
        case _:
            raise AssertionError("no timers and no outputs here")


def settings_of(plan: TestPlan) -> list[Setting]:
    return [step.setting for step in plan.steps]


@pytest.mark.parametrize("schedule", SCHEDULES[:10], ids=range(10))
def test_for_each_term_shown_a_step_differs_when_the_term_alone_is_turned_round(schedule: FunctionSchedule) -> None:
    compiled = compile_schedule(schedule)
    plan = plan_test(compiled)

    for goal in {(goal.rule, goal.term) for goal in plan.goals if goal.kind is GoalKind.MATTERS}:
        rule = compiled.schedule.rules[goal[0]]
        changed = replace(rule, condition=turned(rule.condition, goal[1])[0])
        rules = tuple(changed if one == rule else one for one in compiled.schedule.rules)
        other = compile_schedule(replace(compiled.schedule, rules=rules))

        differing = [one for one in settings_of(plan) if shows(compiled, one) != shows(other, one)]

        assert differing


def shows(compiled: CompiledSchedule, setting: Setting) -> list:
    return [outcome.shows for outcome in evaluate(compiled, setting)]


def test_every_step_expects_what_the_schedule_does_there() -> None:
    for compiled in COMPILED.values():
        plan = plan_test(compiled)
        run = Run.wake(compiled)

        for step in plan.steps:
            if step.acts:
                run.set(step.by_hand)
            run.advance(run.now_ms + step.wait_ms)
            assert run.outcomes() == step.outcomes
            assert run.setting == step.setting

        assert run.now_ms == plan.wait_ms


def test_two_runs_give_the_same_plan() -> None:
    schedule = SCHEDULES[3]

    assert plan_test(compile_schedule(schedule)).steps == plan_test(compile_schedule(schedule)).steps


def test_outputs_called_alike_show_the_same_in_every_setting() -> None:
    for schedule in SCHEDULES[:15]:
        compiled = compile_schedule(schedule)
        plan = plan_test(compiled)
        logics = channel_logics(compiled)
        values = every_batch(compiled).settled(compiled)
        possible = values[compiled.possible]
        shown = {
            channel.key: {
                look: values[literal] & possible for look, literal in logic.shows.items() if values[literal] & possible
            }
            for channel, logic in zip(schedule.channels, logics, strict=True)
        }

        together = {frozenset(group) for group in plan.alike}
        keys = [channel.key for channel in schedule.channels]
        groups = {frozenset(other for other in keys if shown[other] == shown[key]) for key in keys}

        assert together == {group for group in groups if len(group) > 1}


def test_inputs_called_unheeded_change_nothing_in_any_setting() -> None:
    for schedule in SCHEDULES[:15]:
        compiled = compile_schedule(schedule)
        plan = plan_test(compiled)
        keys = [part.key for part in schedule.inputs]
        literals = {
            (key, value): stuck_literal(
                compiled, (keys.index(key), schedule.inputs[keys.index(key)].values.index(value))
            )
            for key, value in plan.unheeded
        }
        values = every_batch(compiled).settled(compiled)

        assert all(not values[literal] & values[compiled.possible] for literal in literals.values())


# Order


def test_the_order_takes_the_fewest_moves_on_small_sets() -> None:
    random = Random(3)
    for _ in range(20):
        settings = [tuple(random.randrange(3) for _ in range(5)) for _ in range(6)]
        start = (0, 0, 0, 0, 0)

        ordered = [settings[place] for place in order_settings(start, settings)]

        fewest = min(total_moves(start, one) for one in permutations(settings))
        assert sorted(ordered) == sorted(settings)
        assert total_moves(start, ordered) <= fewest + 2


def test_an_order_saves_moves() -> None:
    random = Random(4)
    settings = [tuple(random.randrange(2) for _ in range(12)) for _ in range(40)]
    start = (0,) * 12

    ordered = [settings[place] for place in order_settings(start, settings)]

    assert total_moves(start, ordered) < 0.7 * total_moves(start, settings)


def test_a_flash_later_by_a_whole_round_is_not_told_from_one_that_is_not() -> None:
    schedule = parse_schedule("""
input go: toggle
channel one: lamp
channel two: lamp
channel three: lamp
pattern beat: 300 ms on, 300 ms off
rule a (priority 1): one flash beat when go; if lost, does not apply
rule b (priority 1): two flash beat phase 600 ms when go; if lost, does not apply
rule c (priority 1): three flash beat phase 300 ms when go; if lost, does not apply
""")

    assert plan_test(compile_schedule(schedule)).alike == (("one", "two"),)


def test_no_sequence_stands_twice_in_a_plan() -> None:
    schedule = random_schedule(Random(27), inputs=3, claims=0, rules=5, channels=4, timers=True)

    plan = plan_test(compile_schedule(schedule))

    assert len(plan.traces) > 1
    assert len(set(plan.traces)) == len(plan.traces)


# Mutation


def test_a_plan_of_random_rules_notices_95_of_100_faults_and_sharpened_99() -> None:
    killed = survived = left = 0
    for schedule in SCHEDULES[:12]:
        compiled = compile_schedule(schedule)
        plan = plan_test(compiled)
        report = measure_plan(compiled, plan)
        killed += sum(report.killed.values())
        survived += len(report.survived)
        left += len(measure_plan(compiled, sharpened(compiled, plan, report)).survived)

    assert killed / (killed + survived) > 0.95
    assert left / (killed + survived) < 0.01
    assert left < survived


def test_mutants_called_equivalent_do_the_same_in_every_setting() -> None:
    schedule = SCHEDULES[0]
    compiled = compile_schedule(schedule)
    plan = plan_test(compiled)
    report = measure_plan(compiled, plan)
    mutants = [one for one in mutants_of(compiled.schedule) if one.stuck is None and one.exchanged is None]
    every = EverySetting(schedule)
    settings = [setting_of_numbers(schedule.inputs, numbers) for numbers in all_numbers(schedule)]
    allowed = [setting for setting in settings if is_allowed(every, setting)]

    same = sum(
        all(shows(compiled, setting) == shows(compile_schedule(mutant.schedule), setting) for setting in allowed)
        for mutant in mutants
        if mutant.kind is MutantKind.TERM_DROPPED
    )

    assert report.equivalent[MutantKind.TERM_DROPPED] == same


def all_numbers(schedule: FunctionSchedule) -> list[tuple[int, ...]]:
    numbers: list[tuple[int, ...]] = [()]
    for part in schedule.inputs:
        numbers = [(*before, value) for before in numbers for value in range(len(part.values))]
    return numbers


def is_allowed(every: EverySetting, setting: Setting) -> bool:
    away = dict(setting.away)
    place = sum(every.strides[part.key, away.get(part.key, part.rest)] for part in every.schedule.inputs)
    return bool(every.reachable() >> place & 1)


def test_every_kind_of_fault_is_made_and_killed_somewhere_on_the_page() -> None:
    killed = dict.fromkeys(MutantKind, 0)
    for compiled in COMPILED.values():
        for kind, number in measure_plan(compiled, plan_test(compiled)).killed.items():
            killed[kind] += number

    assert all(killed.values())


def test_an_empty_plan_notices_nothing() -> None:
    compiled = COMPILED["rear cut"]
    plan = replace(plan_test(compiled), steps=())

    report = measure_plan(compiled, plan)

    assert sum(report.killed.values()) == 0 and report.score_ratio == 0


def test_goals_are_said_in_words() -> None:
    compiled = COMPILED["secure idle"]

    words = [goal_words(compiled, goal) for goal in plan_test(compiled).goals]

    assert "rule locked decides" in words
    assert "in rule locked, “key” not being so decides" in words
    assert "rule key-back lets go" in words


RUNNING_ON = """
input fast: signal meaning speed-above; wire C1-1; held 2 s
input lamp-button: latching
input siren-button: toggle
channel lamp: lamp
channel siren: siren
channel lock: relay
rule light (priority 5): lamp steady when lamp-button; if lost, does not apply
rule loud (priority 5): siren steady when siren-button and fast; if lost, does not apply
rule shut (priority 5): lock steady when fast; if lost, does not apply
rule forget (priority 1): lamp-button release when fast; if lost, does not apply
"""


def test_a_button_that_what_still_runs_on_lets_go_is_pressed_again() -> None:
    compiled = compile_schedule(parse_schedule(RUNNING_ON))

    plan = plan_test(compiled)

    reached = {step.setting for step in plan.steps}
    wanted = {setting_of_numbers(compiled.schedule.inputs, look.numbers) for look in plan.looks}
    assert any(("lamp-button", "on") in setting.away for setting in wanted)
    assert wanted <= reached
    assert measure_plan(compiled, plan).score_ratio == 1
