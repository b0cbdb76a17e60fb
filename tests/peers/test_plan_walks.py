"""Plans with timers and with buttons that rules let go: walks that show everything, beside the shortest that do."""

from collections.abc import Iterator
from random import Random

import pytest

from builds.engineering.functions.compiled import compile_schedule
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.plan import plan_test
from builds.engineering.functions.running import Run
from builds.engineering.functions.schedule import FunctionSchedule
from builds.engineering.functions.stepping import is_walk
from tests.engineering.functions.exact_walk import fewest_steps, missed_by
from tests.engineering.functions.random_schedules import random_schedule


def walks(seeds: range) -> Iterator[FunctionSchedule]:
    """Schedules of 3 to 14 inputs with timers, or with buttons that rules let go."""
    for seed in seeds:
        for inputs, rules in ((3, 5), (5, 5), (8, 4), (14, 4)):
            schedule = random_schedule(Random(seed), inputs=inputs, claims=0, rules=rules, channels=4, timers=True)
            if is_walk(compile_schedule(schedule)):
                yield schedule


@pytest.mark.slow
def test_plans_with_timers_and_releases_are_at_most_half_as_long_again_as_the_exact_minimum() -> None:
    made = measured = longer = 0
    for schedule in walks(range(36)):
        plan, fewest = plan_test(compile_schedule(schedule)), fewest_steps(compile_schedule(schedule))
        made += 1
        if fewest is None or plan.traces:
            continue  # not proved in time, or something shows only on waking or on quick changes, and by no step

        assert plan.at_least <= fewest <= plan.settings <= 1.5 * fewest

        measured += 1
        longer += plan.settings > fewest

    assert measured >= 100
    assert measured > 0.75 * made
    assert longer <= 0.1 * measured


def test_the_steps_of_a_plan_with_timers_show_all_there_is_to_show() -> None:
    for schedule in walks(range(40, 46)):
        compiled = compile_schedule(schedule)
        plan = plan_test(compiled)
        missed = missed_by(compile_schedule(schedule), plan)

        assert missed == []


def test_what_shows_only_while_a_timer_runs_is_looked_at_on_the_course_of_a_step() -> None:
    schedule = parse_schedule("""
input b: push
channel x: lamp
rule a (priority 1): x steady when at most 10 s after b; if lost, does not apply
""")

    plan = plan_test(compile_schedule(schedule))

    assert not plan.traces
    assert plan.unheeded == ()
    assert any(look.looks_ms for look in plan.looks)


def test_two_runs_give_the_same_walk() -> None:
    for schedule in walks(range(50, 53)):
        one, other = plan_test(compile_schedule(schedule)), plan_test(compile_schedule(schedule))

        assert (one.steps, one.looks, one.traces) == (other.steps, other.looks, other.traces)


def test_every_step_of_a_walk_expects_what_the_schedule_does_there() -> None:
    for schedule in walks(range(50, 56)):
        plan = plan_test(compile_schedule(schedule))
        run = Run.wake(compile_schedule(schedule))

        for step in plan.steps:
            if step.acts:
                run.set(step.by_hand)
            run.advance(run.now_ms + step.wait_ms)
            assert run.outcomes() == step.outcomes
            assert run.setting == step.setting
