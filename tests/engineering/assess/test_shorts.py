"""Prospective current at devices and at far ends, against the formulas of the core and by hand."""

from dataclasses import replace
from pathlib import Path

import pytest

from builds.engineering.assess import assess
from builds.engineering.buyer_rules import DEFAULT_DROP_RULES
from builds.engineering.design import Design
from builds.engineering.document import read_document
from builds.engineering.electrical.conductors import COLDEST_CABLE_C, ConductorSize, resistance_ohm_per_m
from builds.engineering.electrical.fault_current import FaultSource, prospective_current_a
from builds.engineering.vocabulary import GaugeBasis
from tests.engineering.assess.designs import SOUND, changed, without

CASES = Path(__file__).parents[2] / "cases"


def cold_ohm(gauge: str, length_m: float) -> float:
    return resistance_ohm_per_m(size=ConductorSize(GaugeBasis.SAE, gauge), temperature_c=COLDEST_CABLE_C) * length_m


def prospective(design: Design, number: str) -> float:
    return {circuit.number: circuit.prospective_a for circuit in assess(design).circuits}[number]


def one_battery() -> Design:
    bare = without(SOUND, "run", "R3", "R4", "R5", "R6", "R7", "S2")
    bare = without(bare, "node", "ALT", "ISO", "BAT2", "DISC2", "P2", "G2")
    bare = without(without(bare, "circuit", "201", "202"), "load", "RADIO", "LOCKER")
    return replace(bare, conditions=bare.conditions[:1])


def test_one_battery_gives_its_voltage_over_its_own_and_the_cold_cables_resistance() -> None:
    # 12.8 V over 6 mΩ inside, 2 m of 1/0, 0.2 mΩ of disconnect and 1 m of 4 gauge, all at -40 °C
    loop_ohm = 0.006 + cold_ohm("1/0", 2.0) + 0.0002 + cold_ohm("4", 1.0)

    assert prospective(one_battery(), "101") == pytest.approx(12.8 / loop_ohm, rel=1e-9)


def test_both_batteries_and_the_alternator_feed_a_short_through_the_closed_isolator() -> None:
    starting = FaultSource(emf_v=12.8, resistance_ohm=0.006 + cold_ohm("1/0", 2.0) + 0.0002)
    auxiliary = FaultSource(emf_v=12.8, resistance_ohm=0.007 + cold_ohm("2", 2.5) + 0.0003 + cold_ohm("1/0", 0.5))
    expected_a = prospective_current_a(sources=[starting, auxiliary], shared_ohm=cold_ohm("4", 1.0), limited_a=220.0)

    # the disconnect's 0.2 mΩ lies between the joint and the starting battery in the engine's drawing, as here
    assert prospective(SOUND, "101") == pytest.approx(expected_a, rel=1e-9)


def test_a_batterys_own_post_is_in_the_way_of_its_own_current_alone() -> None:
    design = changed(changed(SOUND, "node", "BAT1", resistance_mohm=2.0), "node", "BAT2", resistance_mohm=2.0)
    starting = FaultSource(emf_v=12.8, resistance_ohm=0.008 + cold_ohm("1/0", 2.0) + 0.0002)
    auxiliary = FaultSource(emf_v=12.8, resistance_ohm=0.009 + cold_ohm("2", 2.5) + 0.0003 + cold_ohm("1/0", 0.5))

    expected_a = prospective_current_a(sources=[starting, auxiliary], shared_ohm=cold_ohm("4", 1.0), limited_a=220.0)
    assert prospective(design, "101") == pytest.approx(expected_a, rel=1e-9)


@pytest.mark.parametrize("key", ["R1", "R2", "R4", "R5", "R6", "R7"])  # R3 is as far from one battery as from the other
@pytest.mark.parametrize("device_distance_m", [0.05, 0.45])
def test_a_cable_drawn_from_its_far_end_is_the_same_cable(key: str, device_distance_m: float) -> None:
    run = next(run for run in SOUND.runs if run.key == key)
    design = changed(SOUND, "run", key, device_distance_m=device_distance_m) if run.device_rating_a else SOUND
    turned = changed(design, "run", key, from_node=run.to_node, to_node=run.from_node)

    one, other = assess(design), assess(turned)

    assert [(found.id, found.subject) for found in other.findings] == [
        (found.id, found.subject) for found in one.findings
    ]
    assert [result.prospective_a or 0.0 for result in other.runs] == pytest.approx(
        [result.prospective_a or 0.0 for result in one.runs], rel=1e-9
    )


def test_device_along_the_cable_sees_less_than_one_at_the_post() -> None:
    near = {run.key: run.prospective_a for run in assess(SOUND).runs}["R1"]
    far = {run.key: run.prospective_a for run in assess(changed(SOUND, "run", "R1", device_distance_m=1.5)).runs}["R1"]

    assert near is not None
    assert far is not None
    assert far < near


def test_far_end_fault_runs_as_hot_as_insulation_bears_from_one_battery_out_and_back() -> None:
    def hot(gauge: str, length_m: float) -> float:
        return resistance_ohm_per_m(size=ConductorSize(GaugeBasis.SAE, gauge), temperature_c=125.0) * length_m

    design = one_battery()
    out_ohm = 0.006 + hot("1/0", 2.0) + 0.0002 + hot("4", 1.0)
    back_ohm = 0.0003 + hot("1/0", 1.0)
    expected_a = 12.0 / (out_ohm + hot("12", 4.5) + back_ohm)

    assert assess(design).circuits[0].far_end_fault_a == pytest.approx(expected_a, rel=1e-9)


def test_at_what_temperature_drops_are_judged_does_not_move_a_far_end_fault() -> None:
    cool = replace(DEFAULT_DROP_RULES[0], key="cool", drop_class="*", conductor_temp_c=20.0, limit_ratio=0.5)
    design = one_battery()
    judged_cool = replace(design, buyer=replace(design.buyer, drop_rules=(cool,)))

    hot, other = (assess(item).circuits[0].far_end_fault_a for item in (design, judged_cool))

    assert other == pytest.approx(hot, rel=1e-12)


def test_a_fuse_that_opens_on_a_cool_conductor_only_is_not_cleared() -> None:
    # case 01 with 18 AWG out 9 m and home 8 m: 20.948 mΩ/m, feed 3 m of 8 and 0.5 m of 4 AWG, × 359.5 / 254.5 at 125 °C
    design = read_document((CASES / "01-sound-lamp.json").read_bytes())
    design = changed(design, "circuit", "101", gauge="18", length_m=9.0, return_length_m=8.0)
    design = changed(design, "load", "L101", current_a=3.0)

    found = assess(design)

    by_hand_mohm = (20.948 * 17 + 2.0609 * 3 + 0.8152 * 0.5) * 359.5 / 254.5 + 0.7 + 10
    assert found.circuits[0].far_end_fault_a == pytest.approx(12_000 / by_hand_mohm, rel=2e-3)  # 22.9 A, of 30 A
    assert ("fault-not-cleared", "circuit:101") in {(finding.id, finding.subject) for finding in found.blocking}


def test_isolator_open_leaves_the_far_end_of_each_side_to_its_own_battery() -> None:
    weaker = changed(SOUND, "node", "BAT2", battery=replace(SOUND.nodes[4].battery, internal_mohm=70.0))  # type: ignore[type-var]
    before = {circuit.number: circuit.far_end_fault_a for circuit in assess(SOUND).circuits}
    after = {circuit.number: circuit.far_end_fault_a for circuit in assess(weaker).circuits}

    assert after["201"] < before["201"]
    assert after["101"] == before["101"]


def test_returns_carry_no_prospective_current() -> None:
    assert {run.key: run.prospective_a for run in assess(SOUND).runs}["S1"] is None
