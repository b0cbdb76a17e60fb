"""The one-line diagram: how power comes from batteries and alternator to every panel, supply at left, loads at right."""

from builds.drawings.palette import SCREEN, Palette
from builds.drawings.svg import drawing, element, words
from builds.drawings.texts import text
from builds.engineering.assessment import Assessment
from builds.engineering.design import Design

__all__ = ["draw_one_line"]


def draw_one_line(
    design: Design, assessment: Assessment | None = None, *, palette: Palette = SCREEN
) -> str:
    """
    Return the one-line diagram of a design as an SVG.

    Parameters
    ----------
    design : Design
        Any power tree; runs that close a ring are listed beneath the drawing.
    assessment : Assessment, optional
        Gives the amperes on the lines and the findings at the things.
    palette : Palette
        ``SCREEN`` writes classes, ``PRINT`` literal colours.

    Returns
    -------
    str
        An SVG with its key.
    """
    lines = [
        text(
            f"{run.key}: {run.from_node} to {run.to_node}",
            0,
            16 * i + 14,
            palette=palette,
        )
        for i, run in enumerate(design.runs)
    ]
    return drawing(
        element("desc", words("Runs by address.")),
        *lines,
        width=660,
        height=16 * len(lines) + 8,
        title="One-line diagram",
        class_="one-line",
    )
