"""
The technician's test plan: settings in the order in which fewest controls change, with what every output does at each.

The plan is a sequence. A step changes inputs, waits, and looks. Its expected outcomes come from running the schedule
through the sequence, so what a step expects is what the schedule does then and not what a formula says it should do.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.covering import PlanSpace, cover_goals
from builds.engineering.functions.goals import Goal, GoalKind, goals_of
from builds.engineering.functions.looks import Look
from builds.engineering.functions.lower_bound import mutually_exclusive
from builds.engineering.functions.ordering import moves_between, order_settings, total_moves
from builds.engineering.functions.printing import print_name
from builds.engineering.functions.proof import SpaceInUse
from builds.engineering.functions.reachable import Trace
from builds.engineering.functions.telling_apart import add_apart, add_stuck, alike_in_time, unheeded_in_time
from builds.engineering.functions.walking import PlanStep, Walk, rest_numbers

__all__ = ["TestPlan", "goal_words", "plan_test", "with_more"]

Numbers = tuple[int, ...]


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
        alike = add_apart(compiled, looks, space)
        unheeded = add_stuck(compiled, looks, space)
        at_least = mutually_exclusive(compiled, cover.shown, looks, space)
    with SpaceInUse(compiled) as spaces:
        alike, telling = alike_in_time(spaces, alike)
        unheeded, noticing = unheeded_in_time(spaces, unheeded)
    channels, inputs = compiled.schedule.channels, compiled.schedule.inputs
    drafted = TestPlan(
        steps=(),
        goals=cover.shown,
        impossible=cover.impossible,
        settings=0,
        at_least=at_least,
        moves=0,
        moves_unordered=0,
        wait_ms=0,
        looks=(),
        alike=tuple(tuple(channels[channel].key for channel in group) for group in alike),
        unheeded=tuple((inputs[number].key, inputs[number].values[value]) for number, value in unheeded),
    )
    return with_more(compiled, drafted, looks=looks, traces=(*telling, *noticing))


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
    looks, traces = (*plan.looks, *looks), tuple(dict.fromkeys((*plan.traces, *traces)))
    walk = Walk(compiled)
    ordered = list(_ordered(walk.numbers, looks))
    for look in ordered:
        walk.take(look)
    for trace in traces:
        walk.follow(trace)
    settings = _visited(ordered)
    visited = [numbers for look in looks for numbers in ([look.before] if look.before else []) + [look.numbers]]
    return replace(
        plan,
        steps=tuple(walk.steps),
        settings=settings + sum(len(trace.steps) for trace in traces),
        moves=walk.moves,
        moves_unordered=total_moves(rest_numbers(compiled), visited),
        wait_ms=walk.run.now_ms,
        looks=looks,
        traces=traces,
    )


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


def _visited(looks: Sequence[Look]) -> int:
    """How many settings these looks visit, one after the other."""
    count, here = 0, None
    for look in looks:
        count += (look.before not in (None, here)) + (look.numbers != here or look.before is not None)
        here = look.numbers
    return count


def goal_words(compiled: CompiledSchedule, goal: Goal) -> str:
    """Return what a goal shows: "rule rear cut wins", "in rule rear cut, brake matters while it is not so"."""
    name = print_name(compiled.schedule.rules[goal.rule].key)
    match goal.kind:
        case GoalKind.WINS:
            return f"rule {name} decides"
        case GoalKind.LETS_GO:
            return f"rule {name} lets go"
        case _:
            return f"in rule {name}, “{goal.text}” {'being so' if goal.value else 'not being so'} decides"
