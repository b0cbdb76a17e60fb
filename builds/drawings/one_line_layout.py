"""
Where everything of a one-line diagram stands.

The supply runs down a spine at the left; each step's own branches, then the main bus's, are rows at the right, one below
the other, so that no line of the tree crosses another. A branch of a branch is a row of its own beneath it, set in. What
closes a ring has a lane of its own at the right of all boxes.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from builds.drawings.one_line_links import Extras, extras_of
from builds.drawings.power_tree import Branch, PowerTree, SpineStep
from builds.engineering.design import Run

__all__ = ["BOX_W", "BOX_X", "BUS_X", "LANE_W", "ROW_H", "SPINE_X", "Column", "Lane", "Row", "Stop", "place_tree"]

SPINE_X = 178.0
BUS_X = 320.0
BOX_X = 500.0
BOX_W = 196.0
LANE_W = 12.0
INDENT = 18.0
_MOST_INDENT = 90.0  # of all steps together, so that a box keeps half its width however deep it stands
ROW_H = 62.0
STEP_H = 126.0  # from one spine step to the next where the run between carries a device
PLAIN_STEP_H = 90.0  # where it carries none
LOOP_H = 116.0  # more where a second conductor lies beside
_TOP = 34.0
_FOOT = 46.0
_BUS_NAME_H = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """
    A branch at its place; ``from_y`` is where the line that feeds it comes from, its parent's row or its own.

    ``indent`` is how far it is set in, ``step`` how much of that over its parent; ``beside`` are conductors to the same
    node, each a row's height below the one before.
    """

    branch: Branch
    depth: int
    indent: float
    step: float
    from_y: float
    turn_y: float  # below which that line turns aside: beneath every conductor of the row it comes from
    y: float
    beside: tuple[Run, ...] = ()

    @property
    def last_y(self) -> float:
        """Where its last conductor lies."""
        return self.y + ROW_H * len(self.beside)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """A link beyond its row: from the row's line along ``x`` to another row's, or to a box (``to_box``)."""

    run: Run
    x: float
    start_y: float
    end_y: float
    to_box: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A spine step at its place, with the rows that hang on it, and a second conductor on from here."""

    step: SpineStep
    y: float
    rows: tuple[Row, ...]
    loop: Run | None = None


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
    lanes: tuple[Lane, ...] = ()
    undrawn: tuple[Run, ...] = ()


def place_tree(tree: PowerTree, *, top: float = 0.0) -> Column:
    """Return the places of one system whose drawing starts at ``top``."""
    y = top + _TOP
    extras = extras_of(tree)
    stops: list[Stop] = []
    for index, step in enumerate(tree.spine):
        rows = _rows(step, y, extras)
        after = tree.spine[index + 1] if index + 1 < len(tree.spine) else tree.bus
        loop = extras.loops.get(after.node.key) if after else None
        stops.append(Stop(step=step, y=y, rows=rows, loop=loop))
        height = _step_height(after) + (LOOP_H if loop else 0)
        if rows:
            room_for_name = _BUS_NAME_H if after is tree.bus else 0
            height = max(height, rows[-1].last_y - y + ROW_H + room_for_name)
        y += height
    return _with_bus(tree, stops, y, top, extras)


def _step_height(after: SpineStep | None) -> float:
    if after is None or after.run is None:
        return PLAIN_STEP_H
    return STEP_H if after.run.device_rating_a else PLAIN_STEP_H


def _with_bus(tree: PowerTree, stops: list[Stop], end_y: float, top: float, extras: Extras) -> Column:
    if tree.bus is None:
        bottom = max(end_y - PLAIN_STEP_H + _FOOT + 20, _lowest(stops) + ROW_H / 2)
        return Column(
            stops=tuple(stops), bus=None, bus_rows=(), bus_top=0, bus_bottom=0, join_y=0, bottom=bottom,
            lanes=_lanes([row for stop in stops for row in stop.rows], extras), undrawn=extras.undrawn,
        )  # fmt: skip
    branch_rows = [row for stop in stops for row in stop.rows]
    first_y = branch_rows[-1].last_y + ROW_H + 22 if branch_rows else top + _TOP + 24
    join_y = end_y if stops else first_y
    rows = _rows(tree.bus, first_y, extras)
    last_y = rows[-1].last_y if rows else first_y
    bus_top, bus_bottom = min(first_y, join_y) - 34, max(_last_tap(rows, first_y), join_y) + 20
    return Column(
        stops=tuple(stops),
        bus=tree.bus,
        bus_rows=rows,
        bus_top=bus_top,
        bus_bottom=bus_bottom,
        join_y=join_y,
        bottom=max(last_y + ROW_H / 2, join_y + 34),
        lanes=_lanes([*branch_rows, *rows], extras),
        undrawn=extras.undrawn,
    )


def _lanes(rows: list[Row], extras: Extras) -> tuple[Lane, ...]:
    """One lane a link, in the order of the rows they go out on."""
    boxes = {row.branch.node.key: row.y for row in rows if row.branch.node is not None}
    ends = {row.branch.run.key: row.y for row in rows if row.branch.link_ends and row.branch.run}
    starts = [row for row in rows if row.branch.link_to is not None and not row.branch.link_ends]
    counted: dict[str, int] = {}
    lanes = []
    for place, row in enumerate(starts, start=1):
        run = row.branch.run
        assert run is not None
        target = extras.targets[run.key]
        if run.key in ends:
            end_y = ends[run.key]
        else:  # several come into one box one below the other
            counted[target] = counted.get(target, 0) + 1
            end_y = boxes[target] - 14 + 8 * (counted[target] % 5)
        lanes.append(
            Lane(
                run=run,
                x=BOX_X + BOX_W + place * LANE_W,
                start_y=row.y,
                end_y=end_y,
                to_box=run.key not in ends,
            )
        )
    return tuple(lanes)


def _last_tap(rows: Iterable[Row], otherwise: float) -> float:
    return max((row.last_y for row in rows if row.depth == 0), default=otherwise)


def _lowest(stops: Iterable[Stop]) -> float:
    return max((max([stop.y, *(row.last_y for row in stop.rows)]) for stop in stops), default=0.0)


def _rows(step: SpineStep, first_y: float, extras: Extras) -> tuple[Row, ...]:
    """One row a branch, parents first; a row's line comes from its parent's row, or from the spine or bus itself."""
    found = list(_walk(step, extras))
    indent = min(INDENT, _MOST_INDENT / max(1, max((depth for depth, *_ in found), default=0)))
    rows: list[Row] = []
    y = first_y
    for depth, branch, parent in found:
        beside = extras.beside.get(branch.node.key, ()) if branch.node is not None else ()
        rows.append(
            Row(
                branch=branch, depth=depth, indent=depth * indent, step=indent if depth else 0.0,
                from_y=y if parent is None else rows[parent].y,
                turn_y=y if parent is None else rows[parent].last_y, y=y, beside=beside,
            )
        )  # fmt: skip
        y = rows[-1].last_y + ROW_H
    return tuple(rows)


def _walk(step: SpineStep, extras: Extras) -> Iterator[tuple[int, Branch, int | None]]:
    """Every branch of a step with its depth and the place of its parent; the links that go out at a node come last there."""

    def at(key: str, own: tuple[Branch, ...], depth: int, parent: int | None) -> list[tuple[int, Branch, int | None]]:
        return [(depth, branch, parent) for branch in reversed((*own, *extras.rows.get(key, ())))]

    waiting = at(step.node.key, step.branches, 0, None)
    place = 0
    while waiting:
        depth, branch, parent = waiting.pop()
        yield depth, branch, parent
        if branch.node is not None:
            waiting += at(branch.node.key, branch.children, depth + 1, place)
        place += 1
