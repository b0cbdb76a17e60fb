"""Fuses and breakers as they look in a panel: blades in the trade's colours, bolted fuses and breakers by their form."""

from builds.drawings.fuses import blade_fuse_marks
from builds.drawings.palette import FACE, OBJECT_INK, SCREEN, Palette
from builds.drawings.svg import element, number, words

__all__ = ["device_marks", "device_width", "is_breaker"]

_BLADES = frozenset({"ATO", "MINI"})
_BODY = "#e2e5e4"
_BOX_W = 52.0


def is_breaker(family: str) -> bool:
    """Whether a family of devices is a circuit breaker."""
    return family.lower().startswith("breaker")


def device_width(family: str, rating_a: float) -> float:
    """Return how wide :func:`device_marks` draws. [px]."""
    return 34.0 if family in _BLADES and rating_a < 100 else _BOX_W


def device_marks(family: str, rating_a: float, *, palette: Palette = SCREEN) -> str:
    """Return the bare elements of a device, at most 34 px high: a blade fuse, a breaker with its arc, a bolted fuse."""
    if family in _BLADES and rating_a < 100:
        return blade_fuse_marks(rating_a, family=family, palette=palette)
    body = element(
        "rect",
        x=9,
        y=6,
        width=34,
        height=20,
        rx=2,
        fill=_BODY,
        stroke_width=1.4,
        **palette.paint(stroke="text"),
    )
    figure = element(
        "text", words(number(rating_a)), x=_BOX_W / 2, y=21, text_anchor="middle", font_family=FACE, font_size=14,
        font_weight=800, fill=OBJECT_INK,
    )  # fmt: skip
    return _ends(family, palette) + body + figure


def _ends(family: str, palette: Palette) -> str:
    """What stands at both ends: an arc over a breaker, tabs with a bolt hole on a fuse."""
    if is_breaker(family):
        return element(
            "path",
            d="M9 6A17 9 0 0 1 43 6",
            stroke_width=1.6,
            **palette.paint(fill="none", stroke="text"),
        )
    tabs = element(
        "path",
        d="M1 12H9V20H1zM43 12H51V20H43z",
        stroke_width=1.2,
        **palette.paint(fill="sheet", stroke="text"),
    )
    holes = "".join(
        element(
            "circle",
            cx=x,
            cy=16,
            r=1.6,
            stroke_width=1,
            **palette.paint(fill="none", stroke="text"),
        )
        for x in (5, 47)
    )
    return tabs + holes
