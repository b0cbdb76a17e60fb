"""Axle loads, payload and the label threshold, against published examples."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builds.engineering.errors import OutOfRange
from builds.engineering.units import kilograms_kg, pounds_lb
from builds.engineering.weight import (
    PlacedMass,
    axle_shares,
    cargo_left_kg,
    label_threshold_kg,
    loaded_axles,
    payload_left_kg,
)

masses = st.floats(-2000, 2000)
places = st.floats(-2000, 8000)


def test_w1_body_builder_manual_example() -> None:
    # A truck maker's body-builder manual, p. 77: load 100 at 133, wheelbase 214. It prints rear 62.14 and front 38.86,
    # which add up to more than 100; 100 x 133 / 214 = 62.15 and 100 - 62.15 = 37.85. The front figure is a misprint.
    # Any unit will do: here tenths of the manual's, to stay in the range of a wheelbase.
    shares = axle_shares(mass_kg=100, x_mm=1330, wheelbase_mm=2140)

    assert shares.rear_kg == pytest.approx(62.15, abs=0.005)
    assert shares.front_kg == pytest.approx(37.85, abs=0.005)


def test_w2_several_loads_on_a_wheelbase_of_120() -> None:
    # published exercise (inputs): 4200 at 54, 600 at 92, 450 at 155, wheelbase 120. By hand:
    # rear = (4200 x 54 + 600 x 92 + 450 x 155) / 120 = 351750 / 120 = 2931.25; front = 5250 - 2931.25.
    loads = [PlacedMass(mass_kg=m, x_mm=10 * x) for m, x in ((4200, 54), (600, 92), (450, 155))]

    axles = loaded_axles(curb_front_kg=0, curb_rear_kg=0, wheelbase_mm=1200, masses=loads)

    assert axles.rear_kg == pytest.approx(2931.25)
    assert axles.front_kg == pytest.approx(2318.75)
    assert axles.total_kg == pytest.approx(5250)


# Owner's-manual boilerplate: capacity in lb, people, mass of each, what is left for cargo.
@pytest.mark.parametrize(
    ("capacity_lb", "people", "each_lb", "left_lb"),
    [(1400, 5, 150, 650), (1000, 2, 150, 700), (1000, 5, 150, 250), (1000, 5, 200, 0)],
)
def test_w3_cargo_left_of_a_load_capacity(capacity_lb: float, people: int, each_lb: float, left_lb: float) -> None:
    left = cargo_left_kg(capacity_kg=kilograms_kg(capacity_lb), seats=people, person_kg=kilograms_kg(each_lb))

    assert pounds_lb(left) == pytest.approx(left_lb, abs=1e-9)


def test_over_an_axle_that_axle_carries_all() -> None:
    assert axle_shares(mass_kg=80, x_mm=0, wheelbase_mm=3300).front_kg == 80
    assert axle_shares(mass_kg=80, x_mm=3300, wheelbase_mm=3300).rear_kg == 80


def test_ahead_of_the_front_axle_the_rear_is_lifted() -> None:
    # C = 1000 ahead: front gets W (C + WB) / WB = 60 x 4300 / 3300 = 78.18, rear loses W C / WB = 18.18
    shares = axle_shares(mass_kg=60, x_mm=-1000, wheelbase_mm=3300)

    assert shares.front_kg == pytest.approx(60 * 4300 / 3300)
    assert shares.rear_kg == pytest.approx(-60 * 1000 / 3300)


def test_behind_the_rear_axle_the_front_is_lifted() -> None:
    assert axle_shares(mass_kg=100, x_mm=4400, wheelbase_mm=3300).front_kg == pytest.approx(-100 / 3)


def test_taking_off_undoes_putting_on() -> None:
    on_and_off = [PlacedMass(mass_kg=45, x_mm=2500), PlacedMass(mass_kg=-45, x_mm=2500)]

    axles = loaded_axles(curb_front_kg=1200, curb_rear_kg=1000, wheelbase_mm=3300, masses=on_and_off)

    assert (axles.front_kg, axles.rear_kg) == pytest.approx((1200, 1000))


@given(masses, places, st.floats(1500, 6000))
def test_shares_add_up_and_moments_balance(mass: float, x: float, wheelbase: float) -> None:
    shares = axle_shares(mass_kg=mass, x_mm=x, wheelbase_mm=wheelbase)

    assert shares.total_kg == pytest.approx(mass, abs=1e-9)
    assert shares.rear_kg * wheelbase == pytest.approx(mass * x, abs=1e-6)


def test_payload_left_after_150_lb_a_seat() -> None:
    # 9,000 lb GVWR - 5,500 lb curb - 1,000 lb added - 5 x 150 lb = 1,750 lb
    left = payload_left_kg(gvwr_kg=kilograms_kg(9000), curb_kg=kilograms_kg(5500), added_kg=kilograms_kg(1000), seats=5)

    assert pounds_lb(left) == pytest.approx(1750)


def test_payload_can_be_overdrawn() -> None:
    assert payload_left_kg(gvwr_kg=2000, curb_kg=1800, added_kg=300, seats=2) < 0


# 49 CFR 571.110: the lesser of 1.5 % of GVWR and 100 lb; they meet at 100 / 0.015 = 6,667 lb.
@pytest.mark.parametrize(("gvwr_lb", "threshold_lb"), [(4000, 60), (6000, 90), (6667, 100), (6800, 100), (10000, 100)])
def test_label_threshold_is_the_lesser_of_the_two(gvwr_lb: float, threshold_lb: float) -> None:
    assert pounds_lb(label_threshold_kg(gvwr_kg=kilograms_kg(gvwr_lb))) == pytest.approx(threshold_lb, abs=0.01)


@pytest.mark.parametrize(
    "call",
    [
        lambda: axle_shares(mass_kg=10, x_mm=0, wheelbase_mm=0),
        lambda: axle_shares(mass_kg=float("nan"), x_mm=0, wheelbase_mm=3000),
        lambda: label_threshold_kg(gvwr_kg=0),
        lambda: cargo_left_kg(capacity_kg=100, seats=-1),
        lambda: loaded_axles(curb_front_kg=-1, curb_rear_kg=0, wheelbase_mm=3000, masses=[]),
        lambda: payload_left_kg(gvwr_kg=0, curb_kg=1, added_kg=0, seats=1),
    ],
)
def test_weights_out_of_range_are_refused(call) -> None:
    with pytest.raises(OutOfRange):
        call()
