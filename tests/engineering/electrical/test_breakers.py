"""Breakers of SAE J553 under a fault, without power, and with a hand on the button."""

import pytest

from builds.engineering.electrical.breakers import BreakerMoment, breaker_steps
from builds.engineering.electrical.protection import Reset

FAULT = BreakerMoment(fault=True)
DEAD = BreakerMoment(powered=False, fault=True)
HELD = BreakerMoment(fault=True, pressed=True)
MENDED = BreakerMoment()
PRESSED = BreakerMoment(pressed=True)


def trips(reset: Reset, *moments: BreakerMoment) -> list[bool]:
    return [step.tripped for step in breaker_steps(reset, moments)]


def closed(reset: Reset, *moments: BreakerMoment) -> list[bool]:
    return [step.closed for step in breaker_steps(reset, moments)]


@pytest.mark.parametrize(("reset", "expected"), [(Reset.ALONE, 4), (Reset.POWER_OFF, 1), (Reset.BY_HAND, 1)], ids=str)
def test_a_lasting_fault_is_fed_again_by_the_first_type_alone(reset: Reset, expected: int) -> None:
    assert sum(trips(reset, FAULT, FAULT, FAULT, FAULT)) == expected


def test_the_second_type_comes_back_with_the_power_and_trips_anew() -> None:
    assert trips(Reset.POWER_OFF, FAULT, FAULT, DEAD, FAULT) == [True, False, False, True]
    assert closed(Reset.POWER_OFF, FAULT, MENDED, DEAD, MENDED) == [False, False, True, True]


def test_the_third_type_outlasts_the_power_and_waits_for_a_hand() -> None:
    assert closed(Reset.BY_HAND, FAULT, DEAD, MENDED, PRESSED) == [False, False, False, True]


def test_a_button_held_under_a_fault_does_not_keep_the_third_type_closed() -> None:
    assert closed(Reset.BY_HAND, FAULT, HELD, HELD) == [False, False, False]


def test_without_a_fault_none_opens() -> None:
    for reset in Reset:
        assert closed(reset, MENDED, PRESSED, MENDED) == [True, True, True]
