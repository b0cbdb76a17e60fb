"""Panel maps: every position in its place, spare ones said, findings outlined."""

from dataclasses import replace

import pytest

from builds.drawings.panel_map import draw_panel_map
from builds.engineering.errors import UnknownTableEntry
from tests.drawings.boxes import overlapping_texts, text_boxes, view_box
from tests.factories.assessments import sample_assessment
from tests.factories.designs import large_design, small_design


def test_draw_panel_map_shows_every_circuit_and_says_spare() -> None:
    said = [box.words for box in text_boxes(draw_panel_map(small_design(), "P1"))]

    assert [word for word in said if word.isdigit() and 101 <= int(word) <= 110] == [str(n) for n in range(101, 111)]
    assert said.count("spare") == 2
    assert "door hinge at top" in said


def test_draw_panel_map_puts_positions_row_by_row() -> None:
    boxes = {box.words: box for box in text_boxes(draw_panel_map(small_design(), "P2"))}

    # four columns: 201 to 204 in the first row, 205 to 207 beneath
    assert boxes["201"].top == boxes["204"].top < boxes["205"].top
    assert boxes["201"].left < boxes["202"].left < boxes["203"].left
    assert boxes["205"].left == pytest.approx(boxes["201"].left, abs=1)


@pytest.mark.parametrize("key", [f"P{n}" for n in range(1, 13)])
def test_draw_panel_map_lets_no_two_texts_meet(key: str) -> None:
    svg = draw_panel_map(large_design(), key, sample_assessment(large_design()))

    assert overlapping_texts(svg) == []
    assert all(box.inside(view_box(svg)) for box in text_boxes(svg))


def test_draw_panel_map_outlines_only_a_blocking_finding() -> None:
    design = small_design()

    assert draw_panel_map(design, "P1", sample_assessment(design)).count("s-stop") >= 1
    assert draw_panel_map(design, "P2", sample_assessment(design)).count("s-stop") == 0


def test_draw_panel_map_shows_two_circuits_on_one_position() -> None:
    design = small_design()
    doubled = replace(design, circuits=(*design.circuits, replace(design.circuits[0], number="199")))

    assert "101 + 199" in [box.words for box in text_boxes(draw_panel_map(doubled, "P1"))]


def test_draw_panel_map_says_a_position_the_panel_does_not_have() -> None:
    design = small_design()
    beyond = replace(design, circuits=(*design.circuits, replace(design.circuits[0], number="199", position=14)))

    assert any("199 on position 14" in box.words for box in text_boxes(draw_panel_map(beyond, "P1")))


def test_draw_panel_map_refuses_an_unknown_panel() -> None:
    with pytest.raises(UnknownTableEntry):
        draw_panel_map(small_design(), "P99")
