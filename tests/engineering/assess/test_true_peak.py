"""The true peak of lamps that keep step: in runs, panels, drop and device it is what is lit together, never their sum."""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.assessment import Assessment
from builds.engineering.design import Design, InputSetting, LoadUse
from builds.engineering.flows import solve_conditions
from builds.engineering.functions.instants import instants_at
from builds.engineering.vocabulary import LoadModel
from tests.engineering.assess.designs import SOUND, load

SCHEDULE = """
input mode: selector off, turns, apart, both
channel left: lamp; load LEFT
channel right: lamp; load RIGHT
pattern beat: 300 ms on, 300 ms off
rule one (priority 1): left flash beat sync bar when mode is turns; if lost, does not apply
rule other (priority 1): right flash beat sync bar phase 300 ms when mode is turns; if lost, does not apply
rule apart (priority 2): left, right flash beat when mode is apart; if lost, does not apply
rule both (priority 2): left, right steady when mode is both; if lost, does not apply
"""
CLOCKS = """
input mode: selector off, turns
channel a: lamp; load A
channel b: lamp; load B
channel c: lamp; load C
channel d: lamp; load D
pattern beat: 300 ms on, 300 ms off
rule one (priority 1): a flash beat sync x when mode is turns; if lost, does not apply
rule two (priority 1): b flash beat sync x phase 300 ms when mode is turns; if lost, does not apply
rule three (priority 1): c flash beat sync y when mode is turns; if lost, does not apply
rule four (priority 1): d flash beat sync y phase 300 ms when mode is turns; if lost, does not apply
"""


def heads(*, held: bool = False, circuits: tuple[str, str] = ("101", "102")) -> Design:
    """Two heads of 6 A of constant current on circuits of the cab panel, nothing else on, in the first condition alone."""
    lamps = [
        load(key, circuit, key.lower(), "roof", 6.0, model=LoadModel.CONSTANT_CURRENT, can_be_steady=held)
        for key, circuit in zip(("LEFT", "RIGHT"), circuits, strict=True)
    ]
    condition = replace(SOUND.conditions[0], uses=())
    return replace(SOUND, loads=tuple(lamps), conditions=(condition,), function_schedule=SCHEDULE)


def set_to(design: Design, *modes: str) -> Design:
    conditions = tuple(
        replace(design.conditions[0], key=mode, name=mode, input_settings=(InputSetting(input="mode", value=mode),))
        for mode in modes
    )
    return replace(design, conditions=conditions)


def panel_run(result: Assessment) -> float:
    """Peak of the run that feeds the cab panel."""
    return max(run.peak_a for run in result.runs if run.key == "R2")


def test_the_feeder_of_two_heads_that_take_turns_peaks_at_one_of_them() -> None:
    in_step, apart = assess(set_to(heads(), "turns")), assess(set_to(heads(), "apart"))

    assert panel_run(in_step) == pytest.approx(6.0)
    assert panel_run(apart) == pytest.approx(12.0)
    assert [in_step.conditions[0].peak_a, apart.conditions[0].peak_a] == pytest.approx([6.0, 12.0])


def test_drop_feed_and_ground_are_those_of_what_is_lit_together() -> None:
    in_step, apart = assess(set_to(heads(), "turns")), assess(set_to(heads(), "apart"))
    drop = {
        name: {one.number: one.drop_v for one in result.circuits}
        for name, result in (("in step", in_step), ("apart", apart))
    }

    # its own wire loses the same, the shared way half
    assert drop["in step"]["101"] < drop["apart"]["101"]
    runs = [{run.key: run.drop_v for run in result.runs} for result in (in_step, apart)]
    assert runs[0]["R2"] == pytest.approx(runs[1]["R2"] / 2)
    panels = [{panel.key: panel.feed_drop_ratio for panel in result.panels} for result in (in_step, apart)]
    assert panels[0]["P1"] == pytest.approx(panels[1]["P1"] / 2)
    grounds = [{ground.key: ground.rise_v for ground in result.grounds} for result in (in_step, apart)]
    assert grounds[0]["G1"] == pytest.approx(grounds[1]["G1"] / 2)


def test_a_circuit_of_two_heads_that_take_turns_is_sized_on_one() -> None:
    in_step, apart = (
        {one.number: one for one in assess(set_to(heads(circuits=("101", "101")), mode)).circuits}["101"]
        for mode in ("turns", "apart")
    )

    # lit by turns the current never pauses: its RMS is its peak, 6 A; apart they may meet: 12 A, and 6√½ + 6√½ of heat
    assert (in_step.peak_a, in_step.continuous_a) == pytest.approx((6.0, 6.0))
    assert (apart.peak_a, apart.continuous_a) == pytest.approx((12.0, 12 * 0.5**0.5))


def test_a_head_that_can_be_held_on_counts_as_held_on() -> None:
    assert panel_run(assess(set_to(heads(held=True), "turns"))) == pytest.approx(12.0)


def test_heads_that_another_condition_lights_steady_count_as_held_on() -> None:
    alone, beside = assess(set_to(heads(), "turns")), assess(set_to(heads(), "turns", "both"))

    assert alone.conditions[0].peak_a == pytest.approx(6.0)
    assert beside.conditions[0].peak_a == pytest.approx(12.0)


def test_clocks_of_their_own_may_meet_at_their_worst() -> None:
    found = instants_at(CLOCKS, (InputSetting(input="mode", value="turns"),), frozenset())

    assert sorted(tuple(sorted(key for key, part in one.items() if part)) for one in found) == [
        ("A", "C"), ("A", "D"), ("B", "C"), ("B", "D"),
    ]  # fmt: skip


def test_a_load_lit_by_hand_is_lit_at_every_moment() -> None:
    design = set_to(heads(), "turns")
    siren = load("SIREN", "103", "siren", "engine", 5.0, model=LoadModel.CONSTANT_CURRENT)
    design = replace(
        design,
        loads=(*design.loads, siren),
        conditions=(replace(design.conditions[0], uses=(LoadUse(load="SIREN"),)),),
    )

    assert panel_run(assess(design)) == pytest.approx(11.0)


@pytest.mark.parametrize("mode", ["turns", "apart"])
def test_what_flows_in_a_condition_agrees_with_the_assessment(mode: str) -> None:
    design = set_to(heads(), mode)

    told = solve_conditions(design)[mode]

    assert {run.key: run.peak_a for run in told.runs()}["R2"] == pytest.approx(panel_run(assess(design)))
    assert sum(source.peak_a for source in told.sources()) == pytest.approx(assess(design).conditions[0].peak_a)
