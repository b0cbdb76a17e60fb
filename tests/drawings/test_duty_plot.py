"""Plots over time: everything inside, no text over another, and lines told apart without colour."""

from xml.etree import ElementTree

import pytest

from builds.drawings.duty_plot import Line, Panel, Stretch, Switching, draw_duty
from builds.drawings.palette import PRINT, SCREEN
from tests.drawings.boxes import overlapping_texts, text_boxes, view_box

HOURS = [hour / 4 for hour in range(97)]
PANELS = (
    Panel(
        "Charge, %",
        (Line("BAT1", HOURS, [100.0] * 97, 0), Line("BAT2", HOURS, [100 - hour * 2 for hour in HOURS], 1)),
        0.0,
        100.0,
        (("kept back 50 %", 50.0), ("kept back 60 %", 60.0)),
    ),
    Panel("Voltage at the battery, V", (Line("BAT1", HOURS, [12.8 - hour / 40 for hour in HOURS], 0),), 12.0, 14.0),
    Panel("Sources, A", (Line("give", HOURS, [0.0] * 97, 0), Line("could give", HOURS, [0.0] * 97, 1)), 0.0, 10.0),
)
STRETCHES = (Stretch("1", 0.0, 1.0), Stretch("2", 1.0, 1.05), Stretch("3", 1.05, 24.0))
SWITCHINGS = (Switching(12.0, sheds=True), Switching(23.0, sheds=False))


@pytest.mark.parametrize("width", [350.0, 1080.0])
def test_texts_lie_inside_and_on_no_other(width: float) -> None:
    svg = draw_duty("A day", PANELS, STRETCHES, SWITCHINGS, width_px=width, panel_px=120)

    assert [box.words for box in text_boxes(svg) if not box.inside(view_box(svg))] == []
    assert overlapping_texts(svg) == []


def test_lines_differ_by_their_dashes_and_say_their_names() -> None:
    svg = ElementTree.fromstring(draw_duty("A day", PANELS[:1], STRETCHES, ()))
    paths = [item for item in svg.iter("{http://www.w3.org/2000/svg}path") if item.get("stroke-linejoin")]

    assert [path.get("stroke-dasharray") for path in paths] == [None, "7 4"]
    assert {"BAT1", "BAT2"} <= {"".join(item.itertext()) for item in svg.iter("{http://www.w3.org/2000/svg}text")}


def test_what_is_shed_points_down_and_what_is_restored_points_up() -> None:
    svg = draw_duty("A day", PANELS, STRETCHES, SWITCHINGS)
    triangles = list(ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}polygon"))

    heights = [[float(corner.split(",")[1]) for corner in (item.get("points") or "").split()] for item in triangles]
    assert heights[0][0] > heights[0][1] and heights[1][0] < heights[1][1]


def test_a_drawing_is_named_and_paper_has_literal_colours() -> None:
    assert 'role="img" aria-label="A day"' in draw_duty("A day", PANELS, STRETCHES, SWITCHINGS, palette=SCREEN)
    assert 'class="f-' not in draw_duty("A day", PANELS, STRETCHES, SWITCHINGS, palette=PRINT)


def test_equal_input_gives_equal_bytes_and_few_points() -> None:
    many = [hour / 1000 for hour in range(24_000)]
    panel = Panel("V", (Line("BAT1", many, [12.8] * 24_000, 0),), 12.0, 14.0)

    svg = draw_duty("A day", (panel,), STRETCHES, ())

    assert svg == draw_duty("A day", (panel,), STRETCHES, ())
    assert len(svg) < 40_000


def test_nothing_to_draw_is_an_empty_drawing() -> None:
    assert draw_duty("Nothing", (), (), ()).startswith("<svg")
