"""Every state of small schedules with timers, where nothing shorter decides a claim."""

import pytest

from builds.engineering.functions.compiled import compile_schedule
from builds.engineering.functions.every_state import look_everywhere
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.proof import Verdict, broken_literal, prove_claims
from builds.engineering.functions.running import Run

WINDOW = """
input fast: signal; wire C0; rest on
given g0: fast is not lost
input brake: signal; wire C1; rest on
given g1: brake is not lost
input scene: latching
given g2: scene is not lost
channel lamp: lamp; load L1
rule r0 (priority 20): scene release when at most 1 s after (brake and scene is off); if lost, does not apply
rule r1 (priority 10): scene release when not fast and at most 1 s after (brake is off); if lost, does not apply
rule r2 (priority 10): scene release when brake is off; if lost, does not apply
claim never-on: always scene is off
"""
WINDOW_IN_WINDOW = """
input park: signal; wire C0
given g0: park is not lost
input scene: latching
given g1: scene is not lost
channel lamp: lamp; load L1
rule r0 (priority 30): scene release when (scene for at most 2 s) for at most 1 s; if lost, does not apply
rule r1 (priority 30): lamp steady when (park for at most 2 s) for at least 1500 ms; if lost, does not apply
claim never-on: never scene is on
"""


@pytest.mark.parametrize(("text", "verdict"), [(WINDOW, Verdict.REFUTED), (WINDOW_IN_WINDOW, Verdict.PROVED)])
def test_claims_on_buttons_that_windows_let_go_are_decided(text: str, verdict: Verdict) -> None:
    (result,) = prove_claims(compile_schedule(parse_schedule(text)))

    assert result.verdict is verdict


def test_a_sequence_to_the_state_found_is_played_by_the_evaluator() -> None:
    compiled = compile_schedule(parse_schedule(WINDOW))
    found = look_everywhere(compiled, (broken_literal(compiled, compiled.schedule.claims[0]),))
    assert found is not None and found.trace is not None

    run = Run.wake(compiled)
    for step in found.trace.steps:
        run.advance(step.at_ms)
        run.set(step.setting)
    run.advance(found.trace.look_ms)

    assert run.setting.away == (("scene", "on"),)
