"""
A plan as a hand works it: waits that a watch can time, and which looks last long enough to be taken.

The plan's own moments are whole milliseconds. Here the schedule runs once more, with the waits as they are printed and the
time that looking takes; a step at which the lamps then do not show what the plan expects, or do not go on showing it while
somebody looks, is one for an instrument.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.evaluate import Outcome
from builds.engineering.functions.plan import TestPlan
from builds.engineering.functions.running import Run
from builds.engineering.functions.walking import PlanStep

__all__ = ["LOOK_MS", "HandStep", "steps_by_hand"]

LOOK_MS = 2000  # what it takes to walk the eye over the lamps: from memory, no published source
_MARGIN_MS = 1000
_MARGIN_PART = 50  # a wait is lengthened by one part in so many, or by the margin above
_SECOND_MS, _MINUTE_MS = 1000, 60_000
_IN_SECONDS_MS = 2 * _MINUTE_MS  # longer waits are whole minutes


@dataclass(frozen=True, slots=True)
class HandStep:
    """A step of a plan, the wait to print in whole seconds or minutes, and whether the look needs an instrument."""

    step: PlanStep
    wait_ms: int
    needs_instrument: bool


def steps_by_hand(compiled: CompiledSchedule, plan: TestPlan) -> tuple[HandStep, ...]:
    """
    Return the steps of a plan as a hand works them, one for each of the plan's.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    plan : TestPlan
        Its plan.
    """
    run = Run.wake(compiled)
    since_ms = 0  # the moment from which a wait is counted: the last act, or the last look
    found = []
    for step in plan.steps:
        if step.acts:
            run.set(step.by_hand)
            since_ms = run.now_ms
        tried = [(wait_ms, _looked_at(run, since_ms + wait_ms, step)) for wait_ms in _waits(step.wait_ms)]
        wait_ms, looked = next(((wait, then) for wait, then in tried if then is not None), (tried[0][0], None))
        found.append(HandStep(step, wait_ms, looked is None))
        since_ms = max(run.now_ms, since_ms + wait_ms)
        if looked is None:
            run.advance(since_ms + LOOK_MS)
        else:
            run = looked
    return tuple(found)


def _waits(wait_ms: int) -> Iterator[int]:
    """Waits a watch can time that stand for this one, with a margin first."""
    if not wait_ms:
        yield 0
        return
    ample_ms = wait_ms + max(_MARGIN_MS, wait_ms // _MARGIN_PART)
    unit_ms = _SECOND_MS if ample_ms < _IN_SECONDS_MS else _MINUTE_MS
    yield -(-ample_ms // unit_ms) * unit_ms
    yield -(-wait_ms // _SECOND_MS) * _SECOND_MS


def _looked_at(run: Run, at_ms: int, step: PlanStep) -> Run | None:
    """The run after a look at this moment, or as soon as may be; None where the lamps do not stand as expected all along."""
    then = run.copy()
    then.advance(max(then.now_ms, at_ms))
    expected = _shown(step.outcomes)
    until_ms = then.now_ms + LOOK_MS
    while _shown(then.outcomes()) == expected:
        if then.now_ms == until_ms:
            return then
        then.advance(min(then.next_event_ms() or until_ms, until_ms))
    return None


def _shown(outcomes: tuple[Outcome, ...]) -> tuple[object, ...]:
    return tuple(outcome.shows for outcome in outcomes)
