"""
A proven bound on the number of settings: goals of which no setting shows two.

Each of such goals needs a setting of its own, so no plan is shorter. A setting is looked at right after the change to it
and again once it has settled; goals that rest on timers can be shown by one and not by the other, so they are left out. The goals are gathered one by one, those that fewest
looks show first, beginning anew from several of them; the bound is the most found and not the most there could be.
"""

from collections.abc import Mapping, Sequence

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.covering import PlanSpace
from builds.engineering.functions.gates import Literal
from builds.engineering.functions.goals import Goal, before_of
from builds.engineering.functions.looks import Look
from builds.engineering.functions.telling_apart import look_rows

__all__ = ["mutually_exclusive"]

_MOST_TRIED = 80
_STARTS = 8


def mutually_exclusive(
    compiled: CompiledSchedule, goals: Sequence[Goal], looks: Sequence[Look], space: PlanSpace
) -> int:
    """
    Return how many goals were found of which no two can be shown by one setting.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    goals : sequence of Goal
        Goals that can be shown.
    looks : sequence of Look
        A plan that shows them; two goals of one of its looks do not exclude each other, which spares most questions.
    space : PlanSpace
        Of the schedule.
    """
    timed = _timed_gates(compiled)
    literals = list(dict.fromkeys(goal.literal for goal in goals if abs(goal.literal) not in timed))
    rows = look_rows(compiled, looks, literals)
    literals.sort(key=lambda literal: (rows[literal].bit_count(), literal))
    starts = literals[:: max(1, len(literals) // _STARTS)][:_STARTS]
    least = 1 if goals else 0
    return max((least, *(_gathered(start, literals, rows, space) for start in starts)))


def _timed_gates(compiled: CompiledSchedule) -> set[int]:
    """The gates that a timer matters to, or how things stood before."""
    before = before_of(compiled)
    timed = {before.settled, *before.was, *before.was.values()}
    for gate, made_of in enumerate(compiled.gates.made_of):
        if any(abs(literal) in timed for literal in made_of):
            timed.add(gate)
    return timed


def _gathered(start: Literal, literals: Sequence[Literal], rows: Mapping[Literal, int], space: PlanSpace) -> int:
    """How many of these exclude each other, gathered one by one from one of them on."""
    found, taken, tried = [start], rows[start], 0
    for literal in literals:
        if tried >= _MOST_TRIED:
            break
        if rows[literal] & taken:
            continue
        tried += 1
        if all(space.exclude_each_other(literal, other) for other in found):
            found.append(literal)
            taken |= rows[literal]
    return len(found)
