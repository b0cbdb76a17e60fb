"""
The test of a function schedule as steps of the checklist: what to do at the controls, and how every lamp then stands.

Each step starts where the one before it left the controls. Its key is made of where they stand and how often they stood
there before, so a tick finds its step again when the schedule is edited around it.
"""

import hashlib
from collections import Counter
from collections.abc import Iterator

from builds.engineering.design import Design
from builds.engineering.functions.by_hand import HandStep
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.evaluate import Outcome
from builds.engineering.functions.printing import print_duration, print_name
from builds.engineering.functions.reports import hand_steps_of, report_of
from builds.engineering.functions.schedule import FunctionSchedule
from builds.engineering.functions.vocabulary import EffectKind
from builds.engineering.functions.words import listed, shown_words
from builds.engineering.step_plans import StepPlan
from builds.engineering.vocabulary import Phase, Place

__all__ = ["expected_lines", "function_steps"]

_WHY = "The controls are what the customer feels, and a swapped wire is not seen from outside."
_CAUTION = (
    "Before the first step: chock the wheels and apply the parking brake, keep everybody clear of what moves, protect the ears "
    "near a siren, do not look into lamps, and simulate the signals of a moving vehicle instead of driving. The vehicle "
    "maker's guide and the shop's own rules come first."
)
_FLEETING = (
    "This look is shorter than a hand can time: record it with an instrument, or write that it was not looked at."
)
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
    compiled = report_of(design.function_schedule).compiled
    if compiled is None:
        return
    seen: Counter[str] = Counter()
    before: tuple[Outcome, ...] = ()
    for number, hand in enumerate(hand_steps_of(design.function_schedule), start=1):
        step = hand.step
        place = f"{step.setting}, after {print_duration(step.wait_ms)}" if step.wait_ms else str(step.setting)
        seen[place] += 1
        key = hashlib.sha256(f"{place} {seen[place]}".encode()).hexdigest()[:12]
        yield StepPlan(
            key=f"function/{key}",
            title=_title(hand),
            why=_WHY,
            phase=Phase.TEST,
            place=Place.VEHICLE,
            subject="functions:schedule",
            instructions=(*_acts(hand, first=number == 1), *expected_lines(compiled, step.outcomes, before)),
        )
        before = step.outcomes


def _title(hand: HandStep) -> str:
    wait_ms = hand.step.wait_ms if hand.needs_instrument else hand.wait_ms
    waits = f"wait {print_duration(wait_ms)}" if wait_ms else "everything at rest"
    head = f"Function test{', with an instrument' if hand.needs_instrument else ''}: "
    acts = hand.step.acts
    if not acts:
        return f"{head}{waits}"
    for named in range(len(acts), 0, -1):
        more = f"; and {len(acts) - named} more, listed below" if named < len(acts) else ""
        title = f"{head}{'; '.join(acts[:named])}{more}"
        if len(title) <= _TITLE_LENGTH:
            return title
    return f"{head}work {len(acts)} control{'' if len(acts) == 1 else 's'}, listed below"


def _acts(hand: HandStep, *, first: bool) -> Iterator[str]:
    if first:
        yield _CAUTION
        yield "Begin with every control and signal at rest."
    for act in hand.step.acts:
        yield act[:1].upper() + act[1:] + "."
    if hand.needs_instrument:
        yield _FLEETING
        if hand.step.wait_ms:
            yield f"Look after {print_duration(hand.step.wait_ms)}."
    elif hand.wait_ms:
        waited = print_duration(hand.wait_ms)
        yield f"Wait {waited}." if hand.step.acts else f"Wait until {waited} after the look before."


def expected_lines(
    compiled: CompiledSchedule, outcomes: tuple[Outcome, ...], before: tuple[Outcome, ...] = ()
) -> tuple[str, ...]:
    """
    Return how every output has to stand, those that show the same together.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    outcomes : tuple of Outcome
        One per channel, in schedule order.
    before : tuple of Outcome, optional
        Those of the step before: what has gone off since is named.

    Returns
    -------
    tuple of str
        "On, flash slow: front-left and side-left", …, and last what is off.
    """
    groups: dict[str, list[str]] = {}
    off: list[str] = []
    vehicle: list[str] = []
    clocks_differ = (
        len({rule.effect.sync for rule in compiled.schedule.rules if rule.effect.kind is EffectKind.FLASH}) > 1
    )
    for outcome in outcomes:
        if outcome.is_lit:
            clock = (
                f", in step with clock {print_name(outcome.shows.sync)}" if clocks_differ and outcome.shows.sync else ""
            )
            groups.setdefault(f"{shown_words(compiled, outcome.shows)}{clock}", []).append(outcome.channel)
        elif outcome.shows.follows_vehicle:
            vehicle.append(outcome.channel)
        else:
            off.append(outcome.channel)
    lines = [f"On, {shown}: {_named(compiled.schedule, channels)}." for shown, channels in groups.items()]
    if vehicle:
        lines.append(f"As the vehicle asks: {_named(compiled.schedule, vehicle)}.")
    if off:
        was_lit = {outcome.channel for outcome in before if outcome.is_lit}
        lines.append(
            _off_line(off, [channel for channel in off if channel in was_lit], is_all=len(off) == len(outcomes))
        )
    return tuple(lines)


def _off_line(off: list[str], gone: list[str], *, is_all: bool) -> str:
    """What is off: by name where it is little or went off just now, the rest by number."""
    if len(off) <= _DARK_NAMED:
        return f"Off: {listed(map(print_name, off))}."
    named = f"{listed(map(print_name, gone))}" if gone else ""
    if is_all:
        return f"Off: everything, {named} too." if named else "Off: everything."
    rest = f"all {len(off) - len(gone)} others"
    return f"Off: {named}, and {rest}." if named and len(off) > len(gone) else f"Off: {named or rest}."


def _named(schedule: FunctionSchedule, channels: list[str]) -> str:
    """Channels by the name of the set that is just them, with its members, or one by one."""
    sets = {frozenset(one.channels): one.key for one in schedule.sets if len(one.channels) > 1}
    own = listed(map(print_name, channels))
    name = sets.get(frozenset(channels))
    return f"{print_name(name)} ({own})" if name else own
