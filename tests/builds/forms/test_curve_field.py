"""An alternator's curve as one line: what is shown can be typed again, and what cannot be read says how to write it."""

import pytest
from django.core.exceptions import ValidationError

from builds.engineering.design import AlternatorPoint
from builds.forms.curve_field import CurveField, curve_text

POINTS = (
    AlternatorPoint(speed_rpm=1800, ambient_c=25, output_a=95),
    AlternatorPoint(speed_rpm=6000, ambient_c=-12.5, output_a=140.5),
)


def test_what_is_shown_reads_back_as_it_was() -> None:
    text = curve_text(POINTS)

    assert text == "1800 rpm 25 °C 95 A; 6000 rpm -12.5 °C 140.5 A"
    assert tuple(AlternatorPoint(**values) for values in CurveField().clean(text)) == POINTS


@pytest.mark.parametrize(
    "text",
    ["1800\t25\t95\n6000\t-12.5\t140.5", "1800, 25, 95; 6000, -12.5, 140.5;", "1800rpm 25C 95A;6000rpm -12.5C 140.5A"],
)
def test_rows_of_a_spreadsheet_and_bare_figures_are_read(text: str) -> None:
    assert tuple(AlternatorPoint(**values) for values in CurveField().clean(text)) == POINTS


def test_an_empty_line_is_no_curve() -> None:
    assert CurveField(required=False).clean("  ") == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("1800 rpm 95 A", "Write it like this"),
        ("fast", "Write it like this"),
        ("40000 25 95", "its speed must be"),
        ("1800 300 95", "its temperature must be"),
        ("1800 25 -5", "its current must be"),
        ("1800 25 95; 1800 25 99", "stand here twice"),
    ],
)
def test_a_point_that_cannot_be_taken_is_quoted(text: str, said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        CurveField().clean(text)
