"""Operating conditions: which battery carries what, how the source stands, how long batteries last, what cuts out."""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.assessment import ConditionResult
from builds.engineering.design import AlternatorSpec, Design, LoadUse
from builds.engineering.explaining.explain import explain
from builds.engineering.flows import solve_conditions
from builds.engineering.vocabulary import SourceState
from tests.engineering.assess.designs import SOUND, changed, without
from tests.engineering.assess.plants_duty import on_shore


def condition_of(design: Design, key: str) -> ConditionResult:
    return {condition.key: condition for condition in assess(design).conditions}[key]


def test_source_gives_its_hot_part_of_the_rating_and_is_an_estimate() -> None:
    idle, speed = condition_of(SOUND, "scene").source, condition_of(SOUND, "driving").source

    assert idle is not None
    assert speed is not None
    assert (idle.available_a, speed.available_a) == pytest.approx((220 * 0.4, 220 * 0.8))
    assert idle.estimate
    assert idle.margin_a == pytest.approx(idle.available_a - condition_of(SOUND, "scene").mean_a)


def test_two_alternators_add_up() -> None:
    second = replace(
        SOUND.nodes[1], key="ALT2", alternator=AlternatorSpec(rated_a=100.0, idle_ratio=0.5, speed_ratio=0.9)
    )
    idle = condition_of(replace(SOUND, nodes=(*SOUND.nodes, second)), "scene").source

    assert idle is not None
    assert idle.available_a == pytest.approx(88.0 + 50.0)


def test_source_exactly_used_up_is_no_deficit() -> None:
    mean_a = condition_of(SOUND, "scene").mean_a
    alternator = AlternatorSpec(rated_a=220.0, idle_ratio=mean_a / 220.0, speed_ratio=0.8)
    findings = assess(changed(SOUND, "node", "ALT", alternator=alternator)).findings

    assert [finding.id for finding in findings if finding.id.startswith("source")] == []


def test_battery_lasts_as_its_label_says_at_the_rated_current() -> None:
    # 100 Ah at 20 h: 5 A for 20 h, half of it usable: 10 h; the locker lamps are off
    design = changed(SOUND, "condition", "watch", uses=(LoadUse(load="RADIO"),))
    design = changed(design, "load", "RADIO", model="constant_current", current_a=5.0)

    assert condition_of(design, "watch").battery_h == pytest.approx(10.0)


def test_battery_loses_time_by_peukert_above_its_rated_current() -> None:
    # check value: 100 Ah at 20 h, k 1.1, 10 A: 9.3303 h to empty; half of it usable
    design = changed(SOUND, "condition", "watch", uses=(LoadUse(load="RADIO"),))
    design = changed(design, "load", "RADIO", model="constant_current", current_a=10.0)

    assert condition_of(design, "watch").battery_h == pytest.approx(9.3303 / 2, rel=1e-4)


def test_time_is_that_of_the_battery_that_ends_first() -> None:
    both = changed(SOUND, "condition", "watch", uses=(LoadUse(load="RADIO"), LoadUse(load="SCENE")))

    assert condition_of(both, "watch").battery_h == pytest.approx(
        min(
            condition_of(changed(SOUND, "condition", "watch", uses=(LoadUse(load=key),)), "watch").battery_h or 0.0
            for key in ("RADIO", "SCENE")
        ),
        rel=1e-6,
    )


def test_isolator_open_leaves_the_starting_battery_alone() -> None:
    # with the engine off nothing on the cab panel is on: the run off the starting battery carries nothing
    watch_only = without(SOUND, "condition", "driving", "scene", "parked")
    runs = {run.key: run for run in assess(watch_only).runs}

    assert runs["R1"].peak_a == 0.0
    assert runs["R5"].peak_a > 0.0


def test_isolator_closed_carries_the_far_side_through_itself() -> None:
    scene_only = without(SOUND, "condition", "driving", "watch", "parked")
    runs = {run.key: run for run in assess(scene_only).runs}

    assert runs["R4"].mean_a == pytest.approx(
        runs["R6"].mean_a + 20.0
    )  # 0.2 of the battery's 100 Ah charge it meanwhile
    assert runs["R5"].peak_a == pytest.approx(runs["R6"].peak_a)


def test_key_off_condition_counts_sleepers_and_what_is_on() -> None:
    parked = condition_of(SOUND, "parked")
    with_radio = condition_of(
        changed(SOUND, "condition", "parked", uses=(LoadUse(load="RADIO", duty_ratio=0.1),)), "parked"
    )

    assert parked.mean_a == pytest.approx(0.012)  # 2 mA of siren amplifier and 10 mA of radio
    assert with_radio.mean_a > 0.5
    assert with_radio.mean_a == pytest.approx(0.002 + 0.1 * 6.0 * 12.8 / 12.15, rel=0.01)


def test_lowest_load_is_named_with_its_voltage() -> None:
    scene = condition_of(SOUND, "scene")
    circuits = {circuit.number: circuit for circuit in assess(SOUND).circuits}

    assert scene.lowest_load_key == "BAR"
    assert scene.lowest_load_v == pytest.approx(circuits["101"].load_v)


def test_condition_with_nothing_on_has_no_lowest_load_and_no_battery_time() -> None:
    empty = changed(SOUND, "condition", "driving", uses=())

    assert condition_of(empty, "driving").lowest_load_v is None
    assert condition_of(empty, "driving").battery_h is None
    assert condition_of(empty, "driving").mean_a == 0.0


def test_use_may_set_a_duty_of_its_own() -> None:
    half = changed(SOUND, "condition", "scene", uses=(LoadUse(load="LOCKER", duty_ratio=0.5),))
    full = changed(SOUND, "condition", "scene", uses=(LoadUse(load="LOCKER"),))

    assert condition_of(half, "scene").mean_a == pytest.approx(condition_of(full, "scene").mean_a / 2, rel=0.02)
    assert condition_of(half, "scene").peak_a == pytest.approx(condition_of(full, "scene").peak_a)


@pytest.mark.parametrize("state", [SourceState.ENGINE_OFF, SourceState.KEY_OFF])
def test_no_source_where_no_engine_runs(state: SourceState) -> None:
    assert condition_of(changed(SOUND, "condition", "scene", source_state=state), "scene").source is None


def test_voltage_at_the_post_sags_by_what_is_inside_the_battery() -> None:
    # 7 mΩ inside: the watch's loads see it besides the wires, but drop is counted from the post
    weak = changed(SOUND, "node", "BAT2", battery=replace(SOUND.nodes[4].battery, internal_mohm=60.0))  # type: ignore[type-var]
    before, after = condition_of(SOUND, "watch"), condition_of(weak, "watch")

    assert before.lowest_load_v is not None
    assert after.lowest_load_v is not None
    assert before.lowest_load_v - after.lowest_load_v == pytest.approx(0.053 * before.peak_a, rel=0.05)


def test_what_a_source_cannot_give_comes_from_the_battery_at_the_batterys_voltage() -> None:
    # 220 A × 0.05 = 11 A at idle; the rest comes out of 12.8 V behind both batteries side by side
    design = changed(SOUND, "node", "ALT", alternator=AlternatorSpec(rated_a=220.0, idle_ratio=0.05, speed_ratio=0.8))
    design = changed(design, "condition", "scene", source_low_v=13.8)
    result = condition_of(design, "scene")
    told = {load.key: load.voltage_v for load in solve_conditions(design)["scene"].loads()}

    assert condition_of(SOUND, "scene").lowest_load_v > result.lowest_load_v < 12.8
    # the flows share the link between the batteries, which the assessment takes as nothing
    assert result.lowest_load_v == pytest.approx(min(told.values()), abs=0.03)


@pytest.mark.parametrize(("idle_ratio", "is_off"), [(0.4, False), (0.05, True)])
def test_a_load_that_only_the_regulated_voltage_holds_up_cuts_out_when_the_source_is_short(
    idle_ratio: float, is_off: bool
) -> None:
    design = changed(
        SOUND, "node", "ALT", alternator=AlternatorSpec(rated_a=220.0, idle_ratio=idle_ratio, speed_ratio=0.8)
    )
    design = without(changed(design, "load", "RADIO", min_v=12.75), "condition", "watch")  # at 12 V it is off anyway
    said = {(finding.id, finding.subject) for finding in assess(design).findings}

    assert (("load-cuts-out", "load:RADIO") in said) is is_off


def test_a_charger_that_is_too_small_leaves_the_rest_to_the_battery() -> None:
    # 100 Ah at 20 h, half usable; up to 5 A plain ampere-hours
    design = on_shore(SOUND, 3.0)
    mean_a = condition_of(design, "watch").mean_a

    assert condition_of(design, "watch").battery_h == pytest.approx(50.0 / (mean_a - 3.0))
    assert explain(design, "condition-battery:watch").result == pytest.approx(50.0 / (mean_a - 3.0))
    assert condition_of(on_shore(SOUND, 10.0), "watch").battery_h is None


def test_a_battery_that_is_parted_from_the_running_engine_sinks_to_what_may_be_used_of_it() -> None:
    # half of it used: 12.3 V at rest, 7 mΩ inside
    result = condition_of(changed(SOUND, "condition", "driving", open_nodes=("ISO",)), "driving")

    assert result.lowest_load_key == "RADIO"
    assert 12.0 < result.lowest_load_v < 12.3 - 0.007 * 5.0  # the radio takes some 6 A out of it
