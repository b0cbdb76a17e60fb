"""Claims proved and refuted as looking at every setting proves and refutes them, and the counterexamples are the smallest."""

from collections.abc import Iterator
from random import Random

import pytest

from builds.engineering.functions.compiled import CompiledSchedule, compile_schedule
from builds.engineering.functions.proof import Verdict, broken_literal, prove_claims
from builds.engineering.functions.reachable import play
from builds.engineering.functions.running import Run
from builds.engineering.functions.schedule import FunctionSchedule
from builds.engineering.functions.settings import setting_of_numbers
from tests.engineering.functions.brute_force import EverySetting
from tests.engineering.functions.every_moment import EveryMoment, has_release
from tests.engineering.functions.random_schedules import random_schedule

# Numbers of inputs of the 500 schedules; a setting of 14 inputs is one of 5 to 60 million.
SIZES = (3, 4, 5, 6, 7, 8) * 80 + (9, 10) * 8 + (11, 12, 13, 14)


def disagreements(schedule: FunctionSchedule) -> list[str]:
    every = EverySetting(schedule)
    found = []
    for result in prove_claims(compile_schedule(schedule)):
        expected = every.smallest(every.broken(result.claim))
        got = dict(result.counterexample.setting.away) if result.counterexample else None
        if got != expected or result.verdict is not (Verdict.PROVED if expected is None else Verdict.REFUTED):
            found.append(f"{result.claim.key}: {result.verdict} {got}, expected {expected}")
    return found


def test_500_schedules_agree_with_every_setting_looked_at() -> None:
    assert len(SIZES) == 500

    for seed, inputs in enumerate(SIZES):
        schedule = random_schedule(Random(seed), inputs=inputs, claims=2)

        assert disagreements(schedule) == [], f"seed {seed}"


def test_the_looking_finds_claims_of_both_kinds() -> None:
    broken = [
        bool(every.broken(claim))
        for seed in range(40)
        for every in [EverySetting(random_schedule(Random(seed), inputs=4))]
        for claim in every.schedule.claims
    ]

    assert 30 < sum(broken) < 100 < len(broken)


def timed_schedules(seeds: range) -> list[FunctionSchedule]:
    schedules = []
    for seed in seeds:
        random = Random(seed)
        inputs = random.choice((1, 2, 2))
        schedule = random_schedule(random, inputs=inputs, rules=4, channels=3, timers=True)
        if not has_release(schedule) and 1 <= len(EveryMoment(schedule).nodes) <= 2:
            schedules.append(schedule)
    return schedules


def timed_disagreements(schedule: FunctionSchedule) -> list[str]:
    expected = EveryMoment(schedule).broken_away(schedule.claims)
    found = []
    for result, away in zip(prove_claims(compile_schedule(schedule)), expected, strict=True):
        got = result.counterexample.setting.away_count if result.counterexample else None
        if got != away or result.verdict is Verdict.OPEN:
            found.append(f"{result.claim.key}: {result.verdict} {got}, expected {away}")
    return found


def test_timed_schedules_agree_with_every_moment_walked_through() -> None:
    schedules = timed_schedules(range(200))
    assert len(schedules) > 40

    for schedule in schedules:
        assert timed_disagreements(schedule) == []


@pytest.mark.slow
def test_many_timed_schedules_agree_with_every_moment_walked_through() -> None:
    for schedule in timed_schedules(range(200, 900)):
        assert timed_disagreements(schedule) == []


def breaks_at_the_end(compiled: CompiledSchedule) -> list[bool]:
    """Whether each counterexample, played on the evaluator, ends in its setting and breaks its claim there."""
    played = []
    for result in prove_claims(compiled):
        if result.counterexample is not None:
            broken = broken_literal(compiled, result.claim)
            run = play(compiled, result.counterexample.trace, only=(broken,))
            played.append(bool(run.values[broken]) and run.setting == result.counterexample.setting)
    return played


def test_every_counterexample_is_real_when_played() -> None:
    played = [
        real
        for seed in range(120)
        for real in breaks_at_the_end(compile_schedule(random_schedule(Random(seed), inputs=5, timers=True)))
    ]

    assert len(played) > 100
    assert all(played)


def walked_at_random(compiled: CompiledSchedule, random: Random, followed: list[int], *, steps: int) -> Iterator[Run]:
    """The run after each of many changes and waits, most of them near the times of the timers."""
    inputs = compiled.schedule.inputs
    allowed = compiled.allowed
    run = Run.wake(compiled, only=(allowed, *followed))
    for _ in range(steps):
        before = run.copy()
        numbers = list(run.numbers)
        for place in random.sample(range(len(inputs)), random.choice((0, 1, 1, 2))):
            numbers[place] = random.randrange(len(inputs[place].values))
        run.set(setting_of_numbers(inputs, numbers))
        if not run.values[allowed]:  # a given says that the vehicle never does this
            run = before
        run.advance(run.now_ms + random.choice((0, 1, 999, 1000, 1001, 2000, 3000)))
        yield run


def test_no_walk_at_random_breaks_a_claim_that_is_proved() -> None:
    checked = broken_seen = 0
    for seed in range(120):
        random = Random(seed)
        compiled = compile_schedule(random_schedule(random, inputs=3, rules=8, channels=4, claims=4, timers=True))
        results = [(one, broken_literal(compiled, one.claim)) for one in prove_claims(compiled)]
        for run in walked_at_random(compiled, random, [literal for _, literal in results], steps=60):
            broken = [one for one, literal in results if run.values[literal]]
            assert all(one.verdict is Verdict.REFUTED for one in broken), f"seed {seed}"
            broken_seen += len(broken)
        checked += sum(one.verdict is Verdict.PROVED for one, _ in results)

    assert checked > 100 and broken_seen > 1000


def test_claims_of_schedules_with_timers_and_releases_are_decided_and_smallest() -> None:
    results = [
        result
        for seed in range(50_000, 50_300)
        for result in prove_claims(
            compile_schedule(random_schedule(Random(seed), inputs=3, rules=8, channels=4, claims=4, timers=True))
        )
    ]

    assert len(results) == 1200
    assert [one.claim.key for one in results if one.verdict is Verdict.OPEN] == []
    assert [one.claim.key for one in results if one.counterexample and not one.counterexample.is_smallest] == []
