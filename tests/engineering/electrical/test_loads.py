"""Mean, RMS and peak, and how a load's current follows its voltage."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builds.engineering.electrical.loads import (
    add_currents,
    current_at_voltage_a,
    duty_ratio,
    load_currents,
    worst_current_a,
)
from builds.engineering.errors import OutOfRange
from builds.engineering.vocabulary import LoadModel

amperes = st.floats(0.01, 200)
duties = st.floats(0.01, 1)


def test_six_amperes_at_forty_percent() -> None:
    # mean 6 x 0.4 = 2.4; RMS 6 x sqrt(0.4) = 3.795; sizing the fuse on the mean would undersize it by a third
    currents = load_currents(current_a=6, duty_ratio=0.4, can_be_steady=False)

    assert currents.mean_a == pytest.approx(2.4)
    assert currents.rms_a == pytest.approx(3.795, abs=5e-4)
    assert currents.peak_a == 6
    assert currents.sizing_a == currents.rms_a


def test_what_can_be_steady_is_sized_steady() -> None:
    assert load_currents(current_a=6, duty_ratio=0.4, can_be_steady=True).sizing_a == 6


def test_a_steady_load_is_one_current() -> None:
    currents = load_currents(current_a=5, quantity=3, can_be_steady=False)

    assert currents.mean_a == currents.rms_a == currents.peak_a == currents.sizing_a == 15


def test_published_flash_pattern_duty() -> None:
    # NHTSA interpretation GF006498: on/off 200/250, 200/250, 200/850 ms -> 600 of 1950 ms lit
    assert duty_ratio(on_s=0.6, off_s=1.35) == pytest.approx(0.3077, abs=5e-5)


@given(amperes, duties)
def test_mean_is_never_above_rms_nor_rms_above_peak(current: float, duty: float) -> None:
    currents = load_currents(current_a=current, duty_ratio=duty, can_be_steady=False)

    assert currents.mean_a <= currents.rms_a * (1 + 1e-12)
    assert currents.rms_a <= currents.peak_a * (1 + 1e-12)


@given(amperes, st.integers(1, 40))
def test_rms_equals_the_root_mean_square_of_the_waveform(current: float, lit: int) -> None:
    wave = [current] * lit + [0.0] * (40 - lit)
    rms = math.sqrt(sum(value**2 for value in wave) / 40)

    assert load_currents(current_a=current, duty_ratio=lit / 40, can_be_steady=False).rms_a == pytest.approx(rms)


@given(st.lists(st.tuples(amperes, st.integers(1, 12), st.integers(0, 11)), min_size=1, max_size=5))
def test_added_rms_bounds_the_waves_however_they_fall_together(lights) -> None:
    total = [0.0] * 12
    for current, lit, shift in lights:
        for step in range(lit):
            total[(step + shift) % 12] += current
    bound = add_currents(load_currents(current_a=c, duty_ratio=n / 12, can_be_steady=False) for c, n, _ in lights)

    assert math.sqrt(sum(value**2 for value in total) / 12) <= bound.rms_a * (1 + 1e-12)
    assert max(total) <= bound.peak_a * (1 + 1e-12)
    assert sum(total) / 12 == pytest.approx(bound.mean_a)


def test_nothing_added_is_nothing() -> None:
    assert add_currents([]).peak_a == 0


# 10 A at 12.8 V, seen at 11.2 V: unchanged; 10 x 11.2 / 12.8 = 8.75; 128 W / 11.2 V = 11.43
@pytest.mark.parametrize(
    ("model", "current"),
    [(LoadModel.CONSTANT_CURRENT, 10), (LoadModel.RESISTIVE, 8.75), (LoadModel.CONSTANT_POWER, 11.42857)],
)
def test_current_at_another_voltage(model: LoadModel, current: float) -> None:
    assert current_at_voltage_a(model=model, current_a=10, at_v=12.8, voltage_v=11.2) == pytest.approx(current)


@given(st.sampled_from(LoadModel), amperes, st.floats(5, 60), st.floats(5, 60))
def test_a_reading_rescaled_there_and_back_is_the_reading(
    model: LoadModel, current: float, at: float, other: float
) -> None:
    there = current_at_voltage_a(model=model, current_a=current, at_v=at, voltage_v=other)

    assert current_at_voltage_a(model=model, current_a=there, at_v=other, voltage_v=at) == pytest.approx(current)


def test_worst_current_is_at_the_low_end_for_power_and_the_high_end_for_resistance() -> None:
    def worst(model: LoadModel) -> float:
        return worst_current_a(model=model, current_a=10, at_v=12, low_v=11, high_v=14.4)

    assert worst(LoadModel.CONSTANT_POWER) == pytest.approx(120 / 11)
    assert worst(LoadModel.RESISTIVE) == pytest.approx(12)
    assert worst(LoadModel.CONSTANT_CURRENT) == 10


@pytest.mark.parametrize(
    "call",
    [
        lambda: load_currents(current_a=-1, can_be_steady=True),
        lambda: load_currents(current_a=1, duty_ratio=0, can_be_steady=True),
        lambda: load_currents(current_a=1, quantity=0, can_be_steady=True),
        lambda: duty_ratio(on_s=0, off_s=1),
        lambda: current_at_voltage_a(model=LoadModel.RESISTIVE, current_a=1, at_v=0, voltage_v=12),
        lambda: current_at_voltage_a(model=LoadModel.RESISTIVE, current_a=1, at_v=12, voltage_v=float("nan")),
    ],
)
def test_figures_out_of_range_are_refused(call) -> None:
    with pytest.raises(OutOfRange):
        call()
