"""
The technician's test plan: settings in the order in which fewest controls change, with what every output does at each.

The plan is a sequence. A step changes inputs, waits, and looks. Its expected outcomes come from running the schedule
through the sequence, so what a step expects is what the schedule does then and not what a formula says it should do.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.covering import PlanSpace, cover_goals
from builds.engineering.functions.evaluate import numbers_of
from builds.engineering.functions.goals import Goal, GoalKind, goals_of
from builds.engineering.functions.looks import Look
from builds.engineering.functions.lower_bound import mutually_exclusive
from builds.engineering.functions.ordering import moves_between, order_settings, total_moves
from builds.engineering.functions.printing import print_title
from builds.engineering.functions.proof import SpaceInUse
from builds.engineering.functions.reachable import Trace
from builds.engineering.functions.step_table import demands_of, pairs_of
from builds.engineering.functions.stepping import is_walk, walked_looks
from builds.engineering.functions.telling_apart import (
    Stuck,
    add_apart,
    add_stuck,
    alike_in_time,
    every_stuck,
    unheeded_in_time,
)
from builds.engineering.functions.walking import PlanStep, Walk, rest_numbers

__all__ = ["TestPlan", "goal_words", "plan_test", "with_more"]

Numbers = tuple[int, ...]
_MOST_SHOWN = 600  # things to show; a schedule with more keeps the looks found one by one


@dataclass(frozen=True, slots=True, kw_only=True)
class TestPlan:
    """
    Steps in order, with what they show and what nothing can.

    ``settings`` counts the settings looked at, ``at_least`` is a proven bound below which no plan shows all goals (each of
    so many goals excludes all the others). ``moves`` counts changes of controls, ``moves_unordered`` what they would be in
    the order found. ``alike`` are groups of outputs that always show the same, ``unheeded`` inputs with values they may be stuck at
    without any output telling. ``looks`` and ``traces`` are what the steps were made from.
    """

    steps: tuple[PlanStep, ...]
    goals: tuple[Goal, ...]
    impossible: tuple[Goal, ...]
    settings: int
    at_least: int
    moves: int
    moves_unordered: int
    wait_ms: int
    looks: tuple[Look, ...]
    traces: tuple[Trace, ...] = ()
    alike: tuple[tuple[str, ...], ...] = ()
    unheeded: tuple[tuple[str, str], ...] = ()

    __test__ = False  # a plan of tests, and none itself


def plan_test(compiled: CompiledSchedule) -> TestPlan:
    """
    Return a test plan for a schedule.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.

    Returns
    -------
    TestPlan
        Every rule winning and every term mattering both ways wherever some state shows it, every two outputs told apart,
        every stuck input noticed. Two runs give the same.
    """
    goals = goals_of(compiled)
    with PlanSpace(compiled) as space:
        cover = cover_goals(compiled, goals, space)
        looks = list(cover.looks)
        by_look = add_apart(compiled, looks, space)
        unnoticed = add_stuck(compiled, looks, space)
        at_least = mutually_exclusive(compiled, cover.shown, looks, space)
    with SpaceInUse(compiled) as spaces:
        alike, telling = alike_in_time(spaces, by_look)
        unheeded, noticing = unheeded_in_time(spaces, unnoticed)
    found, traces = looks, [*telling.values(), *noticing.values()]
    if is_walk(compiled):
        looks = list(_ordered(rest_numbers(compiled), found))
        looks, traces = _walked(compiled, cover.shown, looks, by_look, unnoticed, telling, noticing)
    channels, inputs = compiled.schedule.channels, compiled.schedule.inputs
    drafted = TestPlan(
        steps=(),
        goals=cover.shown,
        impossible=cover.impossible,
        settings=0,
        at_least=at_least,
        moves=0,
        moves_unordered=total_moves(rest_numbers(compiled), _visited(found)),
        wait_ms=0,
        looks=(),
        alike=tuple(tuple(channels[channel].key for channel in group) for group in alike),
        unheeded=tuple((inputs[number].key, inputs[number].values[value]) for number, value in unheeded),
    )
    return with_more(compiled, drafted, looks=looks, traces=traces)


def _walked(
    compiled: CompiledSchedule,
    goals: Sequence[Goal],
    looks: list[Look],
    alike: Sequence[tuple[int, ...]],
    unnoticed: Sequence[Stuck],
    telling: Mapping[tuple[int, int], Trace],
    noticing: Mapping[Stuck, Trace],
) -> tuple[list[Look], list[Trace]]:
    """
    The looks of a short walk that shows what these looks do, and sequences for what no step of it shows; these looks where they are too many.

    ``alike`` and ``unnoticed`` are the outputs and inputs that no look tells of, the sequences those of them that time does.
    """
    count = len(compiled.schedule.channels)
    if len(goals) + count * (count - 1) // 2 > _MOST_SHOWN:
        return looks, [*telling.values(), *noticing.values()]
    noticed = [stuck for stuck in every_stuck(compiled) if stuck not in unnoticed]
    apart = pairs_of(count, alike)
    in_time = {demands_of(compiled, (), [pair], (), on_course=True)[0]: trace for pair, trace in telling.items()}
    in_time |= {demands_of(compiled, (), (), [stuck], on_course=True)[0]: trace for stuck, trace in noticing.items()}
    demands = [*demands_of(compiled, goals, apart, noticed), *in_time]
    further = [numbers_of(compiled, step.setting) for trace in in_time.values() for step in trace.steps]
    with PlanSpace(compiled) as space:
        walked = walked_looks(compiled, demands, looks, space, further)
    if walked is None:
        return looks, list(in_time.values())
    return list(walked.looks), [trace for demand, trace in in_time.items() if demand not in walked.on_course]


def with_more(
    compiled: CompiledSchedule, plan: TestPlan, *, looks: Sequence[Look] = (), traces: Sequence[Trace] = ()
) -> TestPlan:
    """
    Return a plan with more looks, ordered anew, and more sequences after them.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    plan : TestPlan
        Its plan.
    looks : sequence of Look
        Settings to look at.
    traces : sequence of Trace
        Each starts at rest and ends with a look.
    """
    more = looks if plan.looks else ()  # the first looks are counted already
    looks, traces = (*plan.looks, *looks), tuple(dict.fromkeys((*plan.traces, *traces)))
    walk = Walk(compiled)
    ordered = list(looks if is_walk(compiled) else _ordered(walk.numbers, looks))
    for look in ordered:
        walk.take(look)
    for trace in traces:
        walk.follow(trace)
    is_rest_looked_at = bool(ordered) and ordered[0] == replace(ordered[0], before=None, numbers=rest_numbers(compiled))
    return replace(
        plan,
        steps=tuple(walk.steps),
        settings=sum(bool(step.acts) for step in walk.steps) + is_rest_looked_at,
        moves=walk.moves,
        moves_unordered=plan.moves_unordered + total_moves(rest_numbers(compiled), _visited(more)),
        wait_ms=walk.run.now_ms,
        looks=looks,
        traces=traces,
    )


def _visited(looks: Sequence[Look]) -> list[Numbers]:
    """The settings of looks, one after the other."""
    return [numbers for look in looks for numbers in (look.before, look.numbers) if numbers is not None]


def _ordered(start: Numbers, looks: Sequence[Look]) -> Iterator[Look]:
    """
    The looks in an order in which few settings are visited and few controls changed.

    Settled settings that no change leads to come from the nearest place; a change is looked at where its setting before
    stands anyhow, a setting it leads to settles there, and what can go on from it does. Other changes come last.
    """
    changes = [look for look in looks if look.before is not None]
    ends = {look.numbers for look in changes} - {look.before for look in changes}
    settled: dict[Numbers, Look] = {}
    for look in looks:
        if look.before is None:
            settled[look.numbers] = _joined(settled.get(look.numbers, look), look)
    first = [numbers for numbers in settled if numbers not in ends]
    here = start
    for place in order_settings(start, first):
        if first[place] in settled:
            here = first[place]
            yield settled.pop(here)
        while (on := next((look for look in changes if look.before == here), None)) is not None:
            changes.remove(on)
            here = on.numbers
            yield on
            if here in settled:
                yield settled.pop(here)
    while changes:
        nearest = min(changes, key=lambda look: moves_between(here, look.before or look.numbers))
        changes.remove(nearest)
        here = nearest.numbers
        yield nearest
        if here in settled:
            yield settled.pop(here)
    yield from settled.values()


def _joined(one: Look, other: Look) -> Look:
    """One settled look that waits for what either waits for."""
    if one.waits_for is None or other.waits_for is None:
        return replace(one, waits_for=None)
    return replace(one, waits_for=one.waits_for | other.waits_for)


def goal_words(compiled: CompiledSchedule, goal: Goal) -> str:
    """Return what a goal shows: "rule rear cut wins", "in rule rear cut, brake matters while it is not so"."""
    name = print_title(compiled.schedule.rules[goal.rule].key)
    match goal.kind:
        case GoalKind.WINS:
            return f"rule {name} decides"
        case GoalKind.LETS_GO:
            return f"rule {name} lets go"
        case _:
            return f"in rule {name}, “{goal.text}” {'being so' if goal.value else 'not being so'} decides"
