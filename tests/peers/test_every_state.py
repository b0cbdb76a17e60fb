"""Every state of small schedules with timers, looked at beside the solver's proofs."""

from random import Random

from builds.engineering.functions.compiled import compile_schedule
from builds.engineering.functions.every_state import look_everywhere
from builds.engineering.functions.proof import Verdict, broken_literal, prove_claims
from tests.engineering.functions.random_schedules import random_schedule


def test_it_comes_to_what_the_proofs_come_to() -> None:
    """Two ways: the solver with what it learns of timers, and every state one after the other."""
    compared = refuted = 0
    for seed in range(90):
        compiled = compile_schedule(random_schedule(Random(seed), inputs=3, rules=4, channels=3, claims=4, timers=True))
        for result in prove_claims(compiled):
            found = look_everywhere(compiled, (broken_literal(compiled, result.claim),))
            if found is None:
                continue
            assert result.verdict is (Verdict.PROVED if found.trace is None else Verdict.REFUTED), (
                seed,
                result.claim.key,
            )
            if result.counterexample is not None:
                rest = tuple(own.values.index(own.rest) for own in compiled.leaves)
                away = [number != at_rest for number, at_rest in zip(found.numbers, rest, strict=True)]
                assert result.counterexample.is_smallest
                assert result.counterexample.setting.away_count == sum(away), (seed, result.claim.key)
                refuted += 1
            compared += 1
    assert compared >= 150
    assert 40 <= refuted <= compared - 20
