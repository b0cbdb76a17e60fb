"""
Contrast is computed again from the stylesheet, by the formula of WCAG 2.

Floor pages are read at arm's length under roof lamps: text there needs 7 to 1 (WCAG 2.2, 1.4.6). Elsewhere text needs
4.5 to 1 (1.4.3), outlines of controls 3 to 1 (1.4.11).
"""

import re
from pathlib import Path

import pytest
from stylesheet import THEMES, block, colour, contrast, theme

from builds.drawings.fuses import _DARK_BODIES, _LIGHT_FIGURE, BODIES
from builds.drawings.palette import MEANINGS, OBJECT_INK, PRINT

FLOOR_TEXT = [
    ("text", "sheet"),
    ("text", "quiet"),
    ("text", "act-w"),
    ("text", "care-w"),
    ("text-2", "sheet"),
    ("text-2", "quiet"),
    ("act", "sheet"),
    ("act-on", "act"),
    ("stop", "sheet"),
    ("care", "sheet"),
    ("note", "sheet"),
    ("good", "sheet"),
]
OTHER_TEXT = [
    *((text, "bench") for text in ("text", "text-2", "act", "stop", "care", "note", "good")),
    *((text, "quiet") for text in ("act", "stop", "care", "note", "good")),
    ("stop", "stop-w"),
    ("care", "care-w"),
    ("note", "note-w"),
    ("good", "good-w"),
    ("act", "act-w"),
    ("text-2", "act-w"),
    ("stop", "act-w"),
    ("care", "act-w"),
]
EDGES = [
    ("edge", "sheet"),
    ("edge", "bench"),
    ("edge", "quiet"),
    ("edge", "act-w"),
    ("care", "sheet"),
    ("line", "sheet"),
]


def ratio(theme_name: str, front: str, back: str) -> float:
    tokens = theme(theme_name)
    return contrast(colour(front, tokens), colour(back, tokens))


def test_contrast_black_on_white_is_21() -> None:
    """The two ends of the scale that WCAG 2 itself names."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#808080", "#808080") == pytest.approx(1.0)


@pytest.mark.parametrize("theme_name", THEMES)
@pytest.mark.parametrize(("front", "back"), FLOOR_TEXT)
def test_floor_text_reads_at_seven_to_one(theme_name: str, front: str, back: str) -> None:
    assert ratio(theme_name, front, back) >= 7.0


@pytest.mark.parametrize("theme_name", THEMES)
@pytest.mark.parametrize(("front", "back"), OTHER_TEXT)
def test_other_text_reads_at_four_and_a_half(theme_name: str, front: str, back: str) -> None:
    assert ratio(theme_name, front, back) >= 4.5


@pytest.mark.parametrize("theme_name", THEMES)
@pytest.mark.parametrize(("front", "back"), EDGES)
def test_outlines_read_at_three_to_one(theme_name: str, front: str, back: str) -> None:
    assert ratio(theme_name, front, back) >= 3.0


def test_dark_by_wish_and_by_choice_are_equal() -> None:
    wish = block(":root:not([data-theme])")
    choice = block(':root[data-theme="dark"]')

    assert wish == choice


def test_every_token_says_what_it_is_for() -> None:
    text = (Path(__file__).parents[2] / "config/static/css/tokens.css").read_text(encoding="utf-8")
    first_block = text[: text.index("/* ---- raw: dark")]
    declared = [line for line in first_block.splitlines() if line.strip().startswith("--")]

    assert len(declared) > 60
    assert [line for line in declared if "/*" not in line] == []


def test_every_meaning_of_a_drawing_is_a_token_and_a_class() -> None:
    """A drawing on a page writes ``f-good``; a class or token that is missing would draw it black."""
    tokens = block(":root")
    base = (Path(__file__).parents[2] / "config/static/css/base.css").read_text(encoding="utf-8")

    for meaning in MEANINGS:
        assert meaning in tokens
        assert f".f-{meaning} {{ fill: var(--{meaning}); }}" in base
        assert f".s-{meaning} {{ stroke: var(--{meaning}); }}" in base


def test_paper_prints_the_light_theme() -> None:
    """What is not ground is the same ink on paper as on a light screen."""
    tokens = theme("light")
    assert PRINT.colours is not None
    ground = {"sheet", "bench", "act-w", "stop-w", "care-w", "note-w", "good-w"}

    for meaning in set(MEANINGS) - ground:
        assert PRINT.colours[meaning] == colour(meaning, tokens)


@pytest.mark.parametrize("name", sorted(BODIES))
def test_fuse_figure_reads_on_its_body(name: str) -> None:
    ink = _LIGHT_FIGURE if name in _DARK_BODIES else OBJECT_INK
    assert contrast(ink, BODIES[name]) >= 4.5


def test_table_in_the_explanation_is_the_stylesheets() -> None:
    """The figures people read in docs/explanation/look.md are recomputed, light / dark."""
    page = (Path(__file__).parents[2] / "docs/explanation/look.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| ([a-z0-9-]+) on ([a-z0-9-]+) \| ([\d.]+) \| ([\d.]+) \|$", page, flags=re.M)

    assert len(rows) >= 20
    for front, back, light, dark in rows:
        assert (front, back, f"{ratio('light', front, back):.1f}") == (front, back, light)
        assert (front, back, f"{ratio('dark', front, back):.1f}") == (front, back, dark)


def test_no_shadow_no_pill_no_inline_colour() -> None:
    """Components speak in meanings: a literal colour or a shadow would escape the themes."""
    folder = Path(__file__).parents[2] / "config/static/css"
    for name in ("base", "components", "pages", "utilities"):
        text = re.sub(r"/\*.*?\*/", "", (folder / f"{name}.css").read_text(encoding="utf-8"), flags=re.S)
        assert not re.search(r"box-shadow|text-shadow|drop-shadow|#[0-9a-fA-F]{3,8}\b(?=\s*[;,)])|rgba?\(", text), name
        assert "999px" not in text
