"""Conversions: exact by definition, and there and back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builds.engineering import units


def test_the_foot_and_the_pound_are_exact() -> None:
    # international yard and pound agreement, 1959
    assert units.metres_m(1) == 0.3048
    assert units.kilograms_kg(1) == 0.45359237


def test_a_circular_mil_is_the_area_of_a_mil_across() -> None:
    # electrical tables print 5.067075e-4 mm²
    assert units.square_millimetres_mm2(1) == pytest.approx(5.067075e-4, rel=1e-6)


def test_water_freezes_and_boils() -> None:
    assert units.celsius_from_fahrenheit_c(32) == 0
    assert units.celsius_from_fahrenheit_c(212) == pytest.approx(100)


def test_a_pull_of_300_lbf_in_newtons() -> None:
    # 300 x 4.4482216; one stored copy of a crimp table prints 1235 N, a misprint
    newtons = 300 * units.N_PER_LBF

    assert newtons == pytest.approx(1334.5, abs=0.05)


@given(st.floats(-1e6, 1e6))
def test_there_and_back_is_where_one_started(value: float) -> None:
    assert units.metres_m(units.feet_ft(value)) == pytest.approx(value, rel=1e-12)
    assert units.kilograms_kg(units.pounds_lb(value)) == pytest.approx(value, rel=1e-12)
    assert units.square_millimetres_mm2(units.circular_mils_cmil(value)) == pytest.approx(value, rel=1e-12)
