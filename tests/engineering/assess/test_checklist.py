"""The checklist that a design asks for by itself."""

from dataclasses import replace
from pathlib import Path

import pytest

from builds.engineering.assess import assess
from builds.engineering.changes import FAMILIES
from builds.engineering.checklist import StepPlan, derive_steps
from builds.engineering.design import Design
from builds.engineering.document import read_document
from builds.engineering.vocabulary import Phase, Place
from tests.engineering.assess.designs import SOUND, changed, without
from tests.engineering.assess.large_design import large_design

CASES = Path(__file__).resolve().parents[2] / "cases"


def steps_of(design: Design) -> dict[str, StepPlan]:
    return {step.key: step for step in derive_steps(design, assess(design))}


def test_steps_stand_in_working_order_with_holds_after_what_they_cover() -> None:
    steps = derive_steps(SOUND, assess(SOUND))
    keys = [step.key for step in steps]

    assert [step.phase for step in steps] == sorted((step.phase for step in steps), key=list(Phase).index)
    for step in steps:
        for covered in step.covers:
            assert keys.index(covered) < keys.index(step.key)


def test_keys_are_unique_and_fit_an_address() -> None:
    steps = derive_steps(large_design(), assess(large_design()))
    keys = [step.key for step in steps]

    assert len(keys) == len(set(keys))


def test_every_operation_is_a_step_after_what_it_waits_for() -> None:
    keys = [step.key for step in derive_steps(SOUND, assess(SOUND))]

    assert [key for key in keys if key.startswith("op/")] == ["op/STRIP", "op/BENCH", "op/LAY", "op/CLOSE"]
    assert steps_of(SOUND)["op/BENCH"].place is Place.BENCH
    assert "Comes after: Build the harness." in steps_of(SOUND)["op/LAY"].instructions
    assert "Needs 2 people." in steps_of(SOUND)["op/LAY"].instructions


def test_key_of_a_step_does_not_change_with_the_design_around_it() -> None:
    before, after = steps_of(SOUND), steps_of(changed(SOUND, "circuit", "103", legend="WORK LIGHT", gauge="10"))

    assert before.keys() == after.keys()
    assert "Position 3: WORK LIGHT" in after["legend/P1"].instructions


def test_hold_before_trim_covers_every_wire_step_and_the_final_one_tests_and_closing() -> None:
    steps = steps_of(SOUND)
    wiring = {key for key, step in steps.items() if step.phase is Phase.WIRE and not step.hold_point}
    later = {key for key, step in steps.items() if step.phase in (Phase.TEST, Phase.CLOSE) and not step.hold_point}

    assert set(steps["hold/before-trim"].covers) == wiring
    assert set(steps["hold/final"].covers) == later
    assert {key for key, step in steps.items() if step.hold_point} == {"hold/before-trim", "hold/final"}


@pytest.mark.parametrize("key", ["legend/P1", "legend/P2", "stud/G1", "stud/G2", "seal"])
def test_what_is_hidden_later_is_photographed(key: str) -> None:
    assert steps_of(SOUND)[key].photo_required


def test_stud_reading_has_the_buyers_limit_and_the_calculated_rise() -> None:
    reading, assessment = steps_of(SOUND)["stud/G1"].reading, assess(SOUND)
    assert reading is not None

    assert (reading.unit, reading.minimum, reading.maximum) == ("V", -0.1, 0.1)
    assert reading.calculated == pytest.approx(assessment.grounds[0].rise_v, abs=5e-4)


def test_key_off_reading_is_taken_without_waking_the_modules() -> None:
    step = steps_of(SOUND)["key-off"]
    assert step.reading is not None

    assert (step.reading.unit, step.reading.maximum, step.reading.calculated) == ("mA", 50.0, 12.0)
    assert step.reading.instrument == "clamp ammeter"
    assert "before the key goes off" in step.instructions[0]
    assert any("voltage at the battery" in line for line in step.instructions)


def test_no_amount_that_is_measured_may_be_below_nothing() -> None:
    readings = [step.reading for step in derive_steps(large_design(), assess(large_design())) if step.reading]
    amounts = [reading for reading in readings if reading.unit in {"A", "mA", "kg"}]

    assert {reading.unit for reading in amounts} == {"A", "mA", "kg"}
    assert [reading.minimum for reading in amounts] == [0.0] * len(amounts)


def test_radio_and_the_worst_circuit_are_measured_at_their_loads() -> None:
    steps = steps_of(SOUND)
    measured = sorted(key for key in steps if key.startswith("volts/"))
    radio = steps["volts/201"].reading
    worst = max(assess(SOUND).circuits, key=lambda circuit: circuit.drop_ratio / circuit.drop_limit_ratio).number
    assert radio is not None

    assert measured == sorted({"volts/201", f"volts/{worst}"})
    # the radio rule's 0.2 V, whatever the battery stands at; above it the highest source voltage, 14.4 V, and 4 %
    lowest_v = min(condition.source_low_v for condition in SOUND.conditions)
    assert (radio.minimum, radio.most_lost_v) == (pytest.approx(lowest_v / 2), pytest.approx(0.2))
    assert radio.maximum == pytest.approx(14.4 * 1.04, abs=0.005)
    assert radio.calculated is not None
    assert 12.8 <= radio.calculated <= radio.maximum


def test_load_behind_a_converter_is_read_beside_the_converters_output() -> None:
    design = read_document((CASES / "29-everything-at-once.json").read_bytes())
    behind = replace(
        design,
        loads=tuple(replace(load, drop_class="radio") if load.circuit == "301" else load for load in design.loads),
    )
    step = steps_of(behind)["volts/301"]
    assert step.reading is not None

    assert "Measure the output of 24 V converter at the same time" in step.instructions[2]
    # its output of 24 V: half of that, and 4 % above
    assert (step.reading.minimum, step.reading.maximum) == (12.0, pytest.approx(24.96))
    assert "battery post" in steps_of(behind)["volts/201"].instructions[2]


def test_battery_at_rest_and_axles_have_their_limits() -> None:
    steps = steps_of(SOUND)
    battery, front = steps["battery/BAT1"].reading, steps["weigh/front"].reading
    assert battery is not None
    assert front is not None

    assert (battery.minimum, battery.calculated) == (12.6, 12.8)  # three quarters charged and up, AGM bands
    assert battery.maximum == pytest.approx(13.31)  # 4 % above its open-circuit voltage: 1270 is a slip of the point
    assert (front.unit, front.maximum, front.calculated) == ("kg", 2200.0, 1541.5)
    assert steps["weigh/front"].place is Place.YARD


def test_each_disconnect_is_tried_and_each_device_checked() -> None:
    steps = steps_of(SOUND)

    assert {"disconnect/DISC", "disconnect/DISC2", "device/P1", "device/P2"} <= steps.keys()
    assert "Position 1: 20 A ATO" in steps["device/P1"].instructions


def test_titles_and_reasons_are_there_for_every_step() -> None:
    for step in derive_steps(large_design(), assess(large_design())):
        assert step.title[0].isupper()
        assert step.why.endswith(".")


def test_design_that_cannot_be_solved_still_has_its_work_and_checks() -> None:
    steps = steps_of(without(SOUND, "node", "BAT1", "BAT2"))

    assert {"op/LAY", "legend/P1", "key-off", "weigh/rear", "hold/final"} <= steps.keys()
    assert not [key for key in steps if key.startswith(("stud/", "volts/"))]


def test_circuit_used_in_no_condition_is_measured_alone() -> None:
    unused = replace(SOUND, conditions=())
    radio = steps_of(unused)["volts/201"]
    assert radio.reading is not None

    assert (radio.reading.minimum, radio.reading.maximum) == (None, None)
    assert radio.reading.most_lost_v == pytest.approx(0.2)
    assert "turn it on" in radio.instructions[0]


def test_subjects_name_parts_of_the_design() -> None:
    for step in derive_steps(SOUND, assess(SOUND)):
        family, _, key = step.subject.partition(":")
        if family != "build":
            assert key in {FAMILIES[family].key_of(part) for part in getattr(SOUND, FAMILIES[family].field)}


def test_the_current_is_read_once_for_each_way_of_being_fed_where_it_is_highest() -> None:
    design = large_design()
    found = assess(design)
    states = {condition.key: condition.source_state for condition in design.conditions}

    steps = {key: step for key, step in steps_of(design).items() if key.startswith("load/")}

    assert len(steps) == len({states[key.removeprefix("load/")] for key in steps}) > 1
    for key, step in steps.items():
        state = states[key.removeprefix("load/")]
        highest = max(result.mean_a for result in found.conditions if states[result.key] is state)
        assert step.reading is not None
        assert step.reading.calculated == pytest.approx(highest, abs=0.05)
        assert (step.reading.unit, step.reading.minimum, step.reading.maximum) == ("A", 0.0, None)


def test_nothing_is_read_where_nothing_is_on() -> None:
    assert not [key for key in steps_of(replace(SOUND, loads=())) if key.startswith("load/")]
