"""The symbols of the one-line diagram, each drawn about a point on its line."""

from builds.drawings.devices import is_breaker
from builds.drawings.measures import FINE, HEAVY, MIDDLE
from builds.drawings.palette import Palette
from builds.drawings.shapes import draw_marks
from builds.drawings.svg import element, number
from builds.drawings.text_width import width_of
from builds.drawings.texts import text

__all__ = [
    "LINE_WEIGHT",
    "alternator",
    "battery",
    "box",
    "bus_bar",
    "converter",
    "device",
    "disconnect",
    "dotted",
    "ground",
    "isolator",
    "joint",
    "line",
    "lozenge",
    "lozenge_width",
    "parted_box",
    "shape",
]

LINE_WEIGHT = {FINE: 1.25, MIDDLE: 2.25, HEAVY: 4.0}
BUS_WEIGHT = 7.0
LOZENGE_H = 20.0


def line(points: str, weight: float, palette: Palette) -> str:
    """Return a path in the weight of its conductor."""
    return element(
        "path", d=points, stroke_width=weight, stroke_linejoin="round", **palette.paint(fill="none", stroke="text")
    )


def dotted(points: str, palette: Palette) -> str:
    """Return the dotted line beneath what stays live with the disconnect open."""
    return element(
        "path", d=points, stroke_width=1.8, stroke_dasharray="1.8 3", **palette.paint(fill="none", stroke="text")
    )


def box(x: float, y: float, width: float, height: float, palette: Palette, *, weight: float = 1.25) -> str:
    """Return an outlined box that hides the line behind it."""
    return element(
        "rect", x=x, y=y, width=width, height=height, stroke_width=weight, **palette.paint(fill="sheet", stroke="text")
    )


def converter(x: float, y: float, width: float, height: float, palette: Palette, *, volts: tuple[str, str]) -> str:
    """Return a converter from its top left corner: parted from corner to corner, its input's volts above, its output's below."""
    taken, given = volts
    return (
        parted_box(x, y, width, height, palette)
        + text(taken, x + 5, y + 16, palette=palette, size=12.5, weight=600)
        + text(given, x + width - 5, y + height - 7, palette=palette, size=12.5, weight=600, anchor="end")
    )


def parted_box(x: float, y: float, width: float, height: float, palette: Palette) -> str:
    """Return a box parted from corner to corner, the sign of what changes one voltage into another."""
    parting = line(f"M{number(x)} {number(y + height)}L{number(x + width)} {number(y)}", 1.25, palette)
    return box(x, y, width, height, palette, weight=1.5) + parting


def bus_bar(x: float, top: float, bottom: float, palette: Palette) -> str:
    """Return the heavy vertical of a bus."""
    return line(f"M{number(x)} {number(top)}V{number(bottom)}", BUS_WEIGHT, palette)


def device(family: str, x: float, y: float, palette: Palette, *, upright: bool = False) -> str:
    """Return a fuse (box with a through line) or a breaker (arc over two contacts) about a point on its line."""
    turn = f"translate({number(x)} {number(y)})" + (" rotate(90)" if upright else "")
    if is_breaker(family):
        gap = element("path", d="M-12 0H12", stroke_width=6, **palette.paint(fill="none", stroke="sheet"))
        arc = element(
            "path", d="M-11 -3A12 9 0 0 1 11 -3", stroke_width=1.8, **palette.paint(fill="none", stroke="text")
        )
        contacts = "".join(
            element("circle", cx=end, cy=0, r=2.6, stroke_width=1.4, **palette.paint(fill="sheet", stroke="text"))
            for end in (-12, 12)
        )
        return element("g", gap, arc, contacts, transform=turn)
    body = element(
        "rect", x=-14, y=-6, width=28, height=12, stroke_width=1.4, **palette.paint(fill="sheet", stroke="text")
    )
    through = element("path", d="M-14 0H14", stroke_width=1.2, **palette.paint(fill="none", stroke="text"))
    return element("g", body, through, transform=turn)


def lozenge_width(words: str) -> float:
    """Return the width of the lozenge around an ampere figure."""
    return width_of(words, 13, weight=600) + 16


def lozenge(words: str, x: float, y: float, palette: Palette) -> str:
    """Return amperes on the line, about their middle."""
    width = lozenge_width(words)
    body = element(
        "rect", x=x - width / 2, y=y - LOZENGE_H / 2, width=width, height=LOZENGE_H, rx=LOZENGE_H / 2, stroke_width=1.25,
        **palette.paint(fill="sheet", stroke="text"),
    )  # fmt: skip
    return body + text(words, x, y + 4.5, palette=palette, size=13, weight=600, anchor="middle")


def shape(severity: str, x: float, y: float, palette: Palette, *, size: float = 15) -> str:
    """Return a finding's shape with its top left corner at a point."""
    return element(
        "g",
        draw_marks(severity, palette=palette),
        transform=f"translate({number(x)} {number(y)}) scale({number(size / 16)})",
    )


def joint(x: float, y: float, palette: Palette) -> str:
    """Return the dot where a line comes into another, or into a box."""
    return element("circle", cx=x, cy=y, r=3.4, **palette.paint(fill="text"))


def ground(x: float, y: float, palette: Palette) -> str:
    """Return a ground's three bars hanging on a point."""
    return line(f"M{number(x)} {number(y)}v6m-10 0h20m-16 4h12m-8 4h4", 1.25, palette)


def alternator(x: float, y: float, palette: Palette) -> str:
    """Return a generator's circle about a point."""
    circle = element("circle", cx=x, cy=y, r=17, stroke_width=1.6, **palette.paint(fill="sheet", stroke="text"))
    return circle + text("G", x, y + 5.5, palette=palette, size=16, weight=600, anchor="middle")


def battery(x: float, y: float, palette: Palette, *, arm: float = 30) -> str:
    """Return a battery beside its line: an arm to the left, plates below its end, a ground beneath."""
    left = x - arm
    parts = [
        line(f"M{number(x)} {number(y)}H{number(left)}V{number(y + 8)}", 1.25, palette),
        line(f"M{number(left - 11)} {number(y + 8)}h22m-22 8h22", 1.25, palette),
        line(f"M{number(left - 6)} {number(y + 12)}h12m-12 8h12", 3, palette),
        line(f"M{number(left)} {number(y + 20)}v4", 1.25, palette),
        ground(left, y + 24, palette),
        element("circle", cx=x, cy=y, r=3.4, **palette.paint(fill="text")),
    ]
    return "".join(parts)


def isolator(x: float, y: float, palette: Palette) -> str:
    """Return the box of an isolator on an upright line: what parts one battery from the other."""
    body = box(x - 17, y - 17, 34, 34, palette, weight=1.6)
    way = element(
        "path",
        d=f"M{number(x)} {number(y - 17)}v10M{number(x)} {number(y + 17)}v-10",
        stroke_width=1.6,
        **palette.paint(fill="none", stroke="text"),
    )
    arrow = element(
        "path",
        d=f"M{number(x - 8)} {number(y - 7)}h16l-8 13zM{number(x - 8)} {number(y + 7)}h16",
        stroke_width=1.6,
        **palette.paint(fill="text", stroke="text"),
    )
    return body + way + arrow


def disconnect(x: float, y: float, palette: Palette) -> str:
    """Return the main disconnect on an upright line, drawn open."""
    gap = element(
        "path",
        d=f"M{number(x)} {number(y - 18)}V{number(y + 18)}",
        stroke_width=12,
        **palette.paint(fill="none", stroke="sheet"),
    )
    blade = line(f"M{number(x)} {number(y + 18)}L{number(x + 17)} {number(y - 14)}", 2.6, palette)
    contacts = "".join(
        element("circle", cx=x, cy=end, r=4, stroke_width=1.6, **palette.paint(fill="sheet", stroke="text"))
        for end in (y - 18, y + 18)
    )
    return gap + blade + contacts
