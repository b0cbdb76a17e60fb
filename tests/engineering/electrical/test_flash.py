"""What flashing lamps take together, against published patterns, hand sums and every millisecond."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builds.engineering.electrical.flash import FlashingLoad, flash_sum, lit_ratio, moments_of
from builds.engineering.electrical.loads import load_currents
from builds.engineering.errors import OutOfRange
from builds.engineering.functions.patterns import FlashPattern, FlashStep, level_at, most_together_ratio
from builds.engineering.functions.vocabulary import DimMethod


def pattern(*durations_ms: int, key: str = "p") -> FlashPattern:
    """Lit and dark by turns, lit first."""
    steps = (FlashStep(duration_ms=ms, level_percent=100 * (place % 2 == 0)) for place, ms in enumerate(durations_ms))
    return FlashPattern(key=key, steps=tuple(steps))


UNEVEN = pattern(200, 250, 200, 250, 200, 850)  # NHTSA interpretation letter GF006498: lit 30.77 % of the time
BURST = pattern(30, 45, 30, 45, 30, 45, 30, 745)  # NHTSA letter nht94-2.4: four pulses in 255 ms, then 745 ms dark
BLINK = pattern(300, 300)


def test_the_uneven_pattern_of_the_agency_letter() -> None:
    found = flash_sum([FlashingLoad(current_a=10.0, pattern=UNEVEN)])

    assert found.mean_a == pytest.approx(3.077, abs=5e-4)
    assert found.rms_a == found.heat_a == pytest.approx(10 * math.sqrt(0.30769), abs=1e-3)
    assert found.peak_a == 10.0


def test_the_burst_seen_as_one_flash() -> None:
    found = flash_sum([FlashingLoad(current_a=8.0, pattern=BURST)])

    assert found.mean_a == pytest.approx(8.0 * 0.120)  # four pulses of 30 ms in a second
    assert found.rms_a == pytest.approx(8.0 * math.sqrt(0.120))


def test_one_lamp_agrees_with_the_sums_of_a_duty() -> None:
    of_duty = load_currents(current_a=6.0, duty_ratio=0.4, can_be_steady=False)  # mean 2.4, RMS 3.8 (E1)

    found = flash_sum([FlashingLoad(current_a=6.0, pattern=pattern(400, 600))])

    assert (found.mean_a, found.rms_a, found.peak_a) == pytest.approx((of_duty.mean_a, of_duty.rms_a, of_duty.peak_a))


@pytest.mark.parametrize(
    ("phase", "sync", "peak", "rms"),
    [
        pytest.param(0, "bar", 12.0, 12 * math.sqrt(0.5), id="at once"),
        pytest.param(300, "bar", 6.0, 6.0, id="by turns"),
        pytest.param(150, "bar", 12.0, math.sqrt((0.25 * 144) + (0.5 * 36)), id="half a beat later"),
        pytest.param(300, "", 12.0, 12 * math.sqrt(0.5), id="no clock in common"),
    ],
)
def test_two_lamps_in_and_out_of_step(phase: int, sync: str, peak: float, rms: float) -> None:
    lamps = [FlashingLoad(current_a=6.0, pattern=BLINK, sync=sync, phase_ms=ms) for ms in (0, phase)]

    found = flash_sum(lamps)

    assert found.mean_a == pytest.approx(6.0)
    assert found.peak_a == pytest.approx(peak)
    assert found.rms_a == pytest.approx(rms)


def test_a_lamp_that_can_be_held_on_is_sized_as_held_on() -> None:
    held = flash_sum([FlashingLoad(current_a=6.0, pattern=BLINK, can_be_steady=True)])
    never = flash_sum([FlashingLoad(current_a=6.0, pattern=BLINK)])

    assert (held.sizing_a, never.sizing_a) == pytest.approx((6.0, 6.0 * math.sqrt(0.5)))
    assert held.mean_a == never.mean_a == pytest.approx(3.0)


def test_a_long_round_counts_by_its_worst_window() -> None:
    # 3 s on, 7 s off: over the round sqrt(0.3), but two seconds of it are all on; windows of 5 s see 3 of them
    slow = [FlashingLoad(current_a=10.0, pattern=pattern(3000, 7000))]

    assert flash_sum(slow).rms_a == pytest.approx(10 * math.sqrt(0.3))
    assert flash_sum(slow).heat_a == pytest.approx(10.0)
    assert flash_sum(slow, window_ms=5000).heat_a == pytest.approx(10 * math.sqrt(0.6))
    assert flash_sum(slow, window_ms=10_000).heat_a == pytest.approx(10 * math.sqrt(0.3))


def test_dimming_by_current_and_by_pulse_width_differ_in_heat_and_peak() -> None:
    by_current, by_width = (
        flash_sum([FlashingLoad(current_a=4.0, level_percent=25, dims_by=method)]) for method in DimMethod
    )

    assert (by_current.mean_a, by_current.rms_a, by_current.peak_a) == pytest.approx((1.0, 1.0, 1.0))
    assert (by_width.mean_a, by_width.rms_a, by_width.peak_a) == pytest.approx((1.0, 2.0, 4.0))


def test_steady_lamps_are_added_exactly_to_what_flashes() -> None:
    lamps = [FlashingLoad(current_a=6.0, pattern=BLINK), FlashingLoad(current_a=2.0), FlashingLoad(current_a=1.0)]

    found = flash_sum(lamps)

    assert (found.mean_a, found.peak_a) == pytest.approx((6.0, 9.0))
    assert found.rms_a == pytest.approx(math.sqrt((81 + 9) / 2))


def test_nothing_takes_nothing() -> None:
    found = flash_sum([])

    assert (found.mean_a, found.rms_a, found.heat_a, found.peak_a, found.sizing_a) == (0, 0, 0, 0, 0)


def test_patterns_of_one_clock_that_hardly_ever_meet_are_refused() -> None:
    lamps = [FlashingLoad(current_a=1.0, pattern=pattern(499, 498 + n, key=f"p{n}"), sync="s") for n in (1, 10)]

    with pytest.raises(OutOfRange, match="p1, p10"):
        flash_sum(lamps)


lamps = st.builds(
    FlashingLoad,
    current_a=st.sampled_from([0.5, 1.0, 2.5]),
    pattern=st.sampled_from([BLINK, UNEVEN, BURST, pattern(100, 200), None]),
    phase_ms=st.integers(0, 2000),
    sync=st.just("all"),
    level_percent=st.sampled_from([100, 40]),
)


@settings(max_examples=25)
@given(st.lists(lamps, min_size=1, max_size=3))
def test_a_sum_in_step_is_what_every_millisecond_shows(drawn: list[FlashingLoad]) -> None:
    found = flash_sum(drawn)

    whole_ms = math.lcm(*(lamp.pattern.period_ms if lamp.pattern else 1 for lamp in drawn))
    if whole_ms > 20_000:
        return
    seen = [
        sum(
            lamp.current_a * lamp.level_percent / 100
            * (1.0 if lamp.pattern is None else level_at(lamp.pattern, at_ms=ms, phase_ms=lamp.phase_ms) / 100)
            for lamp in drawn
        )
        for ms in range(max(whole_ms, 1))
    ]  # fmt: skip
    assert found.mean_a == pytest.approx(sum(seen) / len(seen))
    assert found.rms_a == pytest.approx(math.sqrt(sum(a * a for a in seen) / len(seen)))
    assert found.peak_a == pytest.approx(max(seen))


@settings(max_examples=25)
@given(st.lists(lamps, min_size=1, max_size=4))
def test_heat_lies_between_the_mean_and_the_peak(drawn: list[FlashingLoad]) -> None:
    apart = [FlashingLoad(current_a=lamp.current_a, pattern=lamp.pattern) for lamp in drawn]

    found = flash_sum(apart)

    assert found.mean_a <= found.rms_a * (1 + 1e-12) <= found.heat_a * (1 + 1e-9) <= found.peak_a * (1 + 1e-8)
    assert found.peak_a == pytest.approx(
        most_together_ratio(tuple((lamp.pattern, 0, "", lamp.current_a) for lamp in apart))
    )


@settings(max_examples=50, deadline=None)
@given(st.lists(lamps, min_size=1, max_size=4))
def test_the_moments_of_a_clock_reach_its_peak_and_no_more(drawn: list[FlashingLoad]) -> None:
    in_step = [replace(lamp, sync="one", pattern=lamp.pattern or pattern(50, 50)) for lamp in drawn]

    moments = list(moments_of(in_step))

    assert max(map(sum, moments)) == pytest.approx(flash_sum(in_step).peak_a)


def test_a_lamp_dimmed_by_current_draws_less_and_one_dimmed_by_pulses_draws_all() -> None:
    half = FlashingLoad(current_a=2.0, level_percent=50)

    assert lit_ratio(half, 100) == pytest.approx(0.5)
    assert lit_ratio(replace(half, dims_by=DimMethod.PULSE_WIDTH), 100) == 1.0
    assert lit_ratio(replace(half, dims_by=DimMethod.PULSE_WIDTH), 0) == 0.0
