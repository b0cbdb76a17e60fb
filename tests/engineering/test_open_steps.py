"""Which steps may never be left open when a vehicle goes."""

import pytest

from builds.engineering.open_steps import why_never_open


@pytest.mark.parametrize(
    ("key", "words", "said"),
    [
        ("seal", ("Seal every body penetration",), "a sealed penetration"),
        ("device/P1", ("Check every device in P1",), "protection at the source"),
        ("function/1", ("Function test", "Stop lamps: lit"), "stop lamps"),
        ("op/O4", ("Refit the brake light",), "stop lamps"),
        ("op/O4", ("Fit the console", "Keep clear of the air bag"), "an airbag zone"),
        ("op/O4", ("Fit the console",), ""),
        ("legend/P1", ("Read the legends of P1",), ""),
        ("key-off", ("Measure the key-off draw",), ""),
    ],
)
def test_a_step_is_known_by_its_key_or_by_what_it_names(key: str, words: tuple[str, ...], said: str) -> None:
    assert why_never_open(key, words=words) == said


@pytest.mark.parametrize(
    ("of_limit_ratio", "said"),
    [
        (0.949, ""),
        (0.95, "a weight near its limit"),
        (1.1, "a weight near its limit"),
        (None, "a weight near its limit"),  # nobody knows how near it is
    ],
)
def test_a_weighing_may_stay_open_only_well_below_the_limit(of_limit_ratio: float | None, said: str) -> None:
    assert why_never_open("weigh/rear", words=(), of_limit_ratio=of_limit_ratio) == said
