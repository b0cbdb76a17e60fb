"""
Charge, voltage and currents over a duty profile: one plot under the other on one axis of time.

Lines differ by their dashes and say their names at their ends; segments are numbered above, and what is shed or restored
stands as a triangle under the axis. The words and the table beside the drawing say the same.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from builds.drawings.palette import SCREEN, Palette
from builds.drawings.svg import drawing, element, number
from builds.drawings.text_width import width_of
from builds.drawings.texts import text

__all__ = ["Line", "Panel", "Stretch", "Switching", "draw_duty"]

_DASHES = (None, "7 4", "2 4", "10 3 2 3")
_LEFT, _TOP, _FOOT, _BETWEEN, _SIZE = 44.0, 24.0, 40.0, 30.0, 12.0
_LEAST_TICK_PX = 34.0


@dataclass(frozen=True, slots=True)
class Line:
    """A figure over time: its name, the hours and the values; ``style`` chooses its dashes, the same for the same thing."""

    name: str
    hours: Sequence[float]
    values: Sequence[float]
    style: int = 0


@dataclass(frozen=True, slots=True)
class Panel:
    """One plot: what it shows with its unit, its lines, and values that it shows at least; ``limits`` are drawn across."""

    title: str
    lines: tuple[Line, ...]
    least: float
    most: float
    limits: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Stretch:
    """A segment: its number on the drawing and its ends in hours."""

    label: str
    begin_h: float
    end_h: float


@dataclass(frozen=True, slots=True)
class Switching:
    """A step that sheds or restores at a time."""

    at_h: float
    sheds: bool


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where a plot lies and what it runs over."""

    top: float
    width: float
    height: float
    hours: float
    least: float
    most: float

    def x(self, at_h: float) -> float:
        return _LEFT + self.width * (at_h / self.hours if self.hours else 0.0)

    def y(self, value: float) -> float:
        return self.top + self.height * (self.most - value) / (self.most - self.least)


def draw_duty(
    title: str,
    panels: Sequence[Panel],
    stretches: Sequence[Stretch],
    switchings: Sequence[Switching],
    *,
    width_px: float = 720,
    panel_px: float = 130,
    palette: Palette = SCREEN,
) -> str:
    """
    Return the plots of a profile, one under the other.

    Parameters
    ----------
    title : str
        Its name for a screen reader.
    panels : sequence of Panel
        From above.
    stretches : sequence of Stretch
        The segments; the last one's end is the end of the axis.
    switchings : sequence of Switching
        What is shed and restored.
    width_px, panel_px : float
        Width of the whole and height of one plot. [px]
    palette : Palette
        Screen or paper.
    """
    hours = max((stretch.end_h for stretch in stretches), default=0.0)
    room = max((width_of(line.name, _SIZE) for panel in panels for line in panel.lines), default=0.0) + 10
    parts: list[str] = []
    for place, panel in enumerate(panels):
        least, most = _range(panel)
        top = _TOP + place * (panel_px + _BETWEEN) + 18
        frame = _Frame(top, width_px - _LEFT - room, panel_px, hours, least, most)
        parts += _panel(panel, frame, stretches, palette, numbered=place == 0)
    height = _TOP + len(panels) * (panel_px + _BETWEEN) + _FOOT
    if panels:
        parts += _axis(frame, switchings, palette)
    return drawing(*parts, width=width_px, height=height, title=title, class_="duty-plot")


def _range(panel: Panel) -> tuple[float, float]:
    values = [value for line in panel.lines for value in line.values] + [value for _, value in panel.limits]
    least, most = min([panel.least, *values]), max([panel.most, *values])
    return (least, most) if most > least else (least - 1, most + 1)


def _panel(
    panel: Panel, frame: _Frame, stretches: Sequence[Stretch], palette: Palette, *, numbered: bool
) -> Iterator[str]:
    yield text(panel.title, _LEFT, frame.top - 6, palette=palette, size=_SIZE, weight=600)
    for value in _ticks(frame.least, frame.most, max(2, int(frame.height // _LEAST_TICK_PX))):
        y = frame.y(value)
        yield element(
            "path", d=f"M{number(_LEFT)} {number(y)}H{number(_LEFT + frame.width)}", stroke_width=1,
            **palette.paint(fill="none", stroke="hair"),
        )  # fmt: skip
        yield text(f"{value:g}", _LEFT - 6, y + 4, palette=palette, size=_SIZE, anchor="end", tone="text-2")
    for stretch in stretches:
        yield from _stretch(stretch, frame, palette, numbered=numbered)
    lowest = min((value for _, value in panel.limits), default=0.0)
    for place, (name, value) in enumerate(panel.limits):
        is_under = len(panel.limits) > 1 and value == lowest  # no line lies between a name and its own
        y, x = frame.y(value), _LEFT + 4 + place * (width_of(name, _SIZE) + 16)
        yield element(
            "path", d=f"M{number(_LEFT)} {number(y)}H{number(_LEFT + frame.width)}", stroke_width=1.5,
            stroke_dasharray="1 3", **palette.paint(fill="none", stroke="stop"),
        )  # fmt: skip
        yield text(name, x, y + _SIZE if is_under else y - 4, palette=palette, size=_SIZE, tone="stop")
    yield from _lines(panel, frame, palette)


def _stretch(stretch: Stretch, frame: _Frame, palette: Palette, *, numbered: bool) -> Iterator[str]:
    begin, end = frame.x(stretch.begin_h), frame.x(stretch.end_h)
    yield element(
        "path", d=f"M{number(end)} {number(frame.top)}V{number(frame.top + frame.height)}", stroke_width=1,
        **palette.paint(fill="none", stroke="edge"),
    )  # fmt: skip
    if numbered and end - begin >= width_of(stretch.label, _SIZE) + 2:
        yield text(stretch.label, (begin + end) / 2, 14, palette=palette, size=_SIZE, anchor="middle", tone="text-2")


def _lines(panel: Panel, frame: _Frame, palette: Palette) -> Iterator[str]:
    """Each line with its name at its end; names that would meet move apart."""
    ends = []
    for line in panel.lines:
        points = [(frame.x(at_h), frame.y(value)) for at_h, value in zip(line.hours, line.values, strict=True)]
        if points:
            path = "M" + "L".join(f"{number(x)} {number(y)}" for x, y in _thinned(points))
            yield element(
                "path", d=path, stroke_width=2, stroke_linejoin="round",
                stroke_dasharray=_DASHES[line.style % len(_DASHES)], **palette.paint(fill="none", stroke="text"),
            )  # fmt: skip
            ends.append((points[-1][1], line.name))
    last = -math.inf
    for y, name in sorted(ends):
        last = max(y + 4, last + _SIZE + 2)
        yield text(name, _LEFT + frame.width + 6, last, palette=palette, size=_SIZE)


def _thinned(points: list[tuple[float, float]]) -> Iterator[tuple[float, float]]:
    """Leave out what lies within half a pixel of the point before it."""
    kept = points[0]
    yield kept
    for point in points[1:-1]:
        if abs(point[0] - kept[0]) >= 0.5 or abs(point[1] - kept[1]) >= 0.5:
            kept = point
            yield kept
    yield points[-1]


def _axis(frame: _Frame, switchings: Sequence[Switching], palette: Palette) -> Iterator[str]:
    """Hours under the lowest plot, and a triangle for each switching: downwards where something goes off."""
    foot = frame.top + frame.height
    for at_h in _ticks(0.0, frame.hours, max(2, int(frame.width // 60))):
        yield text(f"{at_h:g} h", frame.x(at_h), foot + 30, palette=palette, size=_SIZE, anchor="middle", tone="text-2")
    for switching in switchings:
        x = frame.x(switching.at_h)
        tip, base = (foot + 12, foot + 4) if switching.sheds else (foot + 4, foot + 12)
        corners = f"{number(x)},{number(tip)} {number(x - 4)},{number(base)} {number(x + 4)},{number(base)}"
        fill = "text" if switching.sheds else "sheet"
        yield element("polygon", points=corners, stroke_width=1.5, **palette.paint(fill=fill, stroke="text"))


def _ticks(least: float, most: float, count: int) -> list[float]:
    """
    Round values between two ends, at most about ``count`` of them.

    >>> _ticks(11.5, 14.4, 4), _ticks(0, 24, 6), _ticks(0.0, 0.0, 4)
    ([12.0, 13.0, 14.0], [0.0, 4.0, 8.0, 12.0, 16.0, 20.0, 24.0], [0.0])
    """
    if most <= least:
        return [least]
    raw = (most - least) / count
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(times * power for times in (1, 2, 4, 5, 10, 20) if times * power >= raw * 0.999)
    first = math.ceil(least / step - 1e-9)
    return [round(place * step, 6) for place in range(first, math.floor(most / step + 1e-9) + 1)]
