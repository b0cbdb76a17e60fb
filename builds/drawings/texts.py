"""Lines of text inside drawings: one place for faces, sizes and anchors."""

from builds.drawings.palette import FACE, FACE_OBJECT, Palette
from builds.drawings.svg import element, words
from builds.drawings.text_width import width_of

__all__ = ["backed_text", "object_text", "text"]


def text(
    line: str,
    x: float,
    y: float,
    *,
    palette: Palette,
    size: float = 13,
    weight: int = 400,
    anchor: str = "start",
    tone: str = "text",
) -> str:
    """Return one line of running text with its baseline at ``y``."""
    return _line(
        line,
        x,
        y,
        palette=palette,
        face=FACE,
        size=size,
        weight=weight,
        anchor=anchor,
        tone=tone,
    )


def backed_text(
    line: str, x: float, y: float, *, palette: Palette, size: float, weight: int = 400, anchor: str = "start",
    tone: str = "text",
) -> str:  # fmt: skip
    """Return one line of running text on paper of its own, so that no line of the drawing goes through it."""
    width = width_of(line, size, weight=weight)
    left = x - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
    paper = element(
        "rect", x=round(left - 2, 1), y=round(y - 0.8 * size, 1), width=round(width + 4, 1), height=round(size, 1),
        **palette.paint(fill="sheet"),
    )  # fmt: skip
    return paper + text(line, x, y, palette=palette, size=size, weight=weight, anchor=anchor, tone=tone)


def object_text(
    line: str,
    x: float,
    y: float,
    *,
    palette: Palette,
    size: float = 12,
    anchor: str = "start",
    tone: str = "text",
) -> str:
    """Return one line in the face of what is printed on the object."""
    return _line(
        line,
        x,
        y,
        palette=palette,
        face=FACE_OBJECT,
        size=size,
        weight=400,
        anchor=anchor,
        tone=tone,
    )


def _line(
    line: str,
    x: float,
    y: float,
    *,
    palette: Palette,
    face: str,
    size: float,
    weight: int,
    anchor: str,
    tone: str,
) -> str:
    return element(
        "text",
        words(line),
        x=x,
        y=y,
        text_anchor=None if anchor == "start" else anchor,
        font_family=face,
        font_size=size,
        font_weight=None if weight == 400 else weight,
        **palette.paint(fill=tone),
    )
