"""Drawings made from numbers: what they say, where they stand, and that nothing untrusted gets in."""

import re
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builds.drawings.fuses import BODIES, NO_BODY, colour_name, draw_blade_fuse, draw_fuse_chip
from builds.drawings.ladder import STAGES, UnknownStage, draw_ladder, ladder_words
from builds.drawings.margin_bar import (
    NEAR,
    NOT_MEASURED,
    OVER,
    WITHIN,
    UnknownLimitKind,
    draw_margin_bar,
    figure,
    margin_of,
    margin_words,
)
from builds.drawings.mark import draw_mark
from builds.drawings.palette import PRINT, SCREEN
from builds.drawings.progress import PhaseCount, draw_limit_bar, draw_phase_boxes, draw_progress, draw_step_ruler
from builds.drawings.shapes import STATES, UnknownShape, draw_shape, state_named
from builds.drawings.svg import drawing, element, words
from builds.drawings.wires import UnknownWireColour, draw_wire_swatch, wire_colours, wire_words
from builds.engineering.wire_colours import WIRE_COLOURS

SVG = "{http://www.w3.org/2000/svg}"


def parts(svg: str) -> list[ElementTree.Element]:
    return list(ElementTree.fromstring(svg).iter())


def of_class(svg: str, name: str) -> list[ElementTree.Element]:
    return [part for part in parts(svg) if name in part.get("class", "").split()]


# ---- margins ----


@pytest.mark.parametrize(
    ("used", "limit", "kind", "state", "said"),
    [
        pytest.param(70, 100, "at_most", WITHIN, "30 A left of 100", id="well within"),
        pytest.param(95, 100, "at_most", WITHIN, "5 A left of 100", id="five per cent left is not near"),
        pytest.param(95.1, 100, "at_most", NEAR, "4.9 A left of 100", id="under five per cent is near"),
        pytest.param(100, 100, "at_most", NEAR, "0 A left of 100", id="at the limit keeps it"),
        pytest.param(100.001, 100, "at_most", OVER, "0.001 A over 100", id="over by little is never 0 over"),
        pytest.param(300, 100, "at_most", OVER, "200 A over 100", id="far over"),
        pytest.param(27, 24, "at_least", WITHIN, "3 A past 24", id="at least, past"),
        pytest.param(24, 24, "at_least", NEAR, "0 A past 24", id="at least, at the limit"),
        pytest.param(20, 24, "at_least", OVER, "4 A short of 24", id="at least, short"),
        pytest.param(None, 35, "at_most", NOT_MEASURED, "Not measured", id="nobody measured"),
        pytest.param(0, 35, "at_most", WITHIN, "35 A left of 35", id="zero is a reading"),
        pytest.param(3, 0, "at_most", OVER, "3 A over 0", id="limit of nothing"),
    ],
)
def test_margin_says_what_is_left(used: float | None, limit: float, kind: str, state: str, said: str) -> None:
    margin = margin_of(used, limit, kind=kind)

    assert margin.state == state
    assert margin_words(margin, unit="A") == said


def test_margin_near_ratio_is_a_setting() -> None:
    assert margin_of(89, 100, near_ratio=0.10).state == WITHIN
    assert margin_of(91, 100, near_ratio=0.10).state == NEAR


def test_margin_unknown_kind_is_named() -> None:
    with pytest.raises(UnknownLimitKind, match="between"):
        margin_of(1, 2, kind="between")


@pytest.mark.parametrize("used", [float("nan"), float("inf")])
def test_margin_without_a_figure_is_refused(used: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        margin_of(used, 2)


def test_margin_bar_within_is_solid_between_figure_and_post() -> None:
    svg = draw_margin_bar(margin_of(50, 100), width_px=102)

    (left,) = of_class(svg, "f-good")
    post = 84 + 1  # the post stands at 84 % of 100 px, one pixel in
    assert float(left.get("x", "")) == pytest.approx(1 + 42)
    assert float(left.get("x", "")) + float(left.get("width", "")) == pytest.approx(post)


def test_margin_bar_near_is_outlined_in_care() -> None:
    (left,) = of_class(draw_margin_bar(margin_of(99.9, 100)), "f-care-f")

    assert "s-care" in left.get("class", "")
    assert float(left.get("width", "")) >= 3  # a little left must still be seen


def test_margin_bar_over_is_hatched_past_the_post() -> None:
    svg = draw_margin_bar(margin_of(110, 100), width_px=102)

    box, hatch = of_class(svg, "s-stop")
    assert float(box.get("x", "")) == pytest.approx(85)
    assert hatch.get("d", "").count("M") >= 2
    assert not of_class(svg, "f-good")


def test_margin_bar_far_over_stays_inside_its_drawing() -> None:
    box, _ = of_class(draw_margin_bar(margin_of(9000, 100), width_px=140), "s-stop")

    assert float(box.get("x", "")) + float(box.get("width", "")) <= 140


def test_margin_bar_foot_points_to_the_allowed_side() -> None:
    """At most: the foot turns left; at least: right."""

    def foot(kind: str) -> float:
        svg = draw_margin_bar(margin_of(50, 100, kind=kind))
        post = next(part for part in parts(svg) if part.get("d", "").count("V") and "H" in part.get("d", ""))
        numbers = [float(n) for n in re.findall(r"-?[\d.]+", post.get("d", ""))]
        return numbers[-1] - numbers[0]

    assert foot("at_most") < 0 < foot("at_least")


def test_margin_bar_not_measured_is_dashed_and_has_no_fill() -> None:
    svg = draw_margin_bar(margin_of(None, 100))

    assert any(part.get("stroke-dasharray") for part in parts(svg))
    assert not of_class(svg, "f-good")


def test_margin_bar_marks_the_last_revision() -> None:
    assert not of_class(draw_margin_bar(margin_of(50, 100)), "f-act")
    assert len(of_class(draw_margin_bar(margin_of(50, 100), revised=60), "f-act")) == 1


finite = st.floats(min_value=-1e6, max_value=1e6, allow_nan=False)


@given(used=st.none() | finite, limit=finite, kind=st.sampled_from(["at_most", "at_least"]), revised=st.none() | finite)
def test_margin_bar_never_leaves_its_frame(used: float | None, limit: float, kind: str, revised: float | None) -> None:
    svg = draw_margin_bar(margin_of(used, limit, kind=kind), revised=revised, width_px=140)

    for part in parts(svg):
        if part.tag == f"{SVG}rect":
            x, width = float(part.get("x", "")), float(part.get("width", ""))
            assert x >= 0 and width >= 0 and x + width <= 142
    assert "nan" not in svg and "inf" not in svg


@given(used=finite, limit=finite, kind=st.sampled_from(["at_most", "at_least"]))
def test_margin_words_agree_with_the_state(used: float, limit: float, kind: str) -> None:
    margin = margin_of(used, limit, kind=kind)

    assert ((" over " in margin_words(margin)) or (" short of " in margin_words(margin))) == (margin.state == OVER)


@pytest.mark.parametrize(
    ("value", "places", "said"),
    [
        (1210, None, "1,210"),
        (4.105, 1, "4.1"),
        (-0.0, 1, "0.0"),
        (-0.04, 1, "0.0"),
        (-2.5, None, "-2.5"),
        (0.5, 2, "0.50"),
    ],
)
def test_figure_is_written_for_reading(value: float, places: int | None, said: str) -> None:
    assert figure(value, places=places) == said


# ---- states ----


def test_every_state_has_its_own_word_and_a_hidden_shape() -> None:
    for name, state in STATES.items():
        svg = draw_shape(name)
        assert ElementTree.fromstring(svg).get("aria-hidden") == "true"
        assert state.word


def test_shapes_differ_without_colour() -> None:
    """The word's colour may be lost: the drawn outlines alone must tell one group of states from another."""

    def outline(name: str) -> tuple[tuple[str, ...], ...]:
        return tuple(
            (p.tag, *(p.get(k, "") for k in ("d", "r", "x", "width", "stroke-dasharray")))
            for p in parts(draw_shape(name))[1:]
        )

    groups = {state.outline: outline(name) for name, state in STATES.items()}
    assert len(set(groups.values())) == len(groups) == 12


def test_changed_is_never_filled_nor_coloured() -> None:
    """Caution and Changed are both triangles; this keeps them apart."""
    (triangle,) = [part for part in parts(draw_shape("changed")) if part.tag == f"{SVG}path"]

    assert triangle.get("fill") == "none"
    assert triangle.get("class") == "s-text"


def test_state_named_takes_words_as_people_write_them() -> None:
    assert state_named("At risk") is state_named("at-risk") is STATES["at_risk"]


def test_unknown_state_names_the_known_ones() -> None:
    with pytest.raises(UnknownShape, match=r"'splendid'.*blocking"):
        draw_shape("splendid")


# ---- ladder ----


@pytest.mark.parametrize("stage", STAGES)
def test_ladder_has_eight_rungs_and_one_arrow(stage: str) -> None:
    svg = draw_ladder(stage)
    passed = STAGES.index(stage)

    assert len(of_class(svg, "f-text")) == passed
    assert len(of_class(svg, "f-act")) == 1
    assert len(of_class(svg, "s-edge")) == 7 - passed


def test_ladder_on_hold_hollows_the_arrow_and_says_why() -> None:
    svg = draw_ladder("approved", on_hold=True)

    assert not of_class(svg, "f-act")
    assert len(of_class(svg, "s-act")) == 1
    assert ladder_words("approved", on_hold=True, reason="buyer's radio") == "Approved, on hold: buyer's radio"


def test_ladder_cancelled_has_no_arrow_and_struck_rungs() -> None:
    svg = draw_ladder("cancelled")

    assert not of_class(svg, "s-act")
    assert len(of_class(svg, "s-edge")) == 8
    assert parts(svg)[-1].get("d", "").count("M") == 8


def test_ladder_unknown_stage_names_the_known_ones() -> None:
    with pytest.raises(UnknownStage, match=r"'shipping'.*intake"):
        draw_ladder("shipping")


# ---- wires ----


@pytest.mark.parametrize("code", sorted(WIRE_COLOURS))
def test_every_wire_colour_is_drawn(code: str) -> None:
    assert wire_words(code) == WIRE_COLOURS[code]
    assert draw_wire_swatch(code).count("<rect") == 2  # body and outline


def test_striped_wire_draws_its_stripe() -> None:
    assert draw_wire_swatch("wh/rd").count("<rect") == 3
    assert wire_words("WH/RD") == "white with a red stripe"


@pytest.mark.parametrize("code", ["XX", "WH/", "WH/RD/BK", "", "WH RD", "/"])
def test_unknown_wire_colour_says_what_to_write(code: str) -> None:
    with pytest.raises(UnknownWireColour, match=r"Use BK, .*WH/RD"):
        wire_colours(code)


# ---- fuses ----


def test_fuse_colour_belongs_to_a_family() -> None:
    """A 50 A MAXI and a 10 A blade are both red; a MIDI has no colour, and a rating alone has none either."""
    assert colour_name(10, "ATO") == colour_name(50, "MAXI") == "red"
    assert colour_name(50, "MIDI") == colour_name(50, "") == ""
    assert NO_BODY in draw_fuse_chip(50, family="MIDI")
    assert BODIES["red"] in draw_fuse_chip(10, family="ato")


def test_fuse_own_colour_goes_before_the_code() -> None:
    assert BODIES["blue"] in draw_fuse_chip(10, family="ATO", colour="Blue")


def test_every_coded_colour_has_a_drawn_body() -> None:
    from builds.engineering.tables.loader import load_table

    assert {row["colour"] for row in load_table("device_ratings").rows if row["colour"]} <= set(BODIES)


def test_fuse_says_its_figure_to_a_screen_reader() -> None:
    assert ElementTree.fromstring(draw_fuse_chip(7.5, family="ATO")).get("aria-label") == "7.5 A fuse, brown"
    assert ElementTree.fromstring(draw_blade_fuse(200)).get("aria-label") == "200 A"


# ---- progress ----


def test_progress_of_an_unknown_total_is_empty() -> None:
    assert not of_class(draw_progress(3, 0), "f-text")


def test_progress_past_its_total_stays_inside() -> None:
    (fill,) = of_class(draw_progress(30, 24, width_px=240), "f-text")
    assert float(fill.get("width", "")) == 240


def test_step_ruler_has_a_box_a_step() -> None:
    svg = draw_step_ruler(
        [PhaseCount(name="Strip", done=3, total=3), PhaseCount(name="Wire", done=1, total=4, present=1)]
    )

    assert len(of_class(svg, "f-text")) == 4
    assert len(of_class(svg, "f-act")) == 1
    assert len(of_class(svg, "s-text")) == 2


def test_limit_bar_over_turns_to_stop() -> None:
    assert of_class(draw_limit_bar(5.5, 5.0), "f-stop")
    assert of_class(draw_limit_bar(4.5, 5.0), "f-text")


# ---- elements ----

EVERY_DRAWING = [
    *(lambda p, n=name: draw_shape(n, palette=p) for name in STATES),
    lambda p: draw_ladder("in_work", palette=p),
    lambda p: draw_margin_bar(margin_of(5.5, 5), revised=4, palette=p),
    lambda p: draw_margin_bar(margin_of(4.9, 5), palette=p),
    lambda p: draw_wire_swatch("WH/RD", palette=p),
    lambda p: draw_fuse_chip(10, family="ATO"),
    lambda p: draw_blade_fuse(10, family="ATO", palette=p),
    lambda p: draw_progress(1, 2, palette=p),
    lambda p: draw_phase_boxes([PhaseCount(name="a", done=1, total=2)], palette=p),
    lambda p: draw_step_ruler([PhaseCount(name="a", done=1, total=2, present=1)], palette=p),
    lambda p: draw_mark(palette=p),
]


@pytest.mark.parametrize("draw", EVERY_DRAWING)
def test_drawing_on_paper_is_literal_and_equal_in_form(draw) -> None:  # type: ignore[no-untyped-def]
    """Some PDF renderers do not resolve var() or classes inside SVG, so paper gets literal colours only."""
    screen, paper = draw(SCREEN), draw(PRINT)

    assert "var(" not in paper and "var(" not in screen
    assert not re.search(r'class="[^"]*\b[fs]-', paper)
    assert len(parts(screen)) == len(parts(paper))
    assert draw(PRINT) == paper  # equal input, equal bytes


@pytest.mark.parametrize("draw", EVERY_DRAWING)
def test_drawing_keeps_the_content_policy(draw) -> None:  # type: ignore[no-untyped-def]
    for part in parts(draw(SCREEN)):
        assert not [name for name in part.attrib if name == "style" or name.startswith("on") or name == "id"]


@pytest.mark.parametrize("name", ["style", "onload", "onclick"])
def test_element_refuses_what_the_policy_forbids(name: str) -> None:
    with pytest.raises(ValueError, match=name):
        element("rect", **{name: "x"})


def test_words_and_values_are_escaped() -> None:
    svg = drawing(element("text", words("<script>alert(1)</script>"), x=0), width=1, height=1, title='"><b>&')

    assert "<script" not in svg and "<b>" not in svg
    assert ElementTree.fromstring(svg).get("aria-label") == '"><b>&'
