"""Fuse chips and blade fuses in the trade's own colours, always with their figure."""

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from builds.drawings.palette import FACE, OBJECT_INK, SCREEN, Palette
from builds.drawings.svg import drawing, element, number, words
from builds.engineering.tables.loader import load_table

# Drawn values for the body colours that the table of ratings names: tints, so that a dark figure reads on each.
BODIES: Mapping[str, str] = MappingProxyType(
    {
        "black": "#33383b",
        "grey": "#b9bec1",
        "violet": "#c3a6e0",
        "pink": "#f3b6cc",
        "tan": "#dcbd8c",
        "brown": "#c98f5e",
        "red": "#f08b80",
        "blue": "#8fbdec",
        "yellow": "#f4dc55",
        "clear": "#f5f5f0",
        "green": "#8ccf96",
        "blue-green": "#7fcfc4",
        "orange": "#f0a34e",
    }
)
# A device whose family has no colour code, or whose family is not known.
NO_BODY = "#e2e5e4"
_LIGHT_FIGURE = "#ffffff"
_DARK_BODIES = frozenset({"black"})


@cache
def _coded_colours() -> Mapping[tuple[str, float], str]:
    """Family and rating to the name of the body colour, for colour-coded families only."""
    rows = load_table("device_ratings").rows
    return MappingProxyType({(row["family"], float(row["rating_a"])): row["colour"] for row in rows if row["colour"]})


def colour_name(rating_a: float, family: str = "") -> str:
    """
    Return the body colour of a device, or ``""`` where its family has no colour code.

    A colour names a rating only within a family, so a rating alone has none.

    >>> colour_name(10, "ATO"), colour_name(50, "MAXI"), colour_name(100, "MIDI"), colour_name(10)
    ('red', 'red', '', '')
    """
    return _coded_colours().get((family.strip().upper(), rating_a), "")


def _body(rating_a: float, family: str, colour: str) -> tuple[str, str]:
    """Body colour and the colour of the figure on it."""
    name = colour.strip().lower() or colour_name(rating_a, family)
    return BODIES.get(name, NO_BODY), _LIGHT_FIGURE if name in _DARK_BODIES else OBJECT_INK


def _said(rating_a: float, family: str, colour: str) -> str:
    name = colour.strip().lower() or colour_name(rating_a, family)
    return f"{number(rating_a)} A fuse, {name}" if name else f"{number(rating_a)} A"


def draw_fuse_chip(rating_a: float, *, family: str = "", colour: str = "") -> str:
    """
    Return the chip for a table cell: the body's colour, outlined, its figure inside; the same in every theme.

    ``colour`` is the device's own where it differs from its family's code.
    """
    figure = number(rating_a)
    width = 26 if len(figure) < 3 else 32
    body, ink = _body(rating_a, family, colour)
    box = element(
        "rect",
        x=0.6,
        y=0.6,
        width=width - 1.2,
        height=16.8,
        rx=2,
        fill=body,
        stroke=OBJECT_INK,
        stroke_width=1.2,
    )
    text = element(
        "text",
        words(figure),
        x=width / 2,
        y=13.2,
        text_anchor="middle",
        font_family=FACE,
        font_size=13,
        font_weight=600,
        fill=ink,
    )
    return drawing(
        box,
        text,
        width=width,
        height=18,
        title=_said(rating_a, family, colour),
        class_="fuse-chip",
    )


def blade_fuse_marks(rating_a: float, *, family: str = "", colour: str = "", palette: Palette = SCREEN) -> str:
    """Return the bare elements of a blade fuse on a grid 34 wide and 34 high, to be placed in a panel map."""
    body, ink = _body(rating_a, family, colour)
    legs = "".join(
        element(
            "rect",
            x=x,
            y=20,
            width=5,
            height=13,
            fill="#d8dcdc",
            stroke_width=1,
            **palette.paint(stroke="text"),
        )
        for x in (6.5, 22.5)
    )
    case = element(
        "path",
        d="M2 21V4Q2 1 5 1H29Q32 1 32 4V21z",
        fill=body,
        stroke_width=1.4,
        **palette.paint(stroke="text"),
    )
    text = element(
        "text",
        words(number(rating_a)),
        x=17,
        y=16,
        text_anchor="middle",
        font_family=FACE,
        font_size=14,
        font_weight=800,
        fill=ink,
    )
    return legs + case + text


def draw_blade_fuse(rating_a: float, *, family: str = "", colour: str = "", palette: Palette = SCREEN) -> str:
    """Return a blade fuse as a picture of its own."""
    marks = blade_fuse_marks(rating_a, family=family, colour=colour, palette=palette)
    return drawing(
        marks,
        width=34,
        height=34,
        title=_said(rating_a, family, colour),
        class_="blade-fuse",
    )
