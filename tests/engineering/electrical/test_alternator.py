"""What an alternator gives, from a rating (an estimate) or from a curve, and what is left of it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builds.engineering.electrical.alternator import OutputPoint, estimated_output, output_from_curve, source_margin
from builds.engineering.errors import OutOfRange

# A small diesel alternator, hot, in its maker's technical data (p. 83): alternator 1/min and amperes.
HOT = tuple(OutputPoint(speed_rpm=speed, output_a=output) for speed, output in ((1300, 16), (2500, 41), (5000, 48)))


def test_rated_240_a_at_idle_and_hot() -> None:
    # 240 x 0.5 x 0.85
    output = estimated_output(rated_a=240, output_ratio=0.5, hot_ratio=0.85)

    assert output.available_a == pytest.approx(102)
    assert output.estimate


def test_a_rating_mark_of_50_over_120_is_0_417_at_idle() -> None:
    # SAE J56 (1999) marks an alternator IL/IR, here 50/120 A
    assert estimated_output(rated_a=120, output_ratio=50 / 120).available_a == pytest.approx(50)


@pytest.mark.parametrize(("engine", "output"), [(520, 16), (1000, 41), (2000, 48), (4000, 48), (500, 0)])
def test_the_makers_curve_is_read_at_the_alternators_own_speed(engine: float, output: float) -> None:
    found = output_from_curve(curve=HOT, engine_rpm=engine, pulley_ratio=2.5)

    assert found.available_a == pytest.approx(output)
    assert not found.estimate


@given(st.floats(0, 4000), st.floats(0, 1000))
def test_more_speed_never_gives_less(engine: float, more: float) -> None:
    slow = output_from_curve(curve=HOT, engine_rpm=engine, pulley_ratio=2.5).available_a
    fast = output_from_curve(curve=HOT, engine_rpm=engine + more, pulley_ratio=2.5).available_a

    assert fast >= slow


def test_a_deficit_of_33_a_takes_33_ah_an_hour_from_the_battery() -> None:
    margin = source_margin(available_a=102, mean_a=135)

    assert margin.margin_a == -33
    assert margin.from_battery_ah_per_h == 33
    assert margin.margin_ratio == pytest.approx(-33 / 102)


def test_what_is_left_is_a_part_of_what_is_available() -> None:
    # 80 % rule: 240 A carries 192 A continuous with a fifth left
    margin = source_margin(available_a=240, mean_a=192)

    assert margin.margin_ratio == pytest.approx(0.2)
    assert margin.from_battery_ah_per_h == 0


@pytest.mark.parametrize(
    "call",
    [
        lambda: estimated_output(rated_a=0, output_ratio=0.5),
        lambda: estimated_output(rated_a=240, output_ratio=1.1),
        lambda: output_from_curve(curve=[], engine_rpm=700, pulley_ratio=2.5),
        lambda: output_from_curve(curve=HOT[::-1], engine_rpm=700, pulley_ratio=2.5),
        lambda: output_from_curve(curve=HOT, engine_rpm=-1, pulley_ratio=2.5),
        lambda: OutputPoint(speed_rpm=-1, output_a=1),
        lambda: source_margin(available_a=0, mean_a=1),
        lambda: source_margin(available_a=1, mean_a=float("nan")),
    ],
)
def test_figures_out_of_range_are_refused(call) -> None:
    with pytest.raises(OutOfRange):
        call()
