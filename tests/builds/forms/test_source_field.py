"""Sources of a condition as one line: what is shown can be typed again, and what cannot be read says how to write it."""

import pytest
from django.core.exceptions import ValidationError

from builds.engineering.design import SourceUse
from builds.forms.source_field import SourcesField, sources_text


@pytest.mark.parametrize(
    ("use", "text"),
    [
        (SourceUse(node="SH"), "SH on"),
        (SourceUse(node="SOL", available=False), "SOL off"),
        (SourceUse(node="ALT", low_v=13.2, high_v=14.8, limit_a=90.0), "ALT 13.2 to 14.8 V, 90 A"),
        (SourceUse(node="BAT 2", available=False), "BAT 2 off"),
        (SourceUse(node="BAT 2", low_v=12.2, high_v=12.8), "BAT 2 12.2 to 12.8 V"),
        (SourceUse(node="DC1", limit_a=37.5), "DC1 37.5 A"),
        (SourceUse(node="DC1", low_v=14.4, high_v=14.4), "DC1 14.4 V"),
    ],
)
def test_what_is_shown_reads_back_as_it_was(use: SourceUse, text: str) -> None:
    assert sources_text([use]) == text
    assert [SourceUse(**values) for values in SourcesField().clean(f" {text} ;")] == [use]


def test_an_empty_line_is_no_source() -> None:
    assert SourcesField(required=False).clean("  ") == []


@pytest.mark.parametrize("text", ["ALT", "ALT fourteen volts", "ALT 14 A V", "13.2 V"])
def test_a_piece_that_cannot_be_read_is_quoted_with_an_example(text: str) -> None:
    with pytest.raises(ValidationError, match="SH on"):
        SourcesField().clean(text)
