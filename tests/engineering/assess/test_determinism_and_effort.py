"""Equal designs give equal assessments, and the effort grows with the design as it should: counted, not timed."""

import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import partial

from builds.engineering.assess import assess
from builds.engineering.assessing import solving
from builds.engineering.design import Design
from tests.engineering.assess.designs import SOUND
from tests.engineering.assess.large_design import large_design
from tests.engineering.assess.plants import PLANTS

MOST_CALLS_A_CIRCUIT = 150  # Python calls that one more circuit with its loads may cost, all conditions together


def calls_of(work: Callable[[], object]) -> int:
    """How many Python functions are called while working."""
    count = 0

    def note(_frame: object, event: str, _argument: object) -> None:
        nonlocal count
        count += event == "call"

    sys.setprofile(note)
    try:
        work()
    finally:
        sys.setprofile(None)
    return count


def part_of(design: Design, circuits: int) -> Design:
    """The design with its first circuits and their loads only."""
    kept = design.circuits[:circuits]
    numbers = {circuit.number for circuit in kept}
    loads = tuple(load for load in design.loads if load.circuit in numbers)
    keys = {load.key for load in loads}
    conditions = tuple(
        replace(condition, uses=tuple(use for use in condition.uses if use.load in keys))
        for condition in design.conditions
    )
    return replace(design, circuits=kept, loads=loads, conditions=conditions)


def test_same_design_gives_the_same_assessment() -> None:
    assert assess(large_design()) == assess(large_design())
    for planted in PLANTS:
        assert assess(planted.design) == assess(planted.design)


def test_another_process_gives_the_same_text() -> None:
    script = "from tests.engineering.assess.designs import SOUND; from builds.engineering.assess import assess; print(assess(SOUND))"
    seed = "2" if os.environ.get("PYTHONHASHSEED") == "1" else "1"  # another than this process has
    run = subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONHASHSEED": seed},  # the same kernels of linear algebra: a last digit is theirs
    )

    assert run.stdout == f"{assess(SOUND)}\n"


def test_effort_grows_with_the_circuits_not_with_their_square() -> None:
    whole = large_design()
    assess(whole)  # tables read, surroundings known
    parts = {circuits: part_of(whole, circuits) for circuits in (30, 60, 120)}
    calls = {circuits: calls_of(partial(assess, part)) for circuits, part in parts.items()}

    assert calls[120] - calls[60] <= MOST_CALLS_A_CIRCUIT * 60
    assert (calls[120] - calls[60]) <= 2.2 * (calls[60] - calls[30])


def test_conditions_are_solved_together(monkeypatch: object) -> None:
    solved: list[int] = []
    solve = solving.solve_columns

    def counted(losses: solving.Losses, source_v: solving.Floats, asked: object, **more: bool) -> solving.Solved:
        solved.append(len(source_v))
        return solve(losses, source_v, asked, **more)  # type: ignore[arg-type]

    monkeypatch.setattr("builds.engineering.assessing.states.solve_columns", counted)  # type: ignore[attr-defined]
    assess(large_design())
    few = len(solved)
    solved.clear()
    more = large_design()
    again = tuple(replace(condition, key=f"{condition.key} again") for condition in more.conditions)
    assess(replace(more, conditions=(*more.conditions, *again)))

    assert len(solved) == few  # twice the columns in the same number of solutions
