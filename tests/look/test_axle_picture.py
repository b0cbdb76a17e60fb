"""The axle picture: what it says of each axle, what is put on and taken off, and the balance of the sides."""

from dataclasses import replace
from xml.etree import ElementTree

import pytest

from builds.drawings.axle_picture import draw_axle_picture
from builds.drawings.palette import PRINT, SCREEN
from builds.engineering.assess import assess
from builds.engineering.assessment import WeightCase
from builds.engineering.design import Design
from tests.factories.designs import small_design

DESIGN = small_design()
SVG = "{http://www.w3.org/2000/svg}"


def drawn(design: Design = DESIGN, *cases: WeightCase) -> ElementTree.Element:
    assessment = assess(design)
    weight = replace(assessment.weight, cases=cases)
    return ElementTree.fromstring(draw_axle_picture(design, replace(assessment, weight=weight)))


def said(svg: ElementTree.Element) -> list[str]:
    return [text.text or "" for text in svg.iter(f"{SVG}text")]


def test_each_axle_stands_against_its_rating_in_the_builds_units() -> None:
    weight = assess(DESIGN).weight

    words = said(drawn())

    for load, rating in (
        (weight.front_axle_kg, weight.gawr_front_kg),
        (weight.rear_axle_kg, weight.gawr_rear_kg),
        (weight.gvwr_kg - weight.payload_left_kg, weight.gvwr_kg),
    ):
        pounds, limit = load / 0.45359237, rating / 0.45359237
        assert f"{pounds:,.0f} lb: {limit - pounds:,.0f} lb left of {limit:,.0f}" in words


def test_overloaded_axle_is_hatched_out_and_said_with_its_shape() -> None:
    platform = replace(DESIGN.platform, gawr_rear_kg=900.0)

    svg = drawn(replace(DESIGN, platform=platform))

    assert any("over 1,984" in words for words in said(svg))
    assert [box for box in svg.iter(f"{SVG}rect") if "s-stop" in box.get("class", "")]


def test_what_is_taken_off_points_up_dashed_and_counts_against() -> None:
    svg = drawn()

    words = [line for line in said(svg) if line[0] in "+−"]
    dashed = [path for path in svg.iter(f"{SVG}path") if path.get("stroke-dasharray") == "4 3"]
    assert any(line.startswith("−68") for line in words)  # the rear seat of 31 kg
    assert any(line.startswith("+45") for line in words)  # the roof bar of 18.5 kg with the radio of 2.1 kg near it
    assert len(dashed) == 1


@pytest.mark.parametrize(
    ("left", "right", "words"),
    [
        (1000.0, 1100.0, "4.8 % heavier on the right"),
        (1100.0, 1000.0, "4.8 % heavier on the left"),
        (900.0, 900.0, "even"),
    ],
)
def test_balance_of_the_sides_is_said_where_it_is_known(left: float, right: float, words: str) -> None:
    case = WeightCase(name="as built", front_axle_kg=1000, rear_axle_kg=1000, left_kg=left, right_kg=right)
    unknown = replace(case, left_kg=None, right_kg=None)

    assert words in said(drawn(DESIGN, case))
    assert not any("apart" in line for line in said(drawn(DESIGN, unknown)))


def test_balance_is_that_of_the_case_whose_sides_differ_most_and_over_its_limit_marked() -> None:
    even = WeightCase(name="as built", front_axle_kg=1000, rear_axle_kg=1000, left_kg=1000, right_kg=1000)
    tilted = replace(even, name="with people", left_kg=900, right_kg=1100)

    svg = drawn(DESIGN, even, tilted)

    assert {"10.0 % heavier on the right", "with people", "at most 5 % apart"} <= set(said(svg))
    assert [dot for dot in svg.iter(f"{SVG}circle") if dot.get("class") == "f-stop"]
    assert any(line.startswith("as built: front 2,205 lb") for line in said(svg))


def test_picture_without_parts_or_zones_is_still_whole() -> None:
    bare = replace(DESIGN, parts=(), platform=replace(DESIGN.platform, zones=(), no_mount_zones=()))
    svg = ElementTree.fromstring(draw_axle_picture(bare, assess(DESIGN)))

    assert "Added by the work: nothing" in ElementTree.tostring(svg, encoding="unicode")


def test_words_of_a_document_stay_words_and_print_has_literal_colours() -> None:
    zones = tuple(replace(zone, name=f"<script>{zone.name}") for zone in DESIGN.platform.zones)
    design = replace(DESIGN, platform=replace(DESIGN.platform, zones=zones))

    screen, paper = (draw_axle_picture(design, assess(design), palette=palette) for palette in (SCREEN, PRINT))

    assert "<script>" not in screen and "&lt;script&gt;" in screen
    assert 'class="f-' not in paper and "#12181b" in paper
