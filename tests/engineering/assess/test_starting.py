"""Starting the engine: the build's own starter, its cable, and a battery that is cold or not full."""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.design import Design
from builds.engineering.electrical.energy.banks import bank_not_full
from builds.engineering.explaining import explain
from builds.engineering.vocabulary import BatteryKind
from tests.engineering.assess.designs import SOUND, changed
from tests.engineering.assess.plants_duty import battery, day, reserve_test

# E18: E - I_crank x (R_batt(T, charge) + R_cable) is what the starter has; figures below are worked by hand from it


def with_test(**starter: float) -> Design:
    """An engine-off test of 10 min on the battery that starts the engine, in a profile with a starter of its own."""
    design = reserve_test(battery(SOUND, "BAT1", reserve_min=120.0), 10.0, "SCENE")
    return day(design, ("watch", 1), **starter)


def starter_v(design: Design) -> float:
    (found,) = [result for result in assess(design).reserves if result.battery == "BAT1"]
    assert found.starter_v is not None
    return found.starter_v


def test_the_reserve_test_asks_of_the_battery_what_the_builds_own_starter_takes() -> None:
    usual = starter_v(with_test())

    # 450 A more through 6 mΩ at some 98 % of the charge, and 700 A through no cable that nobody gave
    assert starter_v(with_test(crank_a=700.0)) == pytest.approx(usual - 450.0 * 0.006, abs=0.05)


def test_the_reserve_test_fails_by_the_least_voltage_of_the_builds_own_starting_system() -> None:
    found = {finding.id for finding in assess(with_test(crank_a=400.0, crank_least_v=10.5)).findings}

    assert "reserve-no-restart" in found
    assert "reserve-no-restart" not in {finding.id for finding in assess(with_test()).findings}


def test_the_platform_says_what_its_starter_takes_where_no_profile_does() -> None:
    design = reserve_test(battery(SOUND, "BAT1", reserve_min=120.0), 10.0, "SCENE")
    own = replace(design, platform=replace(design.platform, crank_a=700.0, crank_cable_mohm=0.0))

    assert starter_v(own) == pytest.approx(starter_v(with_test(crank_a=700.0, crank_cable_mohm=0.0)))


def test_the_cable_to_the_starter_takes_its_part() -> None:
    without, by = (starter_v(with_test(crank_a=250.0, crank_cable_mohm=mohm)) for mohm in (0.0, 1.2))

    assert without - by == pytest.approx(250.0 * 0.0012)


def test_a_least_voltage_of_the_starter_counts_the_cable_that_a_standard_allows() -> None:
    # SAE J541 in summary: at most 0.200 V for each 100 A of a 12 V starter circuit
    told, usual = with_test(crank_least_v=8.0), with_test()

    assert starter_v(usual) - starter_v(told) == pytest.approx(0.200 * 250.0 / 100.0)


def first_start(**profile: float) -> tuple[float, float]:
    (result,) = assess(day(SOUND, ("driving", 30), **profile)).profiles
    return result.starts[0].charge_ratio, result.starts[0].starter_v


@pytest.mark.parametrize(("charge", "times"), [(1.0, 1.0), (0.5, 1.3), (0.25, 1.8)])  # from memory: battery_resistances
def test_a_battery_that_is_not_full_has_more_resistance_while_cranked(charge: float, times: float) -> None:
    _, little = first_start(start_ratio=charge, crank_a=100.0)
    _, much = first_start(start_ratio=charge, crank_a=300.0)

    # loads of constant power take a little more at the lower voltage
    assert little - much == pytest.approx(200.0 * 0.006 * times, rel=0.02)


def test_a_lithium_battery_that_is_half_full_cranks_as_if_full() -> None:
    # from memory: the table battery_resistances
    assert bank_not_full(charge_ratio=0.5, kind=BatteryKind.LITHIUM_IRON_PHOSPHATE) == 1.0
    assert bank_not_full(charge_ratio=0.5, kind=BatteryKind.FLOODED) == 1.3


def test_the_working_of_a_start_prints_battery_and_cable() -> None:
    design = day(SOUND, ("driving", 30), start_ratio=0.5, battery_c=-18.0, crank_cable_mohm=1.5)
    working = explain(design, "duty-start:day")
    numbers = {number.symbol: number.value for step in working.steps for number in getattr(step, "numbers", ())}

    assert numbers["R_25"] == 6.0 and numbers["f_T"] == pytest.approx(1.8) and numbers["f_q"] == pytest.approx(1.3)
    assert numbers["R"] == pytest.approx(6.0 * 1.8 * 1.3) and numbers["R_c"] == pytest.approx(1.5)


def test_the_working_of_a_reserve_test_ends_with_its_start() -> None:
    design = changed(with_test(crank_a=300.0), "condition", "watch", name="watch")
    working = explain(design, "condition-reserve:watch")

    assert working.steps[-1].value == pytest.approx(starter_v(design))  # type: ignore[union-attr]
    assert any(getattr(step, "symbol", "") == "V_s" for step in working.steps)
