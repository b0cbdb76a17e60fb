"""Figures as typed: a point for decimals, the build's own units, and nothing changed that nobody touched."""

from decimal import Decimal
from typing import Any

import pytest
from django import forms
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from builds.engineering.vocabulary import UnitSystem
from builds.forms.fields import CountField, FigureField, LengthField, MassField, MilliampereField, PercentField, plain

FEET = LengthField(UnitSystem.US, least=0, most=100)
METRES = LengthField(UnitSystem.METRIC, least=0, most=100)


@pytest.mark.parametrize(
    ("field", "typed", "stored"),
    [
        (FEET, "10", "3.048"),  # 1 ft = 0.3048 m exactly
        (FEET, " 12.5 ", "3.810"),
        (FEET, "0", "0.000"),
        (METRES, "3.048", "3.048"),
        (MassField(UnitSystem.US, least=0, most=20_000), "100", "45.359"),  # 1 lb = 0.45359237 kg exactly
        (MassField(UnitSystem.METRIC, least=0, most=20_000), "1.5", "1.500"),
        (PercentField(least=0.0001, most=1), "40", "0.4000"),
        (PercentField(least=0.0001, most=1), "33.33", "0.3333"),
        (MilliampereField(least=0, most=100), "8", "0.008"),
        (CountField(), "3", "3"),
        (CountField(), "3.0", "3"),
        (FigureField(decimals=3, least=0, most=2000), ".5", "0.500"),
    ],
)
def test_typed_figure_is_stored_in_si(field: FigureField, typed: str, stored: str) -> None:
    assert field.clean(typed) == Decimal(stored)


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        (FEET, "12,5", "Write the number with a point and no commas: 12.5 or 1200."),
        (FEET, "1,200", "Write the number with a point and no commas: 12.5 or 1200."),
        (FEET, "ten", "Type a number, such as 12.5."),
        (FEET, "inf", "Type a number, such as 12.5."),
        (FEET, "1e3", "Type a number, such as 12.5."),
        (FEET, "0x10", "Type a number, such as 12.5."),
        (FEET, "१२", "Type a number, such as 12.5."),
        (FEET, "12 ft", "Type a number, such as 12.5."),
        (FEET, "-0.1", "Type at least 0 ft."),
        (FEET, "328.09", "Type at most 328.08 ft."),
        (FEET, "", "Type a number."),
        (METRES, "1.2345", "Use at most 3 decimals."),
        (PercentField(least=0.0001, most=1), "12.345", "Use at most 2 decimals."),
        (MilliampereField(least=0, most=100), "0.5", "Type a whole number."),
        (CountField(), "1.5", "Type a whole number."),
        (CountField(), "10001", "Type at most 10000."),
    ],
)
def test_figure_that_cannot_be_taken_says_what_to_do(field: FigureField, typed: str, words: str) -> None:
    with pytest.raises(ValidationError) as refused:
        field.clean(typed)

    assert refused.value.messages == [words]


def test_optional_figure_may_stay_empty() -> None:
    assert FigureField(decimals=1, required=False).clean("  ") is None


@given(st.integers(min_value=0, max_value=100_000))
def test_metres_shown_in_metres_come_back_exactly(length_mm: int) -> None:
    stored = Decimal(length_mm) / 1000

    assert METRES.clean(METRES.shown(stored)) == stored


@given(st.integers(min_value=0, max_value=100_000))
def test_feet_shown_and_typed_again_stay_within_half_of_what_is_shown(length_mm: int) -> None:
    stored = Decimal(length_mm) / 1000
    shown = FEET.shown(stored)

    again = FEET.clean(shown) if Decimal(shown) <= Decimal("328.08") else stored

    assert abs(again - stored) <= Decimal("0.0021")  # half of 0.01 ft, and half a millimetre of storing
    assert FEET.shown(again) == shown


def test_form_shows_a_stored_figure_in_its_unit_and_what_was_typed_as_it_was_typed() -> None:
    class Form(forms.Form):
        length = LengthField(UnitSystem.US, least=0, most=100)

    assert 'value="12"' in str(Form(initial={"length": Decimal("3.658")})["length"])
    assert 'value="12,5"' in str(Form({"length": "12,5"}, initial={"length": Decimal("3.658")})["length"])


@pytest.mark.parametrize(
    ("value", "text"), [("0.000", "0"), ("100", "100"), ("1E+2", "100"), ("12.500", "12.5"), ("-0.0", "0")]
)
def test_plain_figure_has_no_exponent_and_no_trailing_zeros(value: Any, text: str) -> None:
    assert plain(Decimal(value)) == text
