"""Estimated widths against the font files themselves."""

import string

import pytest

from builds.drawings.text_width import shorten, width_of, wrap
from tests.drawings.boxes import true_width

PRINTABLE = "".join(char for char in string.printable if " " <= char <= "~")


@pytest.mark.parametrize("weight", [400, 600, 800])
def test_width_of_is_never_less_than_the_face_needs(weight: int) -> None:
    for char in PRINTABLE + "·×–é²Ω≤→":
        assert width_of(char, 1000, weight=weight) >= true_width(char, 1000, weight=weight) - 1.0, char


@pytest.mark.parametrize("weight", [400, 600, 800])
def test_width_of_letters_is_the_face_s_own(weight: int) -> None:
    for char in string.ascii_letters:
        assert width_of(char, 1000, weight=weight) == pytest.approx(true_width(char, 1000, weight=weight), abs=1.0)


def test_width_of_object_face_is_the_face_s_own() -> None:
    assert width_of("REAR WARNING", 12, mono=True) == pytest.approx(true_width("REAR WARNING", 12, mono=True), abs=0.01)


def test_wrap_breaks_at_spaces_and_keeps_every_word() -> None:
    lines = wrap("LOCKER LAMPS LEFT HAND SIDE", 92, 12, mono=True)

    assert " ".join(lines) == "LOCKER LAMPS LEFT HAND SIDE"
    assert all(width_of(line, 12, mono=True) <= 92 for line in lines)


def test_wrap_breaks_a_word_that_is_too_long() -> None:
    assert "".join(wrap("PREALARMCONTROLLER", 60, 12, mono=True)) == "PREALARMCONTROLLER"


def test_wrap_shortens_what_the_last_line_cannot_hold() -> None:
    lines = wrap("one two three four five six seven eight", 40, 12, most_lines=2)

    assert len(lines) == 2
    assert lines[-1].endswith("…")
    assert width_of(lines[-1], 12) <= 40


def test_shorten_leaves_a_text_that_fits() -> None:
    assert shorten("P2 Rear panel", 400, 13) == "P2 Rear panel"


def test_shorten_to_nothing_still_gives_an_ellipsis() -> None:
    assert shorten("Rear panel", 1, 13) == "…"
