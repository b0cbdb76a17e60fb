"""
A bound below every plan of a schedule with timers: the fewest steps from rest that show everything.

A plan goes from setting to setting. Each step is a change from a settled setting to another, looked at right after it and
again once it has settled. CP-SAT finds the fewest such steps that show all there is to show, each beginning where as many
end: a plan is such a walk in one piece, so it has as many steps or more.
"""

from itertools import product

import numpy as np
from ortools.sat.python import cp_model

from builds.engineering.functions.appearances import channel_logics
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.gates import Literal
from builds.engineering.functions.goals import goals_of
from builds.engineering.functions.looks import Batch, rows_of_settings
from builds.engineering.functions.mutants import can_stick
from builds.engineering.functions.telling_apart import stuck_literal
from builds.engineering.functions.vocabulary import ON
from tests.engineering.functions.exact_cover import Rows, bits

MOST_REPEATED = 2


def fewest_steps(compiled: CompiledSchedule) -> int:
    """The fewest steps; an assertion fails where CP-SAT does not prove it in time."""
    demands, possible, rest = step_demands(compiled)
    count = len(possible)
    model = cp_model.CpModel()
    steps = {
        (one, other): model.new_int_var(0, MOST_REPEATED, f"{one} {other}")
        for one in np.flatnonzero(possible)
        for other in np.flatnonzero(possible)
    }
    for place in np.flatnonzero(possible):
        begun = sum(step for (one, _), step in steps.items() if one == place)
        ended = sum(step for (_, other), step in steps.items() if other == place)
        model.add(begun <= ended + (1 if place == rest else 0))
    for row in demands:
        model.add(sum(steps[divmod(int(step), count)] for step in np.flatnonzero(row)) >= 1)
    model.minimize(sum(steps.values()))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = 30
    solver.parameters.num_workers = 1
    solver.parameters.linearization_level = 2
    status = solver.solve(model)
    assert status == cp_model.OPTIMAL, solver.status_name(status)
    return round(solver.objective_value)


def shown_by_some_step(compiled: CompiledSchedule, literal: Literal) -> bool:
    """Whether some step shows a goal, right after its change or once settled."""
    settled = every_setting(compiled)
    before, after = paired(settled)
    still, moved = settled.settled(compiled), after.after(compiled, before)
    possible = bits(still[compiled.possible], settled.count) > 0
    steps = np.logical_and.outer(possible, possible).ravel() & (bits(moved[compiled.possible], after.count) > 0)
    return bool(
        (bits(still[literal], settled.count) > 0)[possible].any()
        or (bits(moved[literal], after.count) > 0)[steps].any()
    )


def every_setting(compiled: CompiledSchedule) -> Batch:
    return rows_of_settings(compiled, list(product(*(range(len(one.values)) for one in compiled.leaves))))


def step_demands(compiled: CompiledSchedule) -> tuple[list[Rows], Rows, int]:
    """Rows of the steps that show each thing some step shows; the settings that can be; the place of rest."""
    wanted = wanted_of(compiled)  # its gates are made before any is computed
    settled = every_setting(compiled)
    before, after = paired(settled)
    still, moved = settled.settled(compiled), after.after(compiled, before)
    possible = bits(still[compiled.possible], settled.count) > 0
    steps = np.logical_and.outer(possible, possible).ravel() & (bits(moved[compiled.possible], after.count) > 0)
    rows = []
    for literal, latch, changes in wanted:
        row = np.tile(bits(still[literal], settled.count) > 0, settled.count)
        if changes:
            row = row | (bits(moved[literal], after.count) > 0)
        if latch >= 0:
            on = compiled.leaves[latch].literal(ON)
            row = (bits(moved[literal], after.count) > 0) & (bits(before.rows[on], before.count) > 0)
        rows.append(row & steps)
    numbers = [one.values.index(one.rest) for one in compiled.leaves]
    rest = 0
    for one, number in zip(compiled.leaves, numbers, strict=True):
        rest = rest * len(one.values) + number
    different = {row.tobytes(): row for row in rows if row.any()}
    return list(different.values()), possible, rest


def wanted_of(compiled: CompiledSchedule) -> list[tuple[Literal, int, bool]]:
    """What a plan has to show: where, the button that was on before (-1 for none), and whether a change may show it."""
    wanted = [(goal.literal, goal.latch, True) for goal in goals_of(compiled)]
    logics = [logic.shows for logic in channel_logics(compiled)]
    gates = compiled.gates
    for number, one in enumerate(logics):
        for other in logics[number + 1 :]:
            apart = gates.any_of(gates.all_of((shown, -other.get(look, -1))) for look, shown in one.items())
            wanted.append((apart, -1, True))
    stuck = [
        stuck_literal(compiled, (number, value), settled=True)
        for number, part in enumerate(compiled.schedule.inputs)
        for value, word in enumerate(part.values)
        if can_stick(part, word)
    ]
    return [*wanted, *((literal, -1, False) for literal in stuck)]


def paired(every: Batch) -> tuple[Batch, Batch]:
    """Every setting before every setting."""
    before, after = {}, {}
    for leaf, row in every.rows.items():
        own = bits(row, every.count)
        before[leaf] = packed(np.repeat(own, every.count))
        after[leaf] = packed(np.tile(own, every.count))
    return Batch(before, every.count**2), Batch(after, every.count**2)


def packed(row: Rows) -> int:
    return int.from_bytes(np.packbits(row, bitorder="little").tobytes(), "little")
