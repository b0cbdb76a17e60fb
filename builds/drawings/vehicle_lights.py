"""
The vehicle from above with its lamps as the rules light them.

A lamp is a bar with the letter of its colour. Lit: filled with its own colour, a heavy edge, three rays the way it shines,
a bold number; dark: hollow and thin. The picture is still; what is told by it stands in words beside it, by the same numbers.
"""

from collections.abc import Mapping

from builds.drawings.lamp_places import CELL, DEPTH, LampPlace, lamp_places
from builds.drawings.palette import OBJECT_INK, SCREEN, Palette
from builds.drawings.svg import drawing, element, number, words
from builds.drawings.texts import backed_text, text
from builds.drawings.vehicle_places import Frame, frame_of
from builds.drawings.vehicle_plan import draw_body
from builds.engineering.design import Design
from builds.engineering.functions.schedule import Channel, FunctionSchedule
from builds.engineering.functions.vocabulary import Colour, Facing

__all__ = ["LETTERS", "draw_vehicle_lights", "lamp_numbers"]

LETTERS = {
    Colour.RED: "R", Colour.BLUE: "B", Colour.YELLOW: "A", Colour.WHITE: "W", Colour.GREEN: "G", Colour.NONE: "L",
}  # fmt: skip
_LIGHT = {
    Colour.RED: "#e07a68", Colour.BLUE: "#7fa8e0", Colour.YELLOW: "#f0b429", Colour.WHITE: "#ffffff",
    Colour.GREEN: "#86c79a", Colour.NONE: "#e9e4c8",
}  # fmt: skip
_RAY = 7.0
_OUT = {Facing.FRONT: (-1, 0), Facing.REAR: (1, 0), Facing.RIGHT: (0, -1), Facing.LEFT: (0, 1), Facing.NONE: (0, -1)}


def draw_vehicle_lights(
    design: Design, schedule: FunctionSchedule, levels: Mapping[str, int], *, palette: Palette = SCREEN
) -> str:
    """
    Return the vehicle with its lamps as an SVG.

    Parameters
    ----------
    design : Design
        Its platform gives outline and zones.
    schedule : FunctionSchedule
        Its lamps are drawn; sirens, relays and outlets are told in words only.
    levels : mapping of str to int
        How bright each channel is now, in percent; a channel left out is dark.
    palette : Palette
        ``SCREEN`` writes classes, ``PRINT`` literal colours.
    """
    frame = frame_of(design)
    places = lamp_places(design, schedule, frame)
    lit = [f"{place.number} {channel.key}" for place in places for channel in place.channels if levels.get(channel.key)]
    return drawing(
        element("desc", words("Lit: " + "; ".join(lit) + "." if lit else "No lamp is lit.")),
        draw_body(frame, design, palette),
        _sides(frame, palette),
        *(_lamp(place, levels, palette) for place in places),
        width=frame.width,
        height=frame.foot + 30,
        title=f"{design.platform.name} from above, lamps as the rules light them",
        class_="vehicle-lights",
    )


def lamp_numbers(design: Design, schedule: FunctionSchedule) -> dict[str, int]:
    """Return the number that stands at each lamp's channel on the drawing."""
    places = lamp_places(design, schedule, frame_of(design))
    return {channel.key: place.number for place in places for channel in place.channels}


def _sides(frame: Frame, palette: Palette) -> str:
    middle_y = (frame.top + frame.foot) / 2
    arrow = element(
        "path", d=f"M{number(frame.left - 14)} {number(middle_y + 14)}h-26l7 -4m-7 4l7 4", stroke_width=1.25,
        **palette.paint(fill="none", stroke="text-2"),
    )  # fmt: skip
    return (
        text("right side", frame.right, frame.top - 12, palette=palette, size=12.5, anchor="end", tone="text-2")
        + text("left side", frame.right, frame.foot + 22, palette=palette, size=12.5, anchor="end", tone="text-2")
        + text("front", 2, middle_y + 4, palette=palette, size=12.5, tone="text-2")
        + arrow
    )


def _lamp(place: LampPlace, levels: Mapping[str, int], palette: Palette) -> str:
    lit = any(levels.get(channel.key) for channel in place.channels)
    cells = "".join(_cell(place, at, channel, levels.get(channel.key, 0), palette) for at, channel in _cells(place))
    return element("g", _number(place, palette, lit=lit), cells, class_="lamp lamp-lit" if lit else "lamp")


def _cells(place: LampPlace) -> list[tuple[float, Channel]]:
    start = -place.along / 2 + CELL / 2
    return [(start + CELL * index, channel) for index, channel in enumerate(place.channels)]


def _cell(place: LampPlace, at: float, channel: Channel, level: int, palette: Palette) -> str:
    x, y = (place.x, place.y - at) if place.is_across else (place.x + at, place.y)
    width, height = (DEPTH, CELL - 2) if place.is_across else (CELL - 2, DEPTH)
    fill = _LIGHT[channel.colour] if level else "sheet"
    box = element(
        "rect", x=x - width / 2, y=y - height / 2, width=width, height=height, rx=2,
        stroke_width=2.25 if level else 1, **palette.paint(fill=fill, stroke="text" if level else "edge"),
    )  # fmt: skip
    letter = text(
        LETTERS[channel.colour], x, y + 4.3, palette=palette, size=12, weight=800 if level else 400, anchor="middle",
        tone=OBJECT_INK if level else "text-2",
    )  # fmt: skip
    return box + letter + (_rays(place, x, y, palette) if level else "")


def _rays(place: LampPlace, x: float, y: float, palette: Palette) -> str:
    """Three short lines the way the lamp shines."""
    out_x, out_y = _OUT[place.facing]
    lines = []
    for spread in (-6, 0, 6):
        start_x, start_y = x + out_x * (DEPTH / 2 + 3) - out_y * spread, y + out_y * (DEPTH / 2 + 3) + out_x * spread
        tip_x, tip_y = out_x * _RAY - out_y * spread / 3, out_y * _RAY + out_x * spread / 3
        lines.append(f"M{number(start_x)} {number(start_y)}l{number(tip_x)} {number(tip_y)}")
    return element("path", d="".join(lines), stroke_width=1.6, **palette.paint(fill="none", stroke="text"))


def _number(place: LampPlace, palette: Palette, *, lit: bool) -> str:
    out_x, out_y = _OUT[place.facing]
    x, y = place.x - out_x * (DEPTH / 2 + 3), place.y - out_y * (DEPTH / 2 + 9) + 4.3
    anchor = {1: "end", -1: "start"}.get(out_x, "middle")
    return backed_text(
        str(place.number), x, y, palette=palette, size=12, weight=800 if lit else 400, anchor=anchor,
        tone="text" if lit else "text-2",
    )  # fmt: skip
