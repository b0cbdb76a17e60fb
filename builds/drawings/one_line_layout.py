"""
Where everything of a one-line diagram stands.

The supply runs down a spine at the left; each step's own branches, then the main bus's, are rows at the right, one below
the other, so that no line ever crosses another. A branch of a branch is a row of its own beneath it, set in.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from builds.drawings.power_tree import Branch, PowerTree, SpineStep

__all__ = ["BOX_X", "BUS_X", "INDENT", "ROW_H", "SPINE_X", "Column", "Row", "Stop", "place_tree"]

SPINE_X = 178.0
BUS_X = 320.0
BOX_X = 500.0
INDENT = 18.0
ROW_H = 62.0
STEP_H = 126.0  # from one spine step to the next where the run between carries a device
PLAIN_STEP_H = 90.0  # where it carries none
_TOP = 34.0
_FOOT = 46.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A branch at its place; ``from_y`` is where the line that feeds it comes from, ``depth`` how far it is set in."""

    branch: Branch
    depth: int
    from_y: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A spine step at its place, with the rows that hang on it."""

    step: SpineStep
    y: float
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One system laid out: its stops, its bus from top to bottom with where the spine joins it, and how high it all is."""

    stops: tuple[Stop, ...]
    bus: SpineStep | None
    bus_rows: tuple[Row, ...]
    bus_top: float
    bus_bottom: float
    join_y: float
    bottom: float


def place_tree(tree: PowerTree, *, top: float = 0.0) -> Column:
    """Return the places of one system whose drawing starts at ``top``."""
    y = top + _TOP
    stops: list[Stop] = []
    for index, step in enumerate(tree.spine):
        rows = _rows(step.branches, y)
        stops.append(Stop(step=step, y=y, rows=rows))
        after = tree.spine[index + 1] if index + 1 < len(tree.spine) else tree.bus
        height = _step_height(after)
        if rows:
            height = max(height, rows[-1].y - y + ROW_H)
        y += height
    return _with_bus(tree, stops, y, top)


def _step_height(after: SpineStep | None) -> float:
    if after is None or after.run is None:
        return PLAIN_STEP_H
    return STEP_H if after.run.device_rating_a else PLAIN_STEP_H


def _with_bus(tree: PowerTree, stops: list[Stop], end_y: float, top: float) -> Column:
    if tree.bus is None:
        bottom = max(end_y - PLAIN_STEP_H + _FOOT + 20, _lowest(stops) + ROW_H / 2)
        return Column(stops=tuple(stops), bus=None, bus_rows=(), bus_top=0, bus_bottom=0, join_y=0, bottom=bottom)
    branch_rows = [row for stop in stops for row in stop.rows]
    first_y = branch_rows[-1].y + ROW_H + 22 if branch_rows else top + _TOP + 24
    join_y = end_y if stops else first_y
    rows = _rows(tree.bus.branches, first_y)
    last_y = rows[-1].y if rows else first_y
    bus_top, bus_bottom = min(first_y, join_y) - 34, max(_last_tap(rows, first_y), join_y) + 20
    return Column(
        stops=tuple(stops),
        bus=tree.bus,
        bus_rows=rows,
        bus_top=bus_top,
        bus_bottom=bus_bottom,
        join_y=join_y,
        bottom=max(last_y + ROW_H / 2, join_y + 34),
    )


def _last_tap(rows: Iterable[Row], otherwise: float) -> float:
    return max((row.y for row in rows if row.depth == 0), default=otherwise)


def _lowest(stops: Iterable[Stop]) -> float:
    return max((max([stop.y, *(row.y for row in stop.rows)]) for stop in stops), default=0.0)


def _rows(branches: Iterable[Branch], first_y: float) -> tuple[Row, ...]:
    """One row a branch, parents first; a row's line comes from its parent's row, or from the spine or bus itself."""
    rows: list[Row] = []

    def add(branch: Branch, depth: int, from_y: float | None) -> None:
        y = first_y + len(rows) * ROW_H
        rows.append(Row(branch=branch, depth=depth, from_y=y if from_y is None else from_y, y=y))
        for child in branch.children:
            add(child, depth + 1, y)

    for branch in branches:
        add(branch, 0, None)
    return tuple(rows)
