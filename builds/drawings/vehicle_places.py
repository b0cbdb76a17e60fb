"""Where each zone's things stand on the plan of a vehicle: as near to their true place as they fit without touching."""

from dataclasses import dataclass, replace

from builds.drawings.text_width import width_of
from builds.engineering.design import Design, Zone
from builds.engineering.vocabulary import NodeKind

__all__ = ["Frame", "Place", "frame_of", "places_of"]

WIDTH = 700.0
_FRONT_OVERHANG_MM = 950.0
_REAR_OVERHANG_MM = 1050.0
_HALF_WIDTH_MM = 1020.0
_SIDE = 52.0
_TOP = 34.0
_SQUARES = 8
_STEP = 8.0
_BOX_ROWS = 4
_UNSEEN = frozenset({NodeKind.GROUND, NodeKind.CHASSIS})


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The vehicle's outline on the drawing, and how millimetres become pixels."""

    width: float
    left: float
    right: float
    top: float
    foot: float
    bottom: float
    scale: float
    front_mm: float
    middle_y: float

    def x(self, x_mm: float) -> float:
        """Distance behind the front axle to a place from the left."""
        return self.left + (x_mm - self.front_mm) * self.scale

    def y(self, y_mm: float) -> float:
        """Distance to the right of the centre line to a place from the top: the right side is at the top."""
        return self.middle_y - y_mm * self.scale


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One zone's things: ``at`` is the zone itself, ``x`` and ``y`` the middle of what is drawn for it."""

    number: int
    name: str
    at_x: float
    at_y: float
    x: float
    y: float
    width: float
    height: float
    boxes: tuple[str, ...]
    box_w: float
    circuits: tuple[str, ...]
    load_count: int
    guides: tuple[str, ...]

    def box_corners(self, top: float) -> list[tuple[str, float, float]]:
        """Address, left and top of every box, in columns of at most four."""
        columns = -(-len(self.boxes) // _BOX_ROWS)
        left = self.x - columns * (self.box_w + 2) / 2 + 1
        return [
            (key, left + (index // _BOX_ROWS) * (self.box_w + 2), top + 20 * (index % _BOX_ROWS))
            for index, key in enumerate(self.boxes)
        ]

    def below_boxes(self, top: float) -> float:
        """Where the boxes end."""
        return top + 20 * min(len(self.boxes), _BOX_ROWS)


def frame_of(design: Design) -> Frame:
    """Return the outline for this platform: its wheelbase with usual overhangs, or as far as its zones reach."""
    zones = design.platform.zones
    front = min([-_FRONT_OVERHANG_MM, *(zone.x_mm - 200 for zone in zones)])
    rear = max([design.platform.wheelbase_mm + _REAR_OVERHANG_MM, *(zone.x_mm + 200 for zone in zones)])
    half = max([_HALF_WIDTH_MM, *(abs(zone.y_mm) + 120 for zone in zones)])
    scale = (WIDTH - 2 * _SIDE) / (rear - front)
    foot = _TOP + 2 * half * scale
    return Frame(
        width=WIDTH, left=_SIDE, right=WIDTH - _SIDE, top=_TOP, foot=foot, bottom=foot + 44, scale=scale, front_mm=front,
        middle_y=_TOP + half * scale,
    )  # fmt: skip


def places_of(design: Design, frame: Frame, *, numbered: bool) -> list[Place]:
    """Return the zones in use, numbered from the front, each moved just so far that none touches another."""
    used = [zone for zone in design.platform.zones if _in_use(design, zone)]
    used.sort(key=lambda zone: (zone.x_mm, -zone.y_mm, zone.key))
    placed: list[Place] = []
    for index, zone in enumerate(used, start=1):
        placed.append(_fitted(_wanted(design, zone, frame, index, numbered=numbered), placed, frame))
    return placed


def _in_use(design: Design, zone: Zone) -> bool:
    return (
        any(node.zone == zone.key and node.kind not in _UNSEEN for node in design.nodes)
        or any(load.zone == zone.key for load in design.loads)
        or any(item.zone == zone.key for item in design.platform.no_mount_zones)
    )


def _wanted(design: Design, zone: Zone, frame: Frame, index: int, *, numbered: bool) -> Place:
    boxes = tuple(node.key for node in design.nodes if node.zone == zone.key and node.kind not in _UNSEEN)
    loads = [load for load in design.loads if load.zone == zone.key]
    box_w = max((width_of(key, 12, weight=600) + 12 for key in boxes), default=0.0)
    rows = min(len(boxes), _BOX_ROWS)
    columns = -(-len(boxes) // _BOX_ROWS)
    # with numbers the key lists the circuits, and the room is needed for the numbers
    squares = 0 if numbered else min(len(loads), _SQUARES)
    width = max(20.0 if numbered else 6.0, squares * 8.0, columns * (box_w + 2))
    height = (23 if numbered else 0) + 20 * rows + (9 if squares else 0)
    x, y = frame.x(zone.x_mm), frame.y(zone.y_mm)
    return Place(
        number=index, name=zone.name, at_x=x, at_y=y, x=x, y=y, width=width, height=max(height, 8.0), boxes=boxes, box_w=box_w,
        circuits=tuple(dict.fromkeys(load.circuit for load in loads)), load_count=squares,
        guides=tuple(item.guide for item in design.platform.no_mount_zones if item.zone == zone.key),
    )  # fmt: skip


def _fitted(place: Place, placed: list[Place], frame: Frame) -> Place:
    """The nearest free spot: rings of growing radius about the zone, first up and down, then sideways."""
    for ring in range(60):
        for dx, dy in _ring(ring):
            x = min(max(place.at_x + dx * _STEP, frame.left + place.width / 2 + 6), frame.right - place.width / 2 - 6)
            y = min(max(place.at_y + dy * _STEP, frame.top + place.height / 2 + 6), frame.foot - place.height / 2 - 6)
            if not any(_touch(x, y, place, other) for other in placed):
                return replace(place, x=x, y=y)
    return place


def _ring(ring: int) -> list[tuple[int, int]]:
    if ring == 0:
        return [(0, 0)]
    edge = [(dx, dy) for dx in range(-ring, ring + 1) for dy in range(-ring, ring + 1) if max(abs(dx), abs(dy)) == ring]
    return sorted(edge, key=lambda step: (step[0] ** 2 + step[1] ** 2, abs(step[0]), step))


def _touch(x: float, y: float, place: Place, other: Place) -> bool:
    gap = 5.0
    return (
        abs(x - other.x) < (place.width + other.width) / 2 + gap
        and abs(y - other.y) < (place.height + other.height) / 2 + gap
    )
