"""
A day of use simulated for a build of four hundred loads: forty switching instants found, every ampere-hour accounted for.

The day goes to and fro between standing by with the engine off, where two steps of the shedding let go one after the other,
and searching by road, which brings both back. Reading the design into its solved distribution is on neither side; what the
loads take with this or that switched off is, wiring and all. The peer is the same day in steps of one second,
by the simplest rule there is; a step has to be as short as the instants of switching are to be exact.
"""

import time
from collections.abc import Callable
from dataclasses import replace

from builds.engineering.assessing.duty_plan import DutyPlan, duty_plan
from builds.engineering.assessing.indexed import index_design
from builds.engineering.assessing.states import solve_states
from builds.engineering.design import Design, DutyProfile, DutySegment, ShedStep
from builds.engineering.document import read_document
from builds.engineering.electrical.energy.moments import Circumstances, first_state
from builds.engineering.electrical.energy.run_records import EnergyRun
from builds.engineering.electrical.energy.simulation import simulate
from builds.management.benchmarks import Figure
from builds.management.benchmarks.large_build import document_of

__all__ = ["measure"]

LOADS, ROUNDS, LEAST_SWITCHINGS, MOST_MS = 400, 5, 40, 300.0
_TURNS = 10
_STANDING_MIN, _DRIVING_MIN = 60.0, 84.0


def measure(say: Callable[[str], None]) -> list[Figure]:
    """Return milliseconds of this thread for a day, and how many times as long small fixed steps take."""
    design = _day(read_document(document_of(LOADS)))
    index = index_design(design)
    network = solve_states(index)

    def run() -> tuple[DutyPlan, EnergyRun]:
        plan = duty_plan(index, network, design.duty_profiles[0])
        assert plan is not None
        return plan, simulate(plan.plan, plan.laws_of)

    plan, done = run()
    ours_ms = min(_ms(run) for _ in range(ROUNDS))
    accounts = done.accounts
    say(f"{len(design.loads)} loads, 24 h, {done.switchings()} switchings, {done.steps} steps")
    second_ms = _ms(lambda: _fixed_steps(plan, 1.0))
    return [
        Figure(name="24 h with 40 switchings on 400 loads", value=ours_ms, unit="ms", most=MOST_MS),
        Figure(name="switchings", value=float(done.switchings()), unit="", least=LEAST_SWITCHINGS),
        Figure(
            name="ampere-hours given and taken, part that differs",
            value=abs(accounts.difference_ah) / accounts.throughput_ah, unit="", most=1e-9,
        ),
        Figure(name="steps of one second, as many times as long", value=second_ms / ours_ms, unit=""),
    ]  # fmt: skip


def _ms(run: Callable[[], object]) -> float:
    started = time.thread_time()
    run()
    return (time.thread_time() - started) * 1000


def _day(design: Design) -> Design:
    """Ten times standing by for an hour and driving for 84 minutes, with two steps of the shedding."""
    steps = (
        ShedStep(key="S1", name="comfort", off_below_v=12.74, on_above_v=13.2, off_delay_s=60.0, on_delay_s=30.0),
        ShedStep(key="S2", name="light", off_below_v=12.73, on_above_v=13.2, off_delay_s=60.0, on_delay_s=60.0),
    )
    segments = [
        DutySegment(key=f"T{2 * turn + place}", profile="day", condition=condition, duration_min=minutes)
        for turn in range(_TURNS)
        for place, (condition, minutes) in enumerate((("standby", _STANDING_MIN), ("search", _DRIVING_MIN)))
    ]
    standing = next(condition for condition in design.conditions if condition.key == "standby")
    on = [use.load for use in standing.uses]
    shed = dict.fromkeys(on[: len(on) // 3], "S1") | dict.fromkeys(on[len(on) // 3 : 2 * len(on) // 3], "S2")
    return replace(
        design,
        loads=tuple(replace(load, shed_step=shed.get(load.key, "")) for load in design.loads),
        shed_steps=steps,
        duty_profiles=(DutyProfile(key="day", name="a day"),),
        duty_segments=tuple(segments),
    )


def _fixed_steps(plan: DutyPlan, step_s: float) -> None:
    """The same batteries and loads, nothing shed, in equal steps: less work than the day itself, and still longer."""
    state = first_state(plan.plan.banks, plan.plan.start_ratio)
    for place, stage in enumerate(plan.plan.stages):
        posts = stage.all_posts(len(plan.plan.banks))
        now = Circumstances(plan.plan.banks, posts, plan.laws_of(place, frozenset()))
        for _ in range(round(stage.duration_s / step_s)):
            state = [at + step_s / 3600 * rate for at, rate in zip(state, now.derivative(state), strict=True)]
