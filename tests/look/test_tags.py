"""Template tags: what a page author writes and what the reader gets."""

from decimal import Decimal

import pytest
from django.template import Context, Template

from builds.drawings.shapes import UnknownShape


def rendered(text: str, **context: object) -> str:
    return Template("{% load shapes figures rail %}" + text).render(Context(context))


def test_state_is_a_shape_and_a_word() -> None:
    html = rendered('{% state "late" "Late 1 day" %}')

    assert html.count("<svg") == 1
    assert '<span class="state-word">Late 1 day</span>' in html


def test_state_without_a_word_uses_its_own() -> None:
    assert "Not measured" in rendered('{% state "not_measured" %}')


def test_mark_keeps_its_word_for_screen_readers() -> None:
    assert '<span class="unseen">Drop over the limit</span>' in rendered('{% mark "blocking" "Drop over the limit" %}')


def test_shape_of_an_unknown_state_fails_loudly() -> None:
    with pytest.raises(UnknownShape):
        rendered('{% shape "lovely" %}')


def test_words_in_tags_are_escaped() -> None:
    html = rendered(
        "{% state 'late' word %}{% ladder 'in_work' True word %}{% progress_bar 1 2 word %}{% wire_swatch word %}{{ word|vin_groups }}",
        word="<b>x</b>",
    )

    assert "<b>" not in html


def test_margin_takes_decimals_from_the_database() -> None:
    html = rendered('{% margin used limit "A" %}', used=Decimal("113.9"), limit=Decimal("118.000"))

    assert "4.1 A left of 118" in html


def test_margin_of_names_that_are_not_there_is_not_measured() -> None:
    assert "Not measured" in rendered('{% margin missing 35 "mA" places=missing revised=missing %}')


def test_vin_copies_as_seventeen_characters() -> None:
    import re

    html = rendered("{{ vin|vin_groups }}", vin="1M8GDM9AXKP042788")

    assert re.sub(r"<[^>]+>", "", html) == "1M8GDM9AXKP042788"
    assert re.findall(r'vin-group">([^<]+)<', html) == ["1M8", "GDM9AX", "KP042788"]


def test_match_says_each_in_words() -> None:
    html = rendered("{% match True False None %}")

    assert ["Vehicle" in html, "Parts" in html, "Gear" in html] == [True, True, True]
    assert html.index("here") < html.index("missing</span>") < html.index("not needed")


def test_wire_that_is_no_colour_keeps_its_letters() -> None:
    html = rendered('{% wire_swatch "xx/rd" %}')

    assert "XX/RD" in html
    assert "not a wire colour" in html


def test_nothing_known_is_a_dash_not_a_zero() -> None:
    assert rendered("{% fuse_chip None %}{% wire_swatch '' %}").count("–") == 2
    assert rendered("{{ value|figure:1 }}", value=None) == "not measured"


def test_print_palette_writes_literal_colours() -> None:
    html = rendered('{% state "caution" palette="print" %}{% margin 5.5 5 "%" palette="print" %}')

    assert "#a3260c" in html
    assert "f-stop" not in html
