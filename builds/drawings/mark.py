"""Baywright's own mark: a bay with a vehicle standing in it."""

from builds.drawings.palette import SCREEN, Palette
from builds.drawings.svg import drawing, element


def draw_mark(*, palette: Palette = SCREEN, size_px: float = 24) -> str:
    """Return the mark, hidden from screen readers: the name stands beside it."""
    bay = element("path", d="M2 22V3H22V22", stroke_width=2.6, **palette.paint(fill="none", stroke="text"))
    vehicle = element("path", d="M8 22V11.5L9.6 8H14.4L16 11.5V22z", **palette.paint(fill="act"))
    glass = element("path", d="M10.2 11.4 10.9 9.8H13.1L13.8 11.4z", **palette.paint(fill="bench"))
    return drawing(bay, vehicle, glass, width=size_px, height=size_px, view_width=24, view_height=24, class_="mark-picture")
