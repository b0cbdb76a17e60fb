"""
Findings about steps of the shedding that go off again and again, told apart by what brings them back.

A step that nothing but its own going off brings back chatters: letting go lifts the voltage, and it is restored into the same
lack. One that charging brings back does what it is meant to, only too often: it follows the engine through its stops.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from builds.engineering.assessing.duty_results import ProfileRun
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.words import hours, volts
from builds.engineering.catalogue import found
from builds.engineering.design import ShedStep
from builds.engineering.electrical.energy.posts import Supply
from builds.engineering.electrical.energy.run_records import Event, EventKind
from builds.engineering.electrical.energy.stages import Stage
from builds.engineering.electrical.energy.timers import MOST_CYCLES
from builds.engineering.findings import Change, Finding, Number, ProposedFix

__all__ = ["chatter_findings"]

_LONGEST_DELAY_S = 86_400.0  # the most that a step's delay may be


@dataclass(frozen=True, slots=True)
class _Round:
    """A step's going off, its return and its going off again, all within one segment."""

    off: Event
    back: Event
    again: Event


def chatter_findings(index: IndexedDesign, done: ProfileRun) -> Iterator[Finding]:
    """Yield steps that go off again and again, once for each cause, of the segment in which it happens most often."""
    for step in index.design.shed_steps:
        by_segment: dict[str, list[_Round]] = {}
        for one in _rounds(done, step.key):
            by_segment.setdefault(done.plan.plan.stages[one.off.stage].segment, []).append(one)
        bank = next(rule.bank for rule in done.plan.plan.rules if rule.key == step.key)
        for from_outside, say in ((False, _by_letting_go), (True, _by_charging)):
            worst = max(
                (
                    (segment, [one for one in rounds if _charged_anew(done, one, bank) is from_outside])
                    for segment, rounds in by_segment.items()
                ),
                key=lambda pair: len(pair[1]),
                default=("", []),
            )
            if worst[1]:
                yield say(done, step, bank, *worst)


def _rounds(done: ProfileRun, step: str) -> Iterator[_Round]:
    stages = done.plan.plan.stages
    off: Event | None = None
    back: Event | None = None
    for event in done.run.events:
        if event.what != step:
            continue
        if event.kind is EventKind.SHED:
            if off and back and stages[off.stage].segment == stages[event.stage].segment:
                yield _Round(off, back, event)
            off, back = event, None
        elif event.kind is EventKind.RESTORED:
            back = event


def _charged_anew(done: ProfileRun, one: _Round, bank: int) -> bool:
    """Whether what charges the battery was another at some time between going off and coming back."""
    stages = done.plan.plan.stages
    charging = _charging(stages[one.off.stage], bank)
    return any(_charging(stage, bank) != charging for stage in stages[one.off.stage : one.back.stage + 1])


def _charging(stage: Stage, bank: int) -> tuple[Supply, ...]:
    return next((post.supplies for post in stage.posts if bank in post.banks), ())


def _times(rounds: list[_Round]) -> str:
    """How often it goes off; where it was kept off for that, at least so often."""
    count = len(rounds) + 1
    return f"at least {count}" if count >= MOST_CYCLES else str(count)


def _by_letting_go(done: ProfileRun, step: ShedStep, bank: int, segment: str, rounds: list[_Round]) -> Finding:
    stages, proposed_v = done.plan.plan.stages, _above_rest(done, step, bank, rounds)
    held = any(_charging(stages[one.back.stage], bank) for one in rounds)
    fix = ProposedFix(
        label=f"Restore above {volts(proposed_v)}",
        changes=(Change(subject=f"shed:{step.key}", field="on_above_v", value=proposed_v),),
    )
    return found(
        "shedding-chatters", f"shed:{step.key}", numbers=(Number(name="times", value=len(rounds) + 1.0, unit="1"),), fix=fix,
        profile=_named(done), step=step.key, count=_times(rounds), segment=segment, restore=volts(step.on_above_v),
        proposed=volts(proposed_v), what="a stronger source" if held else "a source",
    )  # fmt: skip


def _above_rest(done: ProfileRun, step: ShedStep, bank: int, rounds: list[_Round]) -> float:
    """A tenth of a volt above what the watched battery comes back to with the step off, and above what is set now."""
    plan, trace = done.plan.plan, done.run.trace
    at = max(int((trace.time_s <= rounds[0].off.at_s).sum()) - 1, 0)
    removed_ah = (1.0 - float(trace.charge_ratio[at, bank])) * plan.banks[bank].capacity_ah
    reached_v = max(float(trace.bank_v[_between(done, one), bank].max()) for one in rounds)
    highest_v = max(plan.banks[bank].rest_v(removed_ah), reached_v, step.on_above_v)
    return math.ceil((highest_v + 0.05) * 10) / 10


def _between(done: ProfileRun, one: _Round) -> slice:
    """The points of the trace from going off until coming back."""
    at_s = done.run.trace.time_s
    return slice(max(int((at_s < one.off.at_s).sum()) - 1, 0), int((at_s <= one.back.at_s).sum()))


def _by_charging(done: ProfileRun, step: ShedStep, bank: int, segment: str, rounds: list[_Round]) -> Finding:
    cranked = all(done.plan.plan.stages[event.stage].cranks for one in rounds for event in (one.off, one.again))
    if cranked:
        cause, remedy = "cranking pulls the battery down", "Let it ignore cranking."
        fix: ProposedFix | None = ProposedFix(
            label="Ignore cranking", changes=(Change(subject=f"shed:{step.key}", field="ignores_crank", value=True),)
        )
    else:
        delay_s = _longer_than_charging(step, rounds)
        cause = "charging brings it back, and ends again"
        fix = None if delay_s > _LONGEST_DELAY_S else ProposedFix(
            label=f"Restore after {hours(delay_s / 3600)}",
            changes=(Change(subject=f"shed:{step.key}", field="on_delay_s", value=delay_s),),
        )  # fmt: skip
        remedy = "Let it wait longer than a stop lasts before it goes off"
        remedy += f", or restore it only after {hours(delay_s / 3600)} of charging." if fix else "."
    return found(
        "shedding-follows-charging", f"shed:{step.key}", numbers=(Number(name="times", value=len(rounds) + 1.0, unit="1"),), fix=fix,
        profile=_named(done), step=step.key, count=_times(rounds), segment=segment, cause=cause, remedy=remedy,
    )  # fmt: skip


def _longer_than_charging(step: ShedStep, rounds: list[_Round]) -> float:
    """A delay [s], in whole minutes, that no return of these would have outlasted: from when the voltage was back to the next going off."""
    longest_s = max(one.again.at_s - one.back.at_s for one in rounds) + step.on_delay_s
    return 60.0 * (math.floor(longest_s / 60.0) + 1)


def _named(done: ProfileRun) -> str:
    return f"“{done.profile.name.strip() or done.profile.key}”"
