"""Baywright's own mark: a bay with a vehicle standing in it."""

from builds.drawings.palette import SCREEN, Palette
from builds.drawings.svg import drawing, element


def draw_mark(*, palette: Palette = SCREEN, size_px: float = 24) -> str:
    """Return the mark, hidden from screen readers: the name stands beside it."""
    bay = element(
        "path",
        d="M2 22.4V2.8H22V22.4",
        stroke_width=2.4,
        **palette.paint(fill="none", stroke="text"),
    )
    vehicle = element(
        "path",
        d="M6.5 20V13.2L8.6 8.2H15.4L17.5 13.2V20H16V22.4H13.6V20H10.4V22.4H8V20zM9.1 12.6H14.9L13.9 10.1H10.1z",
        fill_rule="evenodd",
        **palette.paint(fill="act"),
    )
    return drawing(
        bay,
        vehicle,
        width=size_px,
        height=size_px,
        view_width=24,
        view_height=24,
        class_="mark-picture",
    )
