"""
What flows into a second battery that is joined to a full one while it is empty.

In the sound build the auxiliary battery, half used, rests at 12.3 V. Its 7 mΩ, the way out and back and 176 A of the alternator
(0.8 × 220 A) leave 14.1 V at the first battery, below the 14.4 V that the alternator is set to: all 176 A flow.
"""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.assessing.equalising import Equalising, equalisings
from builds.engineering.assessing.indexed import index_design
from builds.engineering.assessing.states import solve_states
from builds.engineering.design import AlternatorSpec, Design
from builds.engineering.electrical.equalising import converter_input_a, equalising_a
from builds.engineering.errors import OutOfRange
from builds.engineering.explaining import explain
from tests.engineering.assess.designs import AUXILIARY, SOUND, changed, without


def joined(design: Design) -> tuple[Equalising, ...]:
    index = index_design(design)
    return equalisings(index, solve_states(index))


def said(design: Design) -> set[tuple[str, str]]:
    return {(item.id, item.subject) for item in assess(design).findings if item.id.startswith("equalising")}


def test_a_converter_takes_more_current_at_a_low_input() -> None:
    # foreman's figure: 40 A x 14.4 V / (0.9 x 12.2 V) = 52.5 A
    assert converter_input_a(output_a=40, output_v=14.4, input_v=12.2, efficiency_ratio=0.9) == pytest.approx(
        52.46, abs=0.01
    )


def test_the_sound_build_sends_all_of_the_alternator_through_and_bears_it() -> None:
    [one] = joined(SOUND)

    assert (one.full.key, one.empty.key, one.condition.key) == ("BAT1", "BAT2", "driving")
    assert one.empty_rest_v == pytest.approx(12.3)
    assert one.current_a == pytest.approx(0.8 * 220.0)
    assert [run.key for run in one.runs] == ["R1", "R3", "R4"]
    assert said(SOUND) == set()


def test_a_strong_alternator_is_held_by_its_voltage_and_the_device_may_open() -> None:
    strong = changed(SOUND, "node", "ALT", alternator=AlternatorSpec(rated_a=500.0, idle_ratio=0.4, speed_ratio=1.0))
    [one] = joined(strong)

    assert one.current_a == pytest.approx((14.4 - 12.3) / one.between_ohm)  # 202 A
    # 202 A through 150 A is 1.35 times: the family opens within seconds to minutes at that; the isolator is rated 200 A
    assert said(strong) == {("equalising-opens-device", "run:R4"), ("equalising-over-switch", "node:ISO")}


def test_a_weak_switch_is_said_and_a_stronger_one_is_not() -> None:
    assert said(changed(SOUND, "node", "ISO", rating_a=150.0)) == {("equalising-over-switch", "node:ISO")}
    assert said(changed(SOUND, "node", "ISO", rating_a=176.0)) == set()


def test_a_battery_that_is_kept_fuller_takes_less() -> None:
    [full] = joined(changed(SOUND, "node", "BAT2", battery=replace(AUXILIARY, usable_ratio=0.1, internal_mohm=20.0)))
    [half] = joined(changed(SOUND, "node", "BAT2", battery=replace(AUXILIARY, internal_mohm=20.0)))

    assert full.current_a < half.current_a


def test_without_anything_that_charges_the_full_battery_alone_gives() -> None:
    bare = replace(SOUND, nodes=tuple(node for node in SOUND.nodes if node.key != "ALT"))
    [one] = joined(without(bare, "run", "R7"))

    assert one.current_a == pytest.approx((12.8 - 12.3) / (0.006 + one.between_ohm))


def test_batteries_that_nothing_joins_are_not_told_of() -> None:
    assert joined(without(SOUND, "run", "R4")) == ()


@pytest.mark.parametrize("charging_a", [0.0, 20.0, 60.0, 150.0, 1000.0])
def test_the_current_rises_with_what_charges_and_never_past_its_setting(charging_a: float) -> None:
    figures = {"full_rest_v": 12.8, "empty_rest_v": 12.3, "full_ohm": 0.006, "between_ohm": 0.01, "charging_v": 14.4}

    now = equalising_a(**figures, charging_a=charging_a)

    assert equalising_a(**figures, charging_a=charging_a + 1.0) >= now
    assert now <= (14.4 - 12.3) / 0.01 + 1e-9


@pytest.mark.parametrize("name", ["full_rest_v", "empty_rest_v", "full_ohm", "between_ohm", "charging_a", "charging_v"])
def test_a_figure_out_of_range_is_named(name: str) -> None:
    figures = {"full_rest_v": 12.8, "empty_rest_v": 12.3, "full_ohm": 0.006, "between_ohm": 0.01}

    with pytest.raises(OutOfRange, match=name):
        equalising_a(**{**figures, name: -1.0})


@pytest.mark.parametrize("name", ["output_a", "output_v", "input_v", "efficiency_ratio"])
def test_a_converters_figure_out_of_range_is_named(name: str) -> None:
    figures = {"output_a": 40.0, "output_v": 14.4, "input_v": 12.2, "efficiency_ratio": 0.9}

    with pytest.raises(OutOfRange, match=name):
        converter_input_a(**{**figures, name: -1.0})


def test_the_working_ends_at_the_current() -> None:
    assert explain(SOUND, "battery-equalising:BAT2").result == pytest.approx(176.0)
