"""
The test of a function schedule as steps of the checklist: what to do at the controls, and how every lamp then stands.

Each step starts where the one before it left the controls. Its key is made of where they stand and how often they stood
there before, so a tick finds its step again when the schedule is edited around it.
"""

import hashlib
from collections import Counter
from collections.abc import Iterator

from builds.engineering.design import Design
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.evaluate import Outcome
from builds.engineering.functions.printing import print_duration, print_name
from builds.engineering.functions.reports import plan_of, report_of
from builds.engineering.functions.schedule import FunctionSchedule
from builds.engineering.functions.walking import PlanStep
from builds.engineering.functions.words import listed, shown_words
from builds.engineering.step_plans import StepPlan
from builds.engineering.vocabulary import Phase, Place

__all__ = ["expected_lines", "function_steps"]

_WHY = "The controls are what the customer feels, and a swapped wire is not seen from outside."
_TITLE_LENGTH = 110
_DARK_NAMED = 6


def function_steps(design: Design) -> Iterator[StepPlan]:
    """
    Yield the steps that test a design's functions, in the order in which fewest controls change.

    Parameters
    ----------
    design : Design
        One without a schedule, or with one that cannot be read, has none.
    """
    plan, compiled = plan_of(design.function_schedule), report_of(design.function_schedule).compiled
    if plan is None or compiled is None:
        return
    seen: Counter[str] = Counter()
    for number, step in enumerate(plan.steps, start=1):
        place = f"{step.setting}, after {print_duration(step.wait_ms)}" if step.wait_ms else str(step.setting)
        seen[place] += 1
        key = hashlib.sha256(f"{place} {seen[place]}".encode()).hexdigest()[:12]
        yield StepPlan(
            key=f"function/{key}",
            title=_title(step),
            why=_WHY,
            phase=Phase.TEST,
            place=Place.VEHICLE,
            subject="functions:schedule",
            instructions=(*_acts(step, first=number == 1), *expected_lines(compiled, step.outcomes)),
        )


def _title(step: PlanStep) -> str:
    acts = "; ".join(step.acts) or (f"wait {print_duration(step.wait_ms)}" if step.wait_ms else "everything at rest")
    title = f"Function test: {acts}"
    return title if len(title) <= _TITLE_LENGTH else title[: _TITLE_LENGTH - 1].rstrip("; ") + "…"


def _acts(step: PlanStep, *, first: bool) -> Iterator[str]:
    if first:
        yield "Begin with every control and signal at rest."
    for act in step.acts:
        yield act[:1].upper() + act[1:] + "."
    if step.wait_ms:
        yield f"Wait {print_duration(step.wait_ms)}."


def expected_lines(compiled: CompiledSchedule, outcomes: tuple[Outcome, ...]) -> tuple[str, ...]:
    """
    Return how every output has to stand, those that show the same together.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    outcomes : tuple of Outcome
        One per channel, in schedule order.

    Returns
    -------
    tuple of str
        "On, flash slow: front-left and side-left", …, and last what is off.
    """
    groups: dict[str, list[str]] = {}
    off: list[str] = []
    vehicle: list[str] = []
    for outcome in outcomes:
        if outcome.is_lit:
            groups.setdefault(shown_words(compiled, outcome.shows), []).append(outcome.channel)
        elif outcome.shows.follows_vehicle:
            vehicle.append(outcome.channel)
        else:
            off.append(outcome.channel)
    lines = [f"On, {shown}: {_named(compiled.schedule, channels)}." for shown, channels in groups.items()]
    if vehicle:
        lines.append(f"As the vehicle asks: {_named(compiled.schedule, vehicle)}.")
    if off:
        named = listed(map(print_name, off)) if len(off) <= _DARK_NAMED else f"all {len(off)} others"
        lines.append(f"Off: {named if groups or len(off) <= _DARK_NAMED else 'everything'}.")
    return tuple(lines)


def _named(schedule: FunctionSchedule, channels: list[str]) -> str:
    """Channels by the name of the set that is just them, with its members, or one by one."""
    sets = {frozenset(one.channels): one.key for one in schedule.sets if len(one.channels) > 1}
    own = listed(map(print_name, channels))
    name = sets.get(frozenset(channels))
    return f"{print_name(name)} ({own})" if name else own
