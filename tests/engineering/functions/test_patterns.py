"""Flash patterns: duty, flash rate and pulse rate apart, against the published patterns."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builds.engineering.errors import OutOfRange, UnknownTableEntry
from builds.engineering.functions.patterns import (
    FlashPattern,
    FlashStep,
    flash_figures,
    flash_limit,
    level_at,
    most_together_ratio,
)


def pattern(*durations_ms: int, key: str = "p") -> FlashPattern:
    """Lit and dark by turns, lit first."""
    steps = (FlashStep(duration_ms=ms, level_percent=100 * (place % 2 == 0)) for place, ms in enumerate(durations_ms))
    return FlashPattern(key=key, steps=tuple(steps))


def test_the_uneven_pattern_of_the_agency_letter() -> None:
    # NHTSA interpretation letter GF006498: 200/250, 200/250, 200/850 ms; 92.31 /min and 30.77 % computed from it.
    figures = flash_figures(pattern(200, 250, 200, 250, 200, 850))

    assert figures.flashes_per_min == pytest.approx(92.31, abs=0.005)
    assert figures.duty_ratio == pytest.approx(0.3077, abs=0.00005)
    assert not figures.is_even
    assert (figures.slowest_per_min, figures.fastest_per_min) == (
        pytest.approx(60_000 / 1050),
        pytest.approx(60_000 / 450),
    )


def test_a_burst_of_four_pulses_is_one_flash() -> None:
    # NHTSA letter nht94-2.4: four pulses in 255 ms, then 745 ms dark, seen as one flash; 15.69 Hz = 4 / 0.255 s.
    figures = flash_figures(pattern(30, 45, 30, 45, 30, 45, 30, 745))

    assert figures.flashes_per_min == 60
    assert figures.pulse_rate_hz == pytest.approx(15.69, abs=0.005)
    assert figures.pulses_per_min == 240
    assert figures.is_even


@pytest.mark.parametrize(("per_min", "hz"), [(60, 1), (75, 1.25), (120, 2), (125, 2.083), (150, 2.5), (240, 4)])
def test_rates_per_minute_and_per_second(per_min: int, hz: float) -> None:
    period_ms = round(60_000 / per_min)

    assert flash_figures(pattern(period_ms // 2, period_ms - period_ms // 2)).flashes_per_min / 60 == pytest.approx(
        hz, rel=1e-3
    )


def test_a_dimmed_step_counts_by_its_level() -> None:
    steps = (
        FlashStep(duration_ms=100),
        FlashStep(duration_ms=100, level_percent=30),
        FlashStep(duration_ms=200, level_percent=0),
    )

    assert flash_figures(FlashPattern(key="p", steps=steps)).duty_ratio == pytest.approx((100 + 30) / 400)


@given(st.lists(st.integers(1, 900), min_size=1, max_size=8), st.integers(0, 15))
def test_figures_do_not_depend_on_where_a_pattern_is_cut(pairs: list[int], turn: int) -> None:
    whole = pattern(*[ms for pair in pairs for ms in (pair, 1000 - pair)])
    turned = FlashPattern(
        key="p", steps=whole.steps[turn % len(whole.steps) :] + whole.steps[: turn % len(whole.steps)]
    )

    assert flash_figures(turned) == flash_figures(whole)


@given(st.lists(st.integers(1, 900), min_size=2, max_size=8))
def test_flashes_are_never_more_than_pulses_and_duty_is_the_lit_part(lit: list[int]) -> None:
    figures = flash_figures(pattern(*[ms for one in lit for ms in (one, 1000 - one)]))

    assert figures.flashes_per_min <= figures.pulses_per_min == 60
    assert figures.duty_ratio == pytest.approx(sum(lit) / (1000 * len(lit)))
    assert figures.slowest_per_min <= figures.flashes_per_min + 1e-9 <= figures.fastest_per_min + 2e-9


def test_a_pattern_is_lit_and_dark() -> None:
    with pytest.raises(OutOfRange, match="at least one lit and one dark"):
        FlashPattern(key="p", steps=(FlashStep(duration_ms=100), FlashStep(duration_ms=100)))


def test_limits_are_data_with_their_standing() -> None:
    assert (flash_limit("kkk-a-1822").least_per_min, flash_limit("kkk-a-1822").most_per_min) == (75, 125)
    assert flash_limit("kkk-a-1822").status == "confirmed"
    assert flash_limit("nfpa-1901").status == "memory"
    with pytest.raises(UnknownTableEntry, match="iso-1"):
        flash_limit("iso-1")


def test_a_phase_starts_a_pattern_later() -> None:
    blink = pattern(250, 750)

    assert [level_at(blink, at_ms=ms, phase_ms=250) for ms in (0, 249, 250, 499, 500, 1250)] == [0, 0, 100, 100, 0, 100]


def test_opposite_flashes_of_one_clock_never_meet_and_of_two_clocks_may() -> None:
    blink, slow = pattern(250, 250), pattern(500, 500)

    assert most_together_ratio(((blink, 0, "all", 2.0), (blink, 250, "all", 3.0))) == 3.0
    assert most_together_ratio(((blink, 0, "", 2.0), (blink, 250, "", 3.0))) == 5.0
    assert most_together_ratio(((blink, 0, "all", 2.0), (slow, 0, "all", 3.0))) == 5.0
    assert most_together_ratio(((blink, 0, "all", 2.0), (None, 0, "", 1.0))) == 3.0
