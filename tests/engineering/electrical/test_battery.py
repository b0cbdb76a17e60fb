"""Peukert in both its forms, reserve minutes, and where every ampere-hour goes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builds.engineering.electrical.battery import (
    check_reserve,
    discharge_at,
    one_ampere_form_h,
    peukert_exponent,
    rated_ah_estimate_ah,
    reserve_ah,
    source_default,
    time_to_empty_h,
)
from builds.engineering.errors import OutOfRange, UnknownTableEntry

capacities = st.floats(10, 500)
exponents = st.floats(1.0, 1.5)
currents = st.floats(0.01, 500)


# P1 and P2: two calculators' published examples, in the one-ampere form.
@pytest.mark.parametrize(("capacity", "k", "current", "hours"), [(250, 1.3, 20, 5.088631644), (100, 1.2, 5, 14.495593)])
def test_published_examples_of_the_one_ampere_form(capacity: float, k: float, current: float, hours: float) -> None:
    found = one_ampere_form_h(peukert_capacity_ah=capacity, peukert_exponent=k, current_a=current)

    assert found == pytest.approx(hours, rel=1e-7)


# P3 to P8, rated-hours form at 20 h: computed t = H (C / (I H))^k
@pytest.mark.parametrize(
    ("capacity", "k", "current", "hours", "delivered"),
    [
        pytest.param(100, 1.2, 5, 20.0, 100.0, id="P3"),
        pytest.param(100, 1.2, 10, 8.7055, 87.055, id="P4"),
        pytest.param(100, 1.2, 20, 3.7893, 75.786, id="P5"),
        pytest.param(100, 1.1, 10, 9.3303, 93.303, id="P6"),
        pytest.param(200, 1.15, 25, 6.9727, 174.317, id="P7"),
        pytest.param(75, 1.25, 12.5, 4.4405, 55.506, id="P8"),
    ],
)
def test_rated_hours_form(capacity: float, k: float, current: float, hours: float, delivered: float) -> None:
    found = discharge_at(capacity_ah=capacity, rated_hours=20, peukert_exponent=k, current_a=current)

    assert found.time_h == pytest.approx(hours, abs=5e-5)
    assert found.delivered_ah == pytest.approx(delivered, abs=5e-3 * current)


def test_p9_exponent_from_the_20_hour_rate_and_reserve_minutes() -> None:
    # 100 Ah at 20 h is 5 A for 20 h; RC 120 is 25 A for 2 h: k = ln 10 / ln 5
    found = peukert_exponent(first_current_a=5, first_time_h=20, second_current_a=25, second_time_h=2)

    assert found == pytest.approx(1.430677, abs=1e-6)


@given(capacities, currents)
def test_p10_an_ideal_battery_gives_its_capacity(capacity: float, current: float) -> None:
    hours = time_to_empty_h(capacity_ah=capacity, rated_hours=20, peukert_exponent=1.0, current_a=current)

    assert hours == pytest.approx(capacity / current)


def test_the_forms_are_not_the_same_law() -> None:
    # the classic mistake: 14.5 h where the battery's own label says 20 h
    rated = time_to_empty_h(capacity_ah=100, rated_hours=20, peukert_exponent=1.2, current_a=5)
    mixed_up = one_ampere_form_h(peukert_capacity_ah=100, peukert_exponent=1.2, current_a=5)

    assert rated == 20
    assert mixed_up == pytest.approx(14.5, abs=0.01)


def test_below_the_rated_current_the_label_is_the_most() -> None:
    # 70 Ah, k 1.2, 0.1 A: the bare law says 20 x 35^1.2 h = 59 days; the label holds 700 h = 29 days
    hours = time_to_empty_h(capacity_ah=70, rated_hours=20, peukert_exponent=1.2, current_a=0.1)

    assert hours == pytest.approx(700)
    assert 20 * 35**1.2 / 24 > 58


@given(capacities, exponents, currents, st.floats(0.05, 1.0))
def test_coulombs_are_conserved_with_peukerts_extra_apart(
    capacity: float, k: float, current: float, usable: float
) -> None:
    found = discharge_at(
        capacity_ah=capacity, rated_hours=20, peukert_exponent=k, current_a=current, usable_ratio=usable
    )

    assert found.delivered_ah == pytest.approx(current * found.time_h, rel=1e-12)
    assert found.delivered_ah + found.peukert_extra_ah + found.left_ah == pytest.approx(capacity, rel=1e-9)
    assert found.peukert_extra_ah >= -1e-9 * capacity


@given(capacities, exponents, currents, st.floats(1.001, 5))
def test_more_current_never_lasts_longer_nor_delivers_more(
    capacity: float, k: float, current: float, factor: float
) -> None:
    def at(amperes: float):
        return discharge_at(capacity_ah=capacity, rated_hours=20, peukert_exponent=k, current_a=amperes)

    less, more = at(current), at(current * factor)
    assert more.time_h < less.time_h
    assert more.delivered_ah <= less.delivered_ah * (1 + 1e-9)


def test_half_the_battery_lasts_half_as_long() -> None:
    whole = discharge_at(capacity_ah=100, rated_hours=20, peukert_exponent=1.2, current_a=30)
    half = discharge_at(capacity_ah=100, rated_hours=20, peukert_exponent=1.2, current_a=30, usable_ratio=0.5)

    assert half.time_h == pytest.approx(whole.time_h / 2)
    assert half.left_ah == 50


# Reserve capacity is minutes at 25 A, so ampere-hours are RC / 2.4 exactly; 0.6 RC is a rule of thumb.
@pytest.mark.parametrize(
    ("minutes", "delivered", "rated"),
    [(45, 18.75, 27), (90, 37.5, 54), (100, 41.67, 60), (120, 50, 72), (180, 75, 108)],
)
def test_reserve_minutes_in_ampere_hours(minutes: float, delivered: float, rated: float) -> None:
    assert reserve_ah(reserve_min=minutes) == pytest.approx(delivered, abs=5e-3)
    assert rated_ah_estimate_ah(reserve_min=minutes) == pytest.approx(rated)


# 60 A for 10 min is 10 Ah. Half of RC 180 is 37.5 Ah: within. Half of RC 45 is 9.375 Ah: not.
@pytest.mark.parametrize(("minutes", "allowed", "within"), [(180, 37.5, True), (45, 9.375, False), (48, 10.0, True)])
def test_engine_off_test_of_ten_minutes_on_half_the_reserve(minutes: float, allowed: float, within: bool) -> None:
    check = check_reserve(current_a=60, reserve_min=minutes)

    assert (check.used_ah, check.allowed_ah) == pytest.approx((10.0, allowed))
    assert check.within is within


def test_the_buyer_may_ask_for_another_test() -> None:
    check = check_reserve(current_a=60, reserve_min=180, test_min=30, usable_ratio=0.25)

    assert (check.used_ah, check.allowed_ah) == pytest.approx((30.0, 18.75))


def test_a_default_the_table_lacks_is_named() -> None:
    with pytest.raises(UnknownTableEntry, match="colour"):
        source_default("colour")


GOOD = {"capacity_ah": 100, "rated_hours": 20, "peukert_exponent": 1.2, "current_a": 5}


@pytest.mark.parametrize(
    "wrong",
    [{"capacity_ah": 0}, {"rated_hours": 0}, {"peukert_exponent": 0.9}, {"current_a": 0}, {"current_a": float("nan")}],
)
def test_a_discharge_out_of_range_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(OutOfRange):
        time_to_empty_h(**GOOD | wrong)


@pytest.mark.parametrize(
    "call",
    [
        lambda: discharge_at(**GOOD, usable_ratio=0),
        lambda: reserve_ah(reserve_min=-1),
        lambda: rated_ah_estimate_ah(reserve_min=-1),
        lambda: check_reserve(current_a=-1, reserve_min=60),
        lambda: check_reserve(current_a=1, reserve_min=60, usable_ratio=1.5),
        lambda: one_ampere_form_h(peukert_capacity_ah=0, peukert_exponent=1.2, current_a=5),
        lambda: peukert_exponent(first_current_a=5, first_time_h=20, second_current_a=5, second_time_h=2),
        lambda: peukert_exponent(first_current_a=5, first_time_h=0, second_current_a=25, second_time_h=2),
    ],
)
def test_figures_out_of_range_are_refused(call) -> None:
    with pytest.raises(OutOfRange):
        call()
