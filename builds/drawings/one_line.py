"""The one-line diagram: how power comes from batteries and alternator to every panel, supply at left, loads at right."""

from builds.drawings.one_line_key import draw_key, key_height
from builds.drawings.one_line_layout import BOX_X, Column, place_tree
from builds.drawings.one_line_parts import BOX_W, Pen
from builds.drawings.palette import SCREEN, Palette
from builds.drawings.power_tree import live_nodes, power_trees
from builds.drawings.svg import drawing, element, words
from builds.drawings.text_width import wrap
from builds.drawings.texts import text
from builds.engineering.assessment import Assessment
from builds.engineering.design import Design

__all__ = ["draw_one_line"]

_WIDTH = BOX_X + BOX_W + 4
_NOTE_LINE = 17.0


def draw_one_line(design: Design, assessment: Assessment | None = None, *, palette: Palette = SCREEN) -> str:
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
        An SVG about 700 px wide, with its key. Supply stands at the left from top to bottom, loads at the right, one a
        row; a dotted line goes beside everything that stays live with the main disconnect open. Returns are not drawn:
        each box names its stud.
    """
    pen = Pen(design=design, assessment=assessment, palette=palette, live=live_nodes(design))
    columns: list[Column] = []
    for tree in power_trees(design):
        columns.append(place_tree(tree, top=columns[-1].bottom + 24 if columns else 0))
    bottom = columns[-1].bottom if columns else 0.0
    notes = _notes(design)
    parts = [pen.draw(column) for column in columns]
    parts += [
        text(note, 2, bottom + 22 + index * _NOTE_LINE, palette=palette, size=13) for index, note in enumerate(notes)
    ]
    key_top = bottom + 14 + len(notes) * _NOTE_LINE
    parts.append(draw_key(design, assessment, top=key_top, width=_WIDTH, palette=palette))
    description = element("desc", words(_description(design)))
    height = key_top + key_height(design, assessment)
    return drawing(
        description,
        *parts,
        width=_WIDTH,
        height=height,
        title=f"One-line diagram of {design.number}",
        class_="one-line",
    )


def _notes(design: Design) -> tuple[str, ...]:
    """Runs that the drawing leaves out, and what to say where there is nothing to draw."""
    left_out = [run for tree in power_trees(design) for run in tree.left_out]
    if left_out:
        listed = ", ".join(f"{run.key} ({run.from_node} to {run.to_node})" for run in left_out)
        return wrap(f"Closes a ring and is not drawn: {listed}.", _WIDTH - 6, 13, most_lines=4)
    return () if design.nodes else ("No power tree yet.",)


def _description(design: Design) -> str:
    names = {node.key: node.name for node in design.nodes}
    lines = [
        f"{run.key} from {names.get(run.from_node, run.from_node)} to {names.get(run.to_node, run.to_node)}"
        for run in design.runs
        if run.side.value == "supply"
    ]
    return "Supply runs: " + "; ".join(lines) + "."
