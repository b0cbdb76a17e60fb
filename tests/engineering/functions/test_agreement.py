"""Claims proved and refuted as looking at every setting proves and refutes them, and the counterexamples are the smallest."""

from random import Random

import pytest

from builds.engineering.functions.compiled import CompiledSchedule, compile_schedule
from builds.engineering.functions.proof import Verdict, broken_literal, prove_claims
from builds.engineering.functions.reachable import play
from builds.engineering.functions.schedule import FunctionSchedule
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
