"""
A proven bound on the number of looks: goals of which no look shows two.

Each of such goals needs a look of its own, so no plan is shorter. The goals are gathered one by one, those that fewest
looks show first; the bound is what is found and not the most there could be.
"""

from collections.abc import Sequence

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.covering import PlanSpace
from builds.engineering.functions.goals import Goal
from builds.engineering.functions.looks import Look
from builds.engineering.functions.telling_apart import look_rows

__all__ = ["mutually_exclusive"]

_MOST_TRIED = 150


def mutually_exclusive(
    compiled: CompiledSchedule, goals: Sequence[Goal], looks: Sequence[Look], space: PlanSpace
) -> int:
    """
    Return how many goals were found of which no two can be shown by one look.

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
    literals = list(dict.fromkeys(goal.literal for goal in goals))
    rows = look_rows(compiled, looks, literals)
    literals.sort(key=lambda literal: (rows[literal].bit_count(), literal))
    found: list[int] = []
    taken = tried = 0
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
