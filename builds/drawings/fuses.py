"""Fuse chips and blade fuses in the trade's own colours, always with their figure."""

from collections.abc import Mapping
from types import MappingProxyType

from builds.drawings.palette import FACE, OBJECT_INK, SCREEN, Palette
from builds.drawings.svg import drawing, element, number, words

# Blade fuse bodies are colour coded by rating across makers (ISO 8820-3). Tints, so that a dark figure reads on each.
BODY_BY_RATING_A: Mapping[float, str] = MappingProxyType(
    {1: "#4a4f52", 2: "#b9bec1", 3: "#c3a6e0", 4: "#f3b6cc", 5: "#dcbd8c", 7.5: "#c98f5e", 10: "#f08b80", 15: "#8fbdec", 20: "#f4dc55", 25: "#f5f5f0", 30: "#8ccf96", 40: "#f0a34e"}
)
BODY_BY_NAME: Mapping[str, str] = MappingProxyType(
    {
        "black": "#b9bec1",
        "grey": "#b9bec1",
        "gray": "#b9bec1",
        "violet": "#c3a6e0",
        "purple": "#c3a6e0",
        "pink": "#f3b6cc",
        "tan": "#dcbd8c",
        "brown": "#c98f5e",
        "red": "#f08b80",
        "blue": "#8fbdec",
        "yellow": "#f4dc55",
        "clear": "#f5f5f0",
        "natural": "#f5f5f0",
        "white": "#f5f5f0",
        "green": "#8ccf96",
        "orange": "#f0a34e",
        "amber": "#f0a34e",
    }
)
NO_BODY = "#e2e5e4"


def body_colour(rating_a: float, colour: str | None = None) -> str:
    """Return the body's colour: the device's own if it is named, else the blade code's, else plain grey."""
    if colour:
        return BODY_BY_NAME.get(colour.strip().lower(), NO_BODY)
    return NO_BODY if rating_a == 1 else BODY_BY_RATING_A.get(rating_a, NO_BODY)


def draw_fuse_chip(rating_a: float, *, colour: str | None = None, palette: Palette = SCREEN) -> str:
    """Return the chip for a table cell: the body's colour, outlined, its figure inside. Named for screen readers."""
    figure = number(rating_a)
    width = 26 if len(figure) < 3 else 32
    ink = {"fill": OBJECT_INK}
    box = element("rect", x=0.6, y=0.6, width=width - 1.2, height=16.8, rx=2, fill=body_colour(rating_a, colour), stroke=_outline(palette), stroke_width=1.2)
    text = element("text", words(figure), x=width / 2, y=13.2, text_anchor="middle", font_family=FACE, font_size=13, font_weight=600, **ink)
    return drawing(box, text, width=width, height=18, title=f"{figure} A fuse", class_="fuse-chip")


def _outline(palette: Palette) -> str:
    return OBJECT_INK


def blade_fuse_marks(rating_a: float, *, colour: str | None = None, palette: Palette = SCREEN) -> str:
    """Return the bare elements of a blade fuse on a grid 34 wide and 34 high, to be placed in a panel map."""
    legs = "".join(element("rect", x=x, y=20, width=5, height=13, fill="#d8dcdc", stroke_width=1, **palette.paint(stroke="text")) for x in (6.5, 22.5))
    body = element("path", d="M2 21V4Q2 1 5 1H29Q32 1 32 4V21z", fill=body_colour(rating_a, colour), stroke_width=1.4, **palette.paint(stroke="text"))
    text = element("text", words(number(rating_a)), x=17, y=16, text_anchor="middle", font_family=FACE, font_size=14, font_weight=800, fill=OBJECT_INK)
    return legs + body + text


def draw_blade_fuse(rating_a: float, *, colour: str | None = None, palette: Palette = SCREEN) -> str:
    """Return a blade fuse as a picture of its own."""
    return drawing(blade_fuse_marks(rating_a, colour=colour, palette=palette), width=34, height=34, title=f"{number(rating_a)} A fuse", class_="blade-fuse")
