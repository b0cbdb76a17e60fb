"""The plan from above: zones in their places, nothing on top of anything else, hatching where nothing is mounted."""

from dataclasses import replace
from pathlib import Path

import pytest

from builds.drawings.vehicle_places import frame_of, places_of
from builds.drawings.vehicle_plan import draw_vehicle_plan
from builds.engineering.design import Design
from builds.engineering.document import read_document
from tests.drawings.boxes import overlapping_texts, text_boxes, view_box
from tests.factories.assessments import sample_assessment
from tests.factories.designs import large_design, small_design

DEMO = Path(__file__).resolve().parents[2] / "demo"


def _crowded() -> Design:
    """Every zone at the same point."""
    design = large_design()
    zones = tuple(replace(zone, x_mm=1500, y_mm=0) for zone in design.platform.zones)
    return replace(design, platform=replace(design.platform, zones=zones))


DESIGNS = {"small": small_design(), "twelve panels": large_design(), "all zones at one point": _crowded()}


@pytest.mark.parametrize("design", DESIGNS.values(), ids=DESIGNS.keys())
@pytest.mark.parametrize("labels", [True, False], ids=["labels", "no labels"])
def test_draw_vehicle_plan_lets_no_two_texts_meet(design: Design, *, labels: bool) -> None:
    svg = draw_vehicle_plan(design, sample_assessment(design), labels=labels)

    assert overlapping_texts(svg) == []
    assert all(box.inside(view_box(svg)) for box in text_boxes(svg))


@pytest.mark.parametrize("name", ["2609-escort-car", "2612-incident-van", "2614-crew-cab-truck"])
@pytest.mark.parametrize("numbered", [True, False], ids=["numbered", "bare"])
def test_places_of_a_demo_build_touch_nowhere(name: str, *, numbered: bool) -> None:
    design = read_document((DEMO / f"{name}.json").read_text())
    places = places_of(design, frame_of(design), numbered=numbered)

    for index, place in enumerate(places):
        for other in places[index + 1 :]:
            apart = abs(place.x - other.x) >= (place.width + other.width) / 2
            assert apart or abs(place.y - other.y) >= (place.height + other.height) / 2, (place.name, other.name)


@pytest.mark.parametrize("design", DESIGNS.values(), ids=DESIGNS.keys())
def test_places_of_keeps_every_zone_apart_from_the_others(design: Design) -> None:
    places = places_of(design, frame_of(design), numbered=True)

    for index, place in enumerate(places):
        for other in places[index + 1 :]:
            apart = abs(place.x - other.x) >= (place.width + other.width) / 2
            assert apart or abs(place.y - other.y) >= (place.height + other.height) / 2


def test_draw_vehicle_plan_puts_the_right_side_at_the_top_and_the_front_at_the_left() -> None:
    places = {place.name: place for place in places_of(small_design(), frame_of(small_design()), numbered=True)}

    assert places["Locker 1"].at_y < places["Locker 2"].at_y  # locker 1 stands right of the centre line
    assert places["Grille"].at_x < places["Tailgate"].at_x


def test_draw_vehicle_plan_says_whom_to_ask_where_nothing_is_mounted() -> None:
    said = " ".join(box.words for box in text_boxes(draw_vehicle_plan(small_design())))

    assert "mount nothing" in said
    assert "body-builder guide" in said


def test_draw_vehicle_plan_prints_axle_loads_only_when_assessed() -> None:
    design = small_design()

    assert "of 5,203 lb" in draw_vehicle_plan(design, sample_assessment(design))
    assert "of 5,203 lb" not in draw_vehicle_plan(design)


def test_plain_vehicle_plan_has_no_word_in_it() -> None:
    assert text_boxes(draw_vehicle_plan(small_design(), plain=True)) == []
