"""
The vehicle from above, front at the left: where everything stands, by the zones of its platform.

The outline is drawn from the wheelbase and the places of the zones, so it is a plan of places and not of the body's
shape. Seen from above with the front at the left, the vehicle's right side is at the top.
"""

from builds.drawings.measures import mass_words
from builds.drawings.palette import SCREEN, Palette
from builds.drawings.svg import drawing, element, number, words
from builds.drawings.text_width import shorten, wrap
from builds.drawings.texts import text
from builds.drawings.vehicle_places import Frame, Place, frame_of, places_of
from builds.engineering.assessment import Assessment
from builds.engineering.design import Design
from builds.engineering.vocabulary import VehicleSide

__all__ = ["draw_body", "draw_vehicle_plan"]

_KEY_LINE = 18.0
_TYRE_MM = (720.0, 90.0)
_CIRCUITS_LISTED = 9


def draw_vehicle_plan(
    design: Design,
    assessment: Assessment | None = None,
    *,
    palette: Palette = SCREEN,
    labels: bool = True,
    plain: bool = False,
) -> str:
    """
    Return the plan of a build's vehicle as an SVG.

    Parameters
    ----------
    design : Design
        Its platform gives zones, wheelbase and places where nothing is mounted.
    assessment : Assessment, optional
        Gives the load of each axle against its rating.
    palette : Palette
        ``SCREEN`` writes classes, ``PRINT`` literal colours.
    labels : bool, default True
        Number the zones and print their key beneath; False leaves the picture alone, as on a cover.
    plain : bool, default False
        Leave out every word, for a picture too small to read.

    Returns
    -------
    str
        An SVG 700 px wide. Power equipment stands as boxes with its address; without numbers, loads are small squares, at
        most eight a zone; hatched is where nothing is mounted.
    """
    frame = frame_of(design)
    labels = labels and not plain
    places = places_of(design, frame, numbered=labels)
    parts = [draw_body(frame, design, palette), *(_hatched(place, palette) for place in places if place.guides)]
    parts.append(_around(frame, design, assessment, palette, plain=plain))
    parts += [_leader(place, palette) for place in places]
    parts += [_place(place, palette, numbered=labels, plain=plain) for place in places]
    key, height = (
        _key(design, places, frame, palette) if labels else ("", frame.foot + 12 if plain else frame.bottom + 6)
    )
    parts.append(key)
    description = element(
        "desc", words(". ".join(f"{name}: {held}" for _, name, held in _key_lines(design, places)) + ".")
    )
    return drawing(
        description,
        *parts,
        width=frame.width,
        height=height,
        title=f"{design.platform.name} from above",
        class_="vehicle-plan",
    )


def draw_body(frame: Frame, design: Design, palette: Palette) -> str:
    """Return the outline of a vehicle with its tyres, windscreen and wheel."""
    left, right, top, bottom = frame.left, frame.right, frame.top, frame.foot
    nose = min(44.0, (bottom - top) / 4)
    outline = (
        f"M{number(left + nose)} {number(top)}H{number(right - 8)}Q{number(right)} {number(top)} {number(right)} {number(top + 8)}"
        f"V{number(bottom - 8)}Q{number(right)} {number(bottom)} {number(right - 8)} {number(bottom)}H{number(left + nose)}"
        f"Q{number(left)} {number(bottom)} {number(left)} {number(bottom - nose)}V{number(top + nose)}"
        f"Q{number(left)} {number(top)} {number(left + nose)} {number(top)}z"
    )
    shell = element("path", d=outline, stroke_width=2.25, **palette.paint(fill="sheet", stroke="text"))
    return (
        "".join(_tyre(frame, x_mm, palette) for x_mm in (0.0, design.platform.wheelbase_mm))
        + shell
        + _front(frame, design, palette)
    )


def _tyre(frame: Frame, x_mm: float, palette: Palette) -> str:
    width, height = _TYRE_MM[0] * frame.scale, max(5.0, _TYRE_MM[1] * frame.scale)
    x = frame.x(x_mm) - width / 2
    return "".join(
        element("rect", x=x, y=y, width=width, height=height, rx=2, **palette.paint(fill="text-2", stroke="none"))
        for y in (frame.top - height + 2, frame.foot - 2)
    )


def _front(frame: Frame, design: Design, palette: Palette) -> str:
    """Windscreen and steering wheel, so that front and driver's side are seen at once."""
    x, inset = frame.x(650), 12
    screen = f"M{number(x)} {number(frame.top + inset)}Q{number(x - 16)} {number((frame.top + frame.foot) / 2)} {number(x)} {number(frame.foot - inset)}"
    side = -1 if design.conventions.driver_side is VehicleSide.LEFT else 1
    wheel = element(
        "circle",
        cx=frame.x(1050),
        cy=frame.y(side * 400),
        r=8,
        stroke_width=1.6,
        **palette.paint(fill="none", stroke="edge"),
    )
    return element("path", d=screen, stroke_width=1.25, **palette.paint(fill="none", stroke="edge")) + wheel


def _hatched(place: Place, palette: Palette) -> str:
    """A box about the zone, hatched stroke by stroke: patterns need ids, and ids must not repeat on a page."""
    left, top, width, height = place.at_x - 21, place.at_y - 17, 42.0, 34.0
    strokes, offset = [], 6.0
    while offset < width + height:
        x1, y1 = (left + offset, top) if offset <= width else (left + width, top + offset - width)
        x2, y2 = (left, top + offset) if offset <= height else (left + offset - height, top + height)
        strokes.append(f"M{number(x1)} {number(y1)}L{number(x2)} {number(y2)}")
        offset += 6
    box = element(
        "rect", x=left, y=top, width=width, height=height, stroke_width=1, **palette.paint(fill="none", stroke="edge")
    )
    return box + element("path", d="".join(strokes), stroke_width=0.9, **palette.paint(fill="none", stroke="edge"))


def _leader(place: Place, palette: Palette) -> str:
    """A thin line from a zone to its things, where they had to stand aside."""
    if abs(place.x - place.at_x) + abs(place.y - place.at_y) <= 16:
        return ""
    line = f"M{number(place.at_x)} {number(place.at_y)}L{number(place.x)} {number(place.y)}"
    return element("path", d=line, stroke_width=0.8, **palette.paint(fill="none", stroke="text-2")) + element(
        "circle", cx=place.at_x, cy=place.at_y, r=2, **palette.paint(fill="text-2")
    )


def _place(place: Place, palette: Palette, *, numbered: bool, plain: bool) -> str:
    parts = []
    y = place.y - place.height / 2
    if numbered:
        parts.append(
            element(
                "circle", cx=place.x, cy=y + 10, r=10, stroke_width=1.25, **palette.paint(fill="sheet", stroke="text")
            )
        )
        parts.append(text(str(place.number), place.x, y + 14.5, palette=palette, size=13, weight=600, anchor="middle"))
        y += 23
    for key, left, top in place.box_corners(y):
        parts.append(
            element(
                "rect",
                x=left,
                y=top,
                width=place.box_w,
                height=18,
                stroke_width=1.25,
                **palette.paint(fill="sheet", stroke="text"),
            )
        )
        if not plain:
            middle = left + place.box_w / 2
            parts.append(text(key, middle, top + 13.5, palette=palette, size=12, weight=600, anchor="middle"))
    if place.load_count:
        parts.append(_loads(place, place.below_boxes(y), palette))
    return "".join(parts)


def _loads(place: Place, y: float, palette: Palette) -> str:
    shown = place.load_count
    left = place.x - shown * 8 / 2
    return "".join(
        element(
            "rect",
            x=left + index * 8 + 1,
            y=y + 1,
            width=6,
            height=6,
            stroke_width=1,
            **palette.paint(fill="sheet", stroke="text"),
        )
        for index in range(shown)
    )


def _around(frame: Frame, design: Design, assessment: Assessment | None, palette: Palette, *, plain: bool) -> str:
    """Sides, front, and the axles with their loads; plain leaves the arrow to the front."""
    middle_y = (frame.top + frame.foot) / 2
    arrow = element(
        "path",
        d=f"M{number(frame.left - 8)} {number(middle_y + 4)}h-32l7 -4m-7 4l7 4",
        stroke_width=1.25,
        **palette.paint(fill="none", stroke="text-2"),
    )
    if plain:
        return arrow
    sides = (
        text("right side", frame.right, frame.top - 12, palette=palette, size=12.5, anchor="end", tone="text-2"),
        text("left side", frame.right, frame.foot + 20, palette=palette, size=12.5, anchor="end", tone="text-2"),
        text("front", frame.left - 40, middle_y - 6, palette=palette, size=12.5, tone="text-2"),
    )
    return "".join((*sides, arrow, *_axles(frame, design, assessment, palette)))


def _axles(frame: Frame, design: Design, assessment: Assessment | None, palette: Palette) -> list[str]:
    parts = []
    for index, (name, x_mm) in enumerate((("Front axle", 0.0), ("Rear axle", design.platform.wheelbase_mm))):
        x = frame.x(x_mm)
        path = f"M{number(x)} {number(frame.top - 16)}V{number(frame.foot + 24)}"
        parts.append(
            element(
                "path",
                d=path,
                stroke_width=0.9,
                stroke_dasharray="9 3 2 3",
                **palette.paint(fill="none", stroke="text-2"),
            )
        )
        said = name + _axle_load(index, design, assessment)
        parts.append(text(said, x, frame.foot + 38, palette=palette, size=12.5, anchor="middle"))
    return parts


def _axle_load(index: int, design: Design, assessment: Assessment | None) -> str:
    if assessment is None:
        return ""
    weight = assessment.weight
    load, rating = ((weight.front_axle_kg, weight.gawr_front_kg), (weight.rear_axle_kg, weight.gawr_rear_kg))[index]
    return f" {mass_words(load, design.conventions)} of {mass_words(rating, design.conventions)}"


def _key_lines(design: Design, places: list[Place]) -> list[tuple[int, str, str]]:
    """Number, name and contents of every zone in use."""
    names = {node.key: f"{node.key} {node.name}" for node in design.nodes}
    lines = []
    for place in places:
        held = [names[key] for key in place.boxes]
        if place.circuits:
            held.append(_circuit_words(place.circuits))
        held += [f"hatched, mount nothing ({guide})" for guide in place.guides]
        lines.append((place.number, place.name, "; ".join(held)))
    return lines


def _circuit_words(circuits: tuple[str, ...]) -> str:
    if len(circuits) > _CIRCUITS_LISTED:
        return f"{len(circuits)} circuits"
    return f"circuit {circuits[0]}" if len(circuits) == 1 else f"circuits {' '.join(circuits)}"


def _key(design: Design, places: list[Place], frame: Frame, palette: Palette) -> tuple[str, float]:
    """The key in two columns, each entry on as many lines as it needs, and where it ends."""
    lines = _key_lines(design, places)
    half = -(-len(lines) // 2)
    parts: list[str] = []
    lowest = frame.bottom
    for column, entries in enumerate((lines[:half], lines[half:])):
        y = frame.bottom + 30
        for entry in entries:
            drawn, y = _key_entry(entry, column * frame.width / 2 + 2, y, frame.width / 2 - 14, palette)
            parts.append(drawn)
        lowest = max(lowest, y)
    return "".join(parts), lowest


def _key_entry(entry: tuple[int, str, str], x: float, y: float, width: float, palette: Palette) -> tuple[str, float]:
    figure, name, held = entry
    parts = [
        text(str(figure), x + 16, y, palette=palette, size=12.5, weight=600, anchor="end"),
        text(shorten(name, width - 26, 12.5, weight=600), x + 24, y, palette=palette, size=12.5, weight=600),
    ]
    for line in wrap(held, width - 26, 12.5, most_lines=4):
        y += _KEY_LINE - 3
        parts.append(text(line, x + 24, y, palette=palette, size=12.5, tone="text-2"))
    return "".join(parts), y + _KEY_LINE + 3
