"""
Schedules with one fault, and how many of them a test plan notices.

The faults are those of a shop: two outputs on each other's terminals, an input that is stuck, a term left out of a
condition, two priorities or two patterns exchanged, a timer half or half as much again as long as it should be. A fault
that changes nothing anybody could ever see is no fault: the solver proves which those are, and they are counted apart.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import combinations

from builds.engineering.functions.conditions import (
    After,
    AllOf,
    AnyOf,
    Condition,
    ForAtLeast,
    ForAtMost,
    InputIs,
    Not,
    children,
)
from builds.engineering.functions.names import names_of
from builds.engineering.functions.printing import print_condition, print_name, print_title
from builds.engineering.functions.schedule import FunctionSchedule, Rule

__all__ = ["Mutant", "MutantKind", "mutants_of"]


class MutantKind(StrEnum):
    """What is wrong with a mutant."""

    OUTPUTS_EXCHANGED = "outputs exchanged"
    INPUT_STUCK = "input stuck"
    TERM_DROPPED = "term dropped"
    PRIORITIES_EXCHANGED = "priorities exchanged"
    PATTERNS_EXCHANGED = "patterns exchanged"
    TIMER_OFF = "timer off by half"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutant:
    """
    One fault in words, and the schedule with it.

    For a stuck input ``schedule`` is the original and ``stuck`` names the input and its value; for exchanged outputs it is
    the original too and ``exchanged`` numbers the channels.
    """

    kind: MutantKind
    words: str
    schedule: FunctionSchedule
    stuck: tuple[int, int] | None = None
    exchanged: tuple[int, int] | None = None


def mutants_of(schedule: FunctionSchedule) -> Iterator[Mutant]:
    """
    Yield every schedule that differs from this one by one fault.

    Parameters
    ----------
    schedule : FunctionSchedule
        With names as declared.
    """
    yield from _outputs_exchanged(schedule)
    yield from _inputs_stuck(schedule)
    yield from _terms_dropped(schedule)
    yield from _priorities_exchanged(schedule)
    yield from _patterns_exchanged(schedule)
    yield from _timers_off(schedule)


def _outputs_exchanged(schedule: FunctionSchedule) -> Iterator[Mutant]:
    for one, other in combinations(range(len(schedule.channels)), 2):
        words = " and ".join(print_name(schedule.channels[number].key) for number in (one, other))
        yield Mutant(kind=MutantKind.OUTPUTS_EXCHANGED, words=words, schedule=schedule, exchanged=(one, other))


def _inputs_stuck(schedule: FunctionSchedule) -> Iterator[Mutant]:
    for number, part in enumerate(schedule.inputs):
        for place, value in enumerate(part.values):
            words = f"{print_name(part.key)} at {value}"
            yield Mutant(kind=MutantKind.INPUT_STUCK, words=words, schedule=schedule, stuck=(number, place))


def _terms_dropped(schedule: FunctionSchedule) -> Iterator[Mutant]:
    for number, rule in enumerate(schedule.rules):
        for dropped, condition in _without_one_leaf(schedule, rule.condition):
            words = f"{print_condition(dropped)} in rule {print_title(rule.key)}"
            changed = _with_rule(schedule, number, replace(rule, condition=condition))
            yield Mutant(kind=MutantKind.TERM_DROPPED, words=words, schedule=changed)


def _without_one_leaf(schedule: FunctionSchedule, condition: Condition) -> Iterator[tuple[Condition, Condition]]:
    """Each leaf with the condition that is left without it; one whose only leaf is gone always holds."""
    for leaf, left in _dropped(condition):
        if left is None:
            name = next(part.input for part in [leaf] if isinstance(part, InputIs))
            values = next(part.values for part in schedule.inputs if part.key == name)
            left = InputIs(input=name, values=values)  # noqa: PLW2901 - every value: always true
        yield leaf, left


def _dropped(condition: Condition) -> Iterator[tuple[Condition, Condition | None]]:
    match condition:
        case AllOf(terms=terms) | AnyOf(terms=terms):
            for place, term in enumerate(terms):
                for leaf, left in _dropped(term):
                    rest = (*terms[:place], *(() if left is None else (left,)), *terms[place + 1 :])
                    yield leaf, rest[0] if len(rest) == 1 else replace(condition, terms=rest)
        case Not(term=term) | ForAtLeast(term=term) | ForAtMost(term=term) | After(term=term):
            for leaf, left in _dropped(term):
                yield leaf, None if left is None else replace(condition, term=left)
        case _:
            yield condition, None


def _priorities_exchanged(schedule: FunctionSchedule) -> Iterator[Mutant]:
    names = names_of(schedule)
    latches = {part.key for part in schedule.inputs}
    channels = [
        {member for target in rule.targets if target not in latches for member in names.members(target)}
        for rule in schedule.rules
    ]
    for one, other in combinations(range(len(schedule.rules)), 2):
        first, second = schedule.rules[one], schedule.rules[other]
        if first.priority != second.priority and channels[one] & channels[other]:
            changed = _with_rule(schedule, one, replace(first, priority=second.priority))
            changed = _with_rule(changed, other, replace(second, priority=first.priority))
            words = f"of rules {print_title(first.key)} and {print_title(second.key)}"
            yield Mutant(kind=MutantKind.PRIORITIES_EXCHANGED, words=words, schedule=changed)


def _patterns_exchanged(schedule: FunctionSchedule) -> Iterator[Mutant]:
    for one, other in combinations(schedule.patterns, 2):
        steps = {one.key: other.steps, other.key: one.steps}
        patterns = tuple(replace(part, steps=steps.get(part.key, part.steps)) for part in schedule.patterns)
        words = f"{print_name(one.key)} and {print_name(other.key)}"
        changed = replace(schedule, patterns=patterns)
        yield Mutant(kind=MutantKind.PATTERNS_EXCHANGED, words=words, schedule=changed)


def _timers_off(schedule: FunctionSchedule) -> Iterator[Mutant]:
    for number, rule in enumerate(schedule.rules):
        for timer, condition in _mistimed(rule.condition):
            words = f"{print_condition(timer)} in rule {print_title(rule.key)}"
            changed = _with_rule(schedule, number, replace(rule, condition=condition))
            yield Mutant(kind=MutantKind.TIMER_OFF, words=words, schedule=changed)


def _mistimed(condition: Condition) -> Iterator[tuple[Condition, Condition]]:
    """The condition with one of its timers half, or half as much again, as long; the wrong timer first."""
    if isinstance(condition, ForAtLeast | ForAtMost | After):
        for part in (0.5, 1.5):
            timer = replace(condition, duration_ms=max(1, round(condition.duration_ms * part)))
            yield timer, timer
    for place, term in enumerate(children(condition)):
        for wrong, inner in _mistimed(term):
            yield wrong, _with_child(condition, place, inner)


def _with_child(condition: Condition, place: int, child: Condition) -> Condition:
    match condition:
        case AllOf(terms=terms) | AnyOf(terms=terms):
            return replace(condition, terms=(*terms[:place], child, *terms[place + 1 :]))
        case Not() | ForAtLeast() | ForAtMost() | After():
            return replace(condition, term=child)
        case _:
            raise AssertionError("a leaf has no parts")


def _with_rule(schedule: FunctionSchedule, number: int, rule: Rule) -> FunctionSchedule:
    return replace(schedule, rules=(*schedule.rules[:number], rule, *schedule.rules[number + 1 :]))
