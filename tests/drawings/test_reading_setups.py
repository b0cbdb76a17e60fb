"""Sketches of how an instrument is set up: named for those who cannot see them, readable, within their paper."""

import re

import pytest

from builds.drawings.palette import PRINT
from builds.drawings.reading_setups import draw_setup

SETUPS = [
    ("stud/G2", "node:G2", "Voltmeter between the battery's negative post and G2"),
    ("volts/203", "circuit:203", "Voltmeter across the load of circuit 203"),
    ("battery/BAT2", "node:BAT2", "Voltmeter on both posts of BAT2"),
    ("key-off", "build", "Clamp ammeter around the battery's cable"),
    ("load/scene", "condition:scene", "Clamp ammeter around each feed in turn"),
    ("weigh/front", "build", "The front axle on a scale"),
    ("weigh/rear", "build", "The rear axle on a scale"),
]


@pytest.mark.parametrize(("key", "subject", "title"), SETUPS)
def test_sketch_is_named_and_says_what_it_is_about(key: str, subject: str, title: str) -> None:
    drawn = draw_setup(key, subject)

    assert f"<title>{title}</title>" in drawn
    assert "style=" not in drawn


@pytest.mark.parametrize(("key", "subject", "title"), SETUPS)
def test_sketch_writes_nothing_too_small_and_nothing_beside_its_paper(key: str, subject: str, title: str) -> None:
    drawn = draw_setup(key, subject, palette=PRINT)

    sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)"', drawn)]
    assert sizes and min(sizes) >= 13
    for x, y in re.findall(r'<text x="([\d.]+)" y="([\d.]+)"', drawn):
        assert 0 < float(x) < 358 and 0 < float(y) <= 121


def test_front_and_rear_axle_are_told_apart() -> None:
    assert draw_setup("weigh/front", "build") != draw_setup("weigh/rear", "build")


@pytest.mark.parametrize("key", ["op/O1", "legend/P1", "seal", "hold/final", ""])
def test_step_without_a_reading_has_no_sketch(key: str) -> None:
    assert draw_setup(key, "build") == ""


def test_names_are_escaped() -> None:
    assert "<script>" not in draw_setup("stud/x", "node:<script>")
