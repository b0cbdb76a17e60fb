"""
Where each lamp of a function schedule stands on the vehicle seen from above: by its zone, the side it shines to, its level.

Lamps of one zone that shine to one side stand in a row along that side; those of the upper level nearer the middle of the
vehicle. Rows that would touch move apart. Names with "left" or "right" in them decide the order where nothing else does.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

from builds.drawings.vehicle_places import Frame
from builds.engineering.design import Design, Zone
from builds.engineering.functions.schedule import Channel, FunctionSchedule, Head
from builds.engineering.functions.vocabulary import ChannelKind, Facing, Level

__all__ = ["CELL", "DEPTH", "LampPlace", "lamp_places"]

CELL = 19.0  # along the side, for each colour of a head
DEPTH = 16.0  # the way it shines
_ROW_GAP = 6.0
_HEAD_GAP = 6.0
_NUMBER_W = 20.0  # room for the number, inward of the lamp
_OUT = {Facing.FRONT: (-1, 0), Facing.REAR: (1, 0), Facing.RIGHT: (0, -1), Facing.LEFT: (0, 1), Facing.NONE: (0, 0)}
_STEP = 6.0
_SIDE_SHARE = 0.62  # a side lamp of a zone on the centre line stands so far out


@dataclass(frozen=True, slots=True)
class LampPlace:
    """One lamp head: its number, its channels from left to right or front to rear, the middle of its box."""

    number: int
    channels: tuple[Channel, ...]
    facing: Facing
    x: float
    y: float

    @property
    def along(self) -> float:
        """How much of the side it takes."""
        return CELL * len(self.channels)

    @property
    def is_across(self) -> bool:
        """Whether its cells stand one above another, as on a lamp that shines to the front or rear."""
        return self.facing in (Facing.FRONT, Facing.REAR)


@dataclass(frozen=True, slots=True)
class _Row:
    """Lamp heads that stand side by side; ``x`` and ``y`` are the middle of the row."""

    heads: tuple[tuple[int, tuple[Channel, ...]], ...]
    facing: Facing
    x: float
    y: float

    @property
    def along(self) -> float:
        return sum(CELL * len(channels) for _, channels in self.heads) + _HEAD_GAP * (len(self.heads) - 1)

    @property
    def size(self) -> tuple[float, float]:
        deep = DEPTH + _NUMBER_W + _ROW_GAP
        return (deep, self.along) if self.facing in (Facing.FRONT, Facing.REAR) else (self.along, deep)


def lamp_places(design: Design, schedule: FunctionSchedule, frame: Frame) -> tuple[LampPlace, ...]:
    """
    Return the lamps of a schedule with their places on a drawing.

    Parameters
    ----------
    design : Design
        Its platform's zones say where things stand; a lamp of no known zone stands at the middle of the side it shines to.
    schedule : FunctionSchedule
        Its channels of the kind lamp, several colours of a head together.
    frame : Frame
        Of the drawing.

    Returns
    -------
    tuple of LampPlace
        Numbered from 1 in the order of the schedule.
    """
    return _placed(design.platform.zones, schedule.channels, schedule.heads, frame)


@lru_cache(maxsize=64)
def _placed(
    all_zones: tuple[Zone, ...], channels: tuple[Channel, ...], heads_of_lamps: tuple[Head, ...], frame: Frame
) -> tuple[LampPlace, ...]:
    """A picture is asked for at every toggle, and lamps do not move."""
    zones = {zone.key: zone for zone in all_zones}
    rows: list[_Row] = []
    for key, heads in _grouped(_heads(channels, heads_of_lamps)).items():
        zone_key, facing, level = key
        x, y = _anchor(frame, zones.get(zone_key), facing, level)
        row = _Row(tuple(sorted(heads, key=lambda head: _side_of(head[1]))), facing, x, y)
        rows.append(_fitted(row, rows, frame))
    placed = [place for row in rows for place in _spread(row)]
    return tuple(sorted(placed, key=lambda place: place.number))


def _heads(channels: tuple[Channel, ...], heads: tuple[Head, ...]) -> list[tuple[Channel, ...]]:
    lamps = {channel.key: channel for channel in channels if channel.kind is ChannelKind.LAMP}
    in_head = {
        key: tuple(lamps[one] for one in head.channels if one in lamps) for head in heads for key in head.channels
    }
    return list(dict.fromkeys(in_head.get(key, (channel,)) for key, channel in lamps.items()))


def _grouped(
    heads: Iterable[tuple[Channel, ...]],
) -> dict[tuple[str, Facing, Level], list[tuple[int, tuple[Channel, ...]]]]:
    groups: dict[tuple[str, Facing, Level], list[tuple[int, tuple[Channel, ...]]]] = {}
    for number, channels in enumerate(heads, start=1):
        first = channels[0]
        level = Level.UPPER if first.level is Level.UPPER else Level.LOWER
        groups.setdefault((first.zone, first.facing, level), []).append((number, channels))
    return groups


def _side_of(channels: tuple[Channel, ...]) -> int:
    words = channels[0].key.replace("-", " ").split()
    return ("right" in words) - ("left" in words)


def _anchor(frame: Frame, zone: Zone | None, facing: Facing, level: Level) -> tuple[float, float]:
    out_x, out_y = _OUT[facing]
    middle_x, half = (frame.left + frame.right) / 2, (frame.foot - frame.top) / 2
    if zone is None:
        x = {Facing.FRONT: frame.left, Facing.REAR: frame.right}.get(facing, middle_x)
        return x, frame.middle_y + out_y * half
    x, y = frame.x(zone.x_mm), frame.y(zone.y_mm)
    if out_y and abs(y - frame.middle_y) < half / 4:
        y = frame.middle_y + out_y * half * _SIDE_SHARE
    shift = 24.0 if level is Level.LOWER else 0.0
    return x + out_x * shift, y + out_y * shift


def _fitted(row: _Row, placed: list[_Row], frame: Frame) -> _Row:
    """The nearest free place within the outline's surroundings, rings of growing radius about the wish."""
    width, height = row.size
    for ring in range(80):
        for dx, dy in _ring(ring):
            x = min(max(row.x + dx * _STEP, frame.left - 6 + width / 2), frame.right + 6 - width / 2)
            y = min(max(row.y + dy * _STEP, frame.top - 6 + height / 2), frame.foot + 6 - height / 2)
            moved = replace(row, x=x, y=y)
            if not any(_touch(moved, other) for other in placed):
                return moved
    return row


def _ring(ring: int) -> list[tuple[int, int]]:
    if ring == 0:
        return [(0, 0)]
    edge = [(dx, dy) for dx in range(-ring, ring + 1) for dy in range(-ring, ring + 1) if max(abs(dx), abs(dy)) == ring]
    return sorted(edge, key=lambda step: (step[0] ** 2 + step[1] ** 2, abs(step[0]), step))


def _touch(one: _Row, other: _Row) -> bool:
    (w1, h1), (w2, h2) = one.size, other.size
    return abs(one.x - other.x) < (w1 + w2) / 2 and abs(one.y - other.y) < (h1 + h2) / 2


def _spread(row: _Row) -> list[LampPlace]:
    """Left is below on the drawing, so a row across the vehicle runs upwards; one along it runs from front to rear."""
    places, at = [], -row.along / 2
    for number, channels in row.heads:
        middle = at + CELL * len(channels) / 2
        across = row.facing in (Facing.FRONT, Facing.REAR)
        x, y = (row.x, row.y - middle) if across else (row.x + middle, row.y)
        places.append(LampPlace(number, channels, row.facing, x, y))
        at += CELL * len(channels) + _HEAD_GAP
    return places
