"""Key-off draw and days to stand, in plain ampere-hours."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builds.engineering.electrical.battery import rated_ah_estimate_ah
from builds.engineering.electrical.standing import standing_days_d, standing_draw_ah_per_d
from builds.engineering.errors import OutOfRange

capacities = st.floats(10, 500)
draws = st.floats(1e-3, 5)


# 50 mA is 1.2 Ah a day, 100 mA 2.4 Ah (the latter published in a battery maker's advice).
@pytest.mark.parametrize(("draw", "daily"), [(0.050, 1.2), (0.100, 2.4), (0, 0)])
def test_a_draw_in_ampere_hours_a_day(draw: float, daily: float) -> None:
    assert standing_draw_ah_per_d(draw_a=draw) == pytest.approx(daily)


# RC 110 -> 66 Ah (estimate) -> 26.4 Ah usable -> 22.0 days at 50 mA, 36.7 at 30 mA. The 40 % is a maker's bulletin.
@pytest.mark.parametrize(("draw", "days"), [(0.050, 22.0), (0.030, 36.7)])
def test_days_to_stand_by_the_makers_bulletin(draw: float, days: float) -> None:
    capacity = rated_ah_estimate_ah(reserve_min=110)

    assert standing_days_d(capacity_ah=capacity, draw_a=draw) == pytest.approx(days, abs=0.05)


def test_self_discharge_shortens_the_stand() -> None:
    # 0.4 x 100 / (24 x 0.05 + 0.001 x 100) = 40 / 1.3
    days = standing_days_d(capacity_ah=100, draw_a=0.05, self_discharge_per_day_ratio=0.001)

    assert days == pytest.approx(40 / 1.3)


def test_run_on_timers_are_taken_off_once() -> None:
    # a radio of 2 A that stays on for 2 h takes 4 of the 40 Ah
    assert standing_days_d(capacity_ah=100, draw_a=0.05, run_on_ah=4) == pytest.approx(36 / 1.2)


def test_timers_that_take_it_all_leave_no_days() -> None:
    assert standing_days_d(capacity_ah=100, draw_a=0.05, run_on_ah=41) == 0


def test_with_nothing_taken_there_is_no_number_of_days() -> None:
    assert standing_days_d(capacity_ah=100, draw_a=0) is None


@given(capacities, draws, st.floats(1.01, 3))
def test_twice_the_draw_is_half_the_days(capacity: float, draw: float, factor: float) -> None:
    once = standing_days_d(capacity_ah=capacity, draw_a=draw)
    more = standing_days_d(capacity_ah=capacity, draw_a=draw * factor)

    assert once is not None and more is not None
    assert more * factor == pytest.approx(once)


@pytest.mark.parametrize(
    "wrong",
    [
        {"capacity_ah": 0},
        {"draw_a": -0.1},
        {"usable_ratio": 0},
        {"self_discharge_per_day_ratio": 0.2},
        {"run_on_ah": -1},
    ],
)
def test_figures_out_of_range_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(OutOfRange):
        standing_days_d(**{"capacity_ah": 100, "draw_a": 0.05} | wrong)
