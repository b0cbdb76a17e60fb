"""The exact minimum number of settled settings that show everything a plan has to show, by CP-SAT over every setting."""

from itertools import combinations

import numpy as np
from ortools.sat.python import cp_model

from builds.engineering.functions.appearances import channel_logics
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.gates import Literal
from builds.engineering.functions.goals import goals_of
from builds.engineering.functions.looks import Batch
from builds.engineering.functions.telling_apart import stuck_literal
from tests.engineering.functions.brute_force import EverySetting

Rows = np.ndarray


def every_batch(compiled: CompiledSchedule) -> Batch:
    every = EverySetting(compiled.schedule)
    rows = {
        leaf: every.columns[part.key, value]
        for part, own in zip(compiled.schedule.inputs, compiled.leaves, strict=True)
        for value, leaf in zip(part.values, own.literals, strict=True)
        if not compiled.gates.made_of[abs(leaf)]
    }
    return Batch(rows, every.rows)


def demands(compiled: CompiledSchedule) -> Rows:
    """One row per thing to show that some setting shows, one column per possible setting; alike columns once."""
    literals: list[Literal] = [goal.literal for goal in goals_of(compiled)]
    literals += [
        stuck_literal(compiled, (number, value))
        for number, one in enumerate(compiled.leaves)
        for value in range(len(one.values))
    ]
    for one, other in combinations([logic.shows for logic in channel_logics(compiled)], 2):
        literals.append(
            compiled.gates.any_of(compiled.gates.all_of((shown, -other.get(look, -1))) for look, shown in one.items())
        )
    batch = every_batch(compiled)
    values = batch.settled(compiled)
    possible = values[compiled.possible]
    rows = {values[literal] & possible for literal in literals} - {0}
    table = different_columns([bits(row, batch.count) for row in sorted(rows)])
    return table[:, undominated(table)]


def different_columns(rows: list[Rows]) -> Rows:
    """The rows as a table in which no column stands twice; columns are told apart 64 rows at a time."""
    number_of = np.zeros(len(rows[0]), np.uint64)
    for first in range(0, len(rows), 64):
        word = np.zeros(len(rows[0]), np.uint64)
        for place, row in enumerate(rows[first : first + 64]):
            word |= row.astype(np.uint64) << np.uint64(place)
        words, word_number = np.unique(word, return_inverse=True)
        _, number_of = np.unique(number_of * np.uint64(len(words)) + word_number.astype(np.uint64), return_inverse=True)
        number_of = number_of.astype(np.uint64)
    _, firsts = np.unique(number_of, return_index=True)
    return np.array([row[firsts] for row in rows])


def undominated(table: Rows) -> np.ndarray:
    """Columns that show something no other column shows all of; the others are never needed."""
    order = np.argsort(-table.sum(axis=0), kind="stable")
    kept: list[int] = []
    for column in order:
        larger = table[:, kept]
        if not kept or not (larger >= table[:, [column]]).all(axis=0).any():
            kept.append(int(column))
    return np.array(kept)


def bits(row: int, count: int) -> Rows:
    return np.unpackbits(np.frombuffer(row.to_bytes((count + 7) // 8, "little"), np.uint8), bitorder="little")[:count]


def fewest_settings(compiled: CompiledSchedule) -> int:
    """The exact minimum; an assertion fails where CP-SAT does not prove it in time."""
    table = demands(compiled)
    model = cp_model.CpModel()
    chosen = [model.new_bool_var(f"setting {column}") for column in range(table.shape[1])]
    for row in table:
        model.add_bool_or(chosen[column] for column in np.flatnonzero(row))
    model.minimize(sum(chosen))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = 30
    solver.parameters.num_workers = 1
    solver.parameters.linearization_level = 2  # a cover's relaxation is nearly whole
    status = solver.solve(model)
    assert status == cp_model.OPTIMAL, solver.status_name(status)
    return round(solver.objective_value)
