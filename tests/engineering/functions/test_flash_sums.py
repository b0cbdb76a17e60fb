"""Circuits whose lamps flash: the true peak of what keeps step, the worst of what does not."""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.design import Design, InputSetting, LoadUse
from builds.engineering.functions.flash_sums import CircuitFlash, flash_by_circuit
from tests.engineering.assess.designs import SOUND, changed, load

SCHEDULE = """
input mode: selector off, respond, park
channel left: lamp; load LEFT
channel right: lamp; load RIGHT
pattern beat: 300 ms on, 300 ms off
rule turns (priority 1): left flash beat sync bar when mode is respond; if lost, does not apply
rule other (priority 1): right flash beat sync bar phase 300 ms when mode is respond; if lost, does not apply
rule apart (priority 2): left, right flash beat when mode is park; if lost, does not apply
"""


@pytest.fixture
def design() -> Design:
    """Two lamps of 6 A in the place of the light bar, on its circuit."""
    lamps = (load("LEFT", "101", "left half", "roof", 6.0, can_be_steady=False),
             load("RIGHT", "101", "right half", "roof", 6.0, can_be_steady=False))  # fmt: skip
    conditions = tuple(
        replace(item, uses=tuple(use for use in item.uses if use.load != "BAR")) for item in SOUND.conditions
    )
    others = tuple(item for item in SOUND.loads if item.key != "BAR")
    return replace(SOUND, loads=(*lamps, *others), conditions=conditions, function_schedule=SCHEDULE)


def flash(design: Design, mode: str) -> CircuitFlash:
    condition = replace(design.conditions[0], input_settings=(InputSetting(input="mode", value=mode),))
    found = flash_by_circuit(replace(design, conditions=(condition,)), condition)
    return next(item for item in found if item.circuit == "101")


def test_lamps_that_take_turns_peak_at_one_of_them(design: Design) -> None:
    found = flash(design, "respond")

    assert (found.circuit, found.loads, found.all_lit_a) == ("101", ("LEFT", "RIGHT"), 12.0)
    assert (found.total.mean_a, found.total.peak_a, found.total.rms_a) == pytest.approx((6.0, 6.0, 6.0))


def test_lamps_without_a_common_clock_may_meet(design: Design) -> None:
    found = flash(design, "park")

    assert (found.total.mean_a, found.total.peak_a) == pytest.approx((6.0, 12.0))
    assert found.total.rms_a == pytest.approx(12 * 0.5**0.5)


def test_where_only_the_duty_is_known_the_worst_is_told() -> None:
    # the light bar takes 12 A, lit half of the time
    condition = SOUND.conditions[0]

    found = {item.circuit: item for item in flash_by_circuit(SOUND, condition)}

    assert found["101"].total.mean_a == pytest.approx(6.0)
    assert found["101"].total.peak_a == pytest.approx(12.0)
    assert found["101"].total.sizing_a == pytest.approx(12.0)  # it can be held on
    assert set(found) == {"101", "102", "201"}  # siren and radio have parts of their own in this condition


def test_a_circuit_on_which_nothing_flashes_is_left_out() -> None:
    steady = changed(SOUND, "condition", "scene", uses=(LoadUse(load="SCENE"),))

    assert flash_by_circuit(steady, next(item for item in steady.conditions if item.key == "scene")) == ()


def test_a_slow_flash_is_sized_on_its_worst_two_seconds(design: Design) -> None:
    # 5 s lit of 10: two seconds of it are all lit, though its duty is a half
    slow = replace(design, function_schedule=SCHEDULE.replace("300 ms on, 300 ms off", "5000 ms on, 5000 ms off"))
    asked = {}
    for name, one in (("quick", design), ("slow", slow)):
        condition = replace(one.conditions[0], input_settings=(InputSetting(input="mode", value="park"),))
        result = assess(replace(one, conditions=(condition,)))
        asked[name] = {circuit.number: circuit for circuit in result.circuits}["101"]

    assert asked["quick"].mean_a == pytest.approx(asked["slow"].mean_a)
    assert asked["quick"].continuous_a == pytest.approx(asked["slow"].peak_a * 0.5**0.5, rel=1e-3)
    assert asked["slow"].continuous_a == pytest.approx(asked["slow"].peak_a, rel=1e-3)
