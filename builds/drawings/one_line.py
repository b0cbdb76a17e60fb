"""The one-line diagram: how power comes from batteries and alternator to every panel, supply at left, loads at right."""

from dataclasses import dataclass

from builds.drawings.one_line_key import draw_key, key_height
from builds.drawings.one_line_layout import BOX_W, BOX_X, LANE_W, ROW_H, Column, place_tree
from builds.drawings.one_line_parts import Pen, Piece
from builds.drawings.palette import SCREEN, Palette
from builds.drawings.power_tree import live_nodes, power_trees
from builds.drawings.svg import drawing, element, words
from builds.drawings.text_width import wrap
from builds.drawings.texts import text
from builds.engineering.assessment import Assessment
from builds.engineering.design import Design
from builds.engineering.makers_wires import makers_wires, with_makers_wires

__all__ = ["draw_one_line", "draw_one_line_sheets"]

_WIDTH = BOX_X + BOX_W + 4
_NOTE_LINE = 17.0


def draw_one_line(design: Design, assessment: Assessment | None = None, *, palette: Palette = SCREEN) -> str:
    """
    Return the one-line diagram of a design as an SVG.

    Parameters
    ----------
    design : Design
        Any power tree. A second conductor between two nodes lies beside the first; what closes a ring goes along a lane of
        its own at the right of the boxes.
    assessment : Assessment, optional
        Gives the amperes on the lines and the findings at the things.
    palette : Palette
        ``SCREEN`` writes classes, ``PRINT`` literal colours.

    Returns
    -------
    str
        An SVG about 700 px wide and a little more for each lane, with its key. Supply stands at the left from top to bottom, loads at the right, one a
        row; a dotted line goes beside everything that stays live with the main disconnect open. Returns are not drawn:
        each box names its stud.
    """
    sheet = _sheet(design, assessment, palette)
    return _window(sheet, design, 0.0, sheet.height, palette, last=True)


def draw_one_line_sheets(
    design: Design, assessment: Assessment | None = None, *, palette: Palette = SCREEN, sheet_height: float
) -> tuple[str, ...]:
    """
    Return the same diagram cut between rows into sheets of at most ``sheet_height``, the key on the last. [px].

    The spine is never cut; where it is higher than a sheet, so is the first one. The bus goes on over the cut.
    """
    sheet = _sheet(design, assessment, palette)
    windows: list[tuple[float, float]] = []
    top = 0.0
    while sheet.height - top > sheet_height:
        room = [cut for cut in sheet.cuts if cut > top + 1 and cut - top <= sheet_height]
        later = [cut for cut in sheet.cuts if cut > top + 1]
        if not later:
            break
        cut = max(room) if room else min(later)
        windows.append((top, cut))
        top = cut
    windows.append((top, sheet.height))
    return tuple(
        _window(sheet, design, start, end, palette, last=(start, end) == windows[-1]) for start, end in windows
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """A diagram laid out: its pieces, where it may be cut, its key and how high it all is."""

    pieces: tuple[Piece, ...]
    cuts: tuple[float, ...]
    foot: str
    width: float
    height: float


def _sheet(design: Design, assessment: Assessment | None, palette: Palette) -> _Sheet:
    makers = frozenset(wire.key for wire in makers_wires(design))
    design = with_makers_wires(design)
    pen = Pen(design=design, assessment=assessment, palette=palette, live=live_nodes(design), makers=makers)
    columns: list[Column] = []
    for tree in power_trees(design):
        columns.append(place_tree(tree, top=columns[-1].bottom + 24 if columns else 0))
    bottom = columns[-1].bottom if columns else 0.0
    notes = _notes(design, columns)
    foot = [
        text(note, 2, bottom + 22 + index * _NOTE_LINE, palette=palette, size=13) for index, note in enumerate(notes)
    ]
    key_top = bottom + 14 + len(notes) * _NOTE_LINE
    foot.append(draw_key(design, assessment, top=key_top, width=_WIDTH, palette=palette))
    lanes = max((len(column.lanes) for column in columns), default=0)
    return _Sheet(
        width=_WIDTH + (lanes * LANE_W + 2 if lanes else 0),
        pieces=tuple(piece for column in columns for piece in pen.draw(column)),
        cuts=tuple(sorted({cut for column in columns for cut in _cuts(column)} | {bottom})),
        foot="".join(foot),
        height=key_top + key_height(design, assessment),
    )


def _cuts(column: Column) -> list[float]:
    """Beneath every row that stands below the spine, and beneath the whole system."""
    spine_end = max([column.join_y, *(stop.y for stop in column.stops)], default=0.0) + 60
    return [row.last_y + ROW_H / 2 for row in column.bus_rows if row.y > spine_end] + [column.bottom + 8]


def _window(sheet: _Sheet, design: Design, top: float, bottom: float, palette: Palette, *, last: bool) -> str:
    """One sheet: the pieces that reach into it, moved up to its top, and only the last with the key."""
    inside = [piece.svg for piece in sheet.pieces if piece.bottom > top and piece.top < bottom]
    foot = sheet.foot if last else ""
    description = element("desc", words(_description(with_makers_wires(design))))
    return drawing(
        description,
        element("g", *inside, foot) if inside or foot else "",
        width=sheet.width,
        height=bottom - top,
        view_top=top,
        title=f"One-line diagram of {design.number}",
        class_="one-line",
    )


def _notes(design: Design, columns: list[Column]) -> tuple[str, ...]:
    """Supply runs that end in no node of the supply, and what to say where there is nothing to draw."""
    undrawn = [run for column in columns for run in column.undrawn]
    if undrawn:
        listed = ", ".join(f"{run.key} ({run.from_node} to {run.to_node})" for run in undrawn)
        return wrap(f"Joins no two parts of the supply and is not drawn: {listed}.", _WIDTH - 6, 13, most_lines=4)
    return () if design.nodes else ("No power tree yet.",)


def _description(design: Design) -> str:
    names = {node.key: node.name for node in design.nodes}
    lines = [
        f"{run.key} from {names.get(run.from_node, run.from_node)} to {names.get(run.to_node, run.to_node)}"
        for run in design.runs
        if run.side.value == "supply"
    ]
    return "Supply runs: " + "; ".join(lines) + "."
