"""
What a battery's own data sheet changes: how fast it takes charge, not in the cold, where it switches itself off, what it loses.

The auxiliary battery of the sound build holds 100 Ah; half charged it lacks 50 Ah. The watch takes some 7 A of it.
"""

from dataclasses import replace

import pytest

from builds.engineering.assess import assess
from builds.engineering.assessment import ProfileResult
from builds.engineering.design import BatterySpec, Design
from builds.engineering.errors import OutOfRange
from builds.engineering.explaining import explain
from tests.engineering.assess.designs import AUXILIARY, SOUND, changed
from tests.engineering.assess.plants_duty import day


def with_battery(design: Design, **figures: float) -> Design:
    return changed(design, "node", "BAT2", battery=replace(AUXILIARY, **figures))


def profile(design: Design) -> ProfileResult:
    [result] = assess(design).profiles
    return result


def end_ratio(design: Design) -> float:
    return next(bank.end_ratio for bank in profile(design).batteries if bank.key == "BAT2")


def driven(**figures: float) -> Design:
    """An hour of driving that begins with every battery at half, the auxiliary one with its own figures."""
    cold = figures.pop("battery_c", 25.0)
    return day(with_battery(SOUND, **figures), ("driving", 60), start_ratio=0.5, battery_c=cold)


def test_a_battery_takes_as_much_as_its_data_sheet_says() -> None:
    # 0.2 and 0.1 of 100 Ah in an hour, from 50 Ah that are missing: 70 and 60 are there then, 95 % of what it took
    assert end_ratio(driven()) == pytest.approx(0.7, abs=0.01)
    assert end_ratio(driven(acceptance_per_h=0.1)) == pytest.approx(0.6, abs=0.01)


def test_below_its_least_temperature_it_takes_nothing_and_above_it_does() -> None:
    assert end_ratio(driven(least_charge_c=0.0, battery_c=-5.0)) <= 0.5
    assert end_ratio(driven(least_charge_c=-10.0, battery_c=-5.0)) > 0.6
    assert end_ratio(driven(least_charge_c=0.0)) == pytest.approx(end_ratio(driven()))


def test_the_cold_is_no_finding_where_nothing_charges() -> None:
    still = day(with_battery(SOUND, least_charge_c=0.0), ("watch", 30), battery_c=-5.0)

    assert "battery-too-cold-to-charge" not in {finding.id for finding in assess(still).findings}


def test_a_battery_that_switches_itself_off_serves_nothing_after_it() -> None:
    whole = profile(day(SOUND, ("watch", 300)))
    cut = profile(day(with_battery(SOUND, cut_off_v=12.5), ("watch", 300)))  # reached with 74 % left

    assert cut.load_ah < 0.9 * whole.load_ah
    end = next(bank.end_ratio for bank in cut.batteries if bank.key == "BAT2")
    assert end > next(bank.end_ratio for bank in whole.batteries if bank.key == "BAT2")
    assert abs(cut.difference_ah) < 1e-6


def test_a_cut_off_that_is_not_reached_changes_nothing() -> None:
    assert profile(day(with_battery(SOUND, cut_off_v=10.0), ("watch", 60))) == profile(day(SOUND, ("watch", 60)))


def test_days_of_standing_count_what_the_battery_loses_by_itself() -> None:
    # 40 % of 100 Ah over 24 × 0.010 A and 0.5 % of 100 Ah a day: 40 / 0.74 = 54.05 d
    design = with_battery(SOUND, self_discharge_per_day_ratio=0.005)

    assert assess(design).energy.key_off_days == pytest.approx(40 / 0.74)
    assert explain(design, "key-off-days").result == pytest.approx(40 / 0.74)


@pytest.mark.parametrize(
    ("name", "value"),
    [("acceptance_per_h", 0.0), ("least_charge_c", 90.0), ("cut_off_v", 0.0), ("self_discharge_per_day_ratio", 0.2)],
)
def test_a_figure_out_of_range_is_named(name: str, value: float) -> None:
    with pytest.raises(OutOfRange, match=name):
        BatterySpec(
            capacity_ah=100.0, rated_hours=20.0, peukert_exponent=1.0, internal_mohm=5.0, open_circuit_v=12.8,
            usable_ratio=0.5, **{name: value},
        )  # fmt: skip
