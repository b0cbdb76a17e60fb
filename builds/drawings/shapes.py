"""The state shapes: a state is always one of these and a word. All differ in outline at 12 px and without colour."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from builds.drawings.palette import SCREEN, Palette
from builds.drawings.svg import drawing, element


class UnknownShape(ValueError):
    """A state was asked for that has no shape."""

    def __init__(self, name: str) -> None:
        super().__init__(f"There is no shape for the state {name!r}. Known states: {', '.join(sorted(STATES))}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """What a state looks like and is called: outline, colour meaning, word used when no other is given."""

    outline: str
    tone: str
    word: str


def _state(outline: str, tone: str, word: str) -> State:
    return State(outline=outline, tone=tone, word=word)


STATES: Mapping[str, State] = MappingProxyType(
    {
        "blocking": _state("diamond", "stop", "Blocking"),
        "late": _state("diamond", "stop", "Late"),
        "over": _state("diamond", "stop", "Over"),
        "failed": _state("diamond", "stop", "Failed"),
        "caution": _state("triangle", "care", "Caution"),
        "at_risk": _state("triangle", "care", "At risk"),
        "near": _state("triangle", "care", "Near"),
        "note": _state("ring", "note", "Note"),
        "pass": _state("tick", "good", "Pass"),
        "on_time": _state("tick", "good", "On time"),
        "within": _state("tick", "good", "Within"),
        "done": _state("tick", "good", "Done"),
        "defective": _state("cross", "stop", "Defective"),
        "missing": _state("cross", "stop", "Missing"),
        "not_applicable": _state("dash", "text-2", "Not applicable"),
        "not_measured": _state("dashed_square", "text-2", "Not measured"),
        "to_do": _state("square", "text-2", "To do"),
        "planned": _state("square", "text-2", "Planned"),
        "in_work": _state("half_circle", "text-2", "In work"),
        "waiting": _state("hourglass", "text-2", "Waiting"),
        "hold_point": _state("hexagon", "text-2", "Hold point"),
        "changed": _state("open_triangle", "text-2", "Changed"),
    }
)


def state_named(name: str) -> State:
    """Return the state of that name; spaces and hyphens count as underscores. Raises ``UnknownShape``."""
    state = STATES.get(str(name).strip().lower().replace("-", "_").replace(" ", "_"))
    if state is None:
        raise UnknownShape(str(name))
    return state


def _diamond(palette: Palette, tone: str) -> str:
    # the bar is cut out (even-odd), so the outline stays a notched diamond in print and on any ground
    return element(
        "path",
        d="M8 .8 15.2 8 8 15.2 .8 8zM4.4 6.9v2.2h7.2V6.9z",
        fill_rule="evenodd",
        **palette.paint(fill=tone),
    )


def _triangle(palette: Palette, tone: str) -> str:
    body = element(
        "path",
        d="M8 1.6 15.1 14.4H.9z",
        stroke_width=1.5,
        stroke_linejoin="round",
        **palette.paint(fill="care-f" if tone == "care" else "none", stroke=tone),
    )
    ink = {"fill": "none", "stroke": "#12181b"} if tone == "care" else palette.paint(fill="none", stroke=tone)
    return body + element("path", d="M8 5.8v4.1M8 11.5v1.6", stroke_width=1.7, **ink)


def _ring(palette: Palette, tone: str) -> str:
    ring = element(
        "circle",
        cx=8,
        cy=8,
        r=6.2,
        stroke_width=1.8,
        **palette.paint(fill="none", stroke=tone),
    )
    return ring + element("circle", cx=8, cy=8, r=2, **palette.paint(fill=tone))


def _tick(palette: Palette, tone: str) -> str:
    return element(
        "path",
        d="M2 8.8 6.2 13 14 3.4",
        stroke_width=2.6,
        **palette.paint(fill="none", stroke=tone),
    )


def _cross(palette: Palette, tone: str) -> str:
    return element(
        "path",
        d="M3.2 3.2 12.8 12.8M12.8 3.2 3.2 12.8",
        stroke_width=2.6,
        **palette.paint(fill="none", stroke=tone),
    )


def _dash(palette: Palette, tone: str) -> str:
    return element("path", d="M2 8h12", stroke_width=2.4, **palette.paint(fill="none", stroke=tone))


def _dashed_square(palette: Palette, tone: str) -> str:
    return element(
        "rect",
        x=2,
        y=2,
        width=12,
        height=12,
        stroke_width=1.6,
        stroke_dasharray="3 1.8",
        stroke_dashoffset=1.5,
        **palette.paint(fill="none", stroke=tone),
    )


def _square(palette: Palette, tone: str) -> str:
    return element(
        "rect",
        x=2,
        y=2,
        width=12,
        height=12,
        stroke_width=1.6,
        **palette.paint(fill="none", stroke=tone),
    )


def _half_circle(palette: Palette, tone: str) -> str:
    ring = element(
        "circle",
        cx=8,
        cy=8,
        r=6.2,
        stroke_width=1.6,
        **palette.paint(fill="none", stroke=tone),
    )
    return ring + element("path", d="M8 1.8A6.2 6.2 0 0 0 8 14.2z", **palette.paint(fill=tone))


def _hourglass(palette: Palette, tone: str) -> str:
    frame = element(
        "path",
        d="M2.6 1.6H13.4M2.6 14.4H13.4",
        stroke_width=1.8,
        **palette.paint(fill="none", stroke=tone),
    )
    glass = element(
        "path",
        d="M4 2 12 14H4L12 2z",
        stroke_width=1.5,
        stroke_linejoin="round",
        **palette.paint(fill="none", stroke=tone),
    )
    return frame + glass + element("path", d="M5.2 13.4 8 9.6 10.8 13.4z", **palette.paint(fill=tone))


def _hexagon(palette: Palette, tone: str) -> str:
    body = element(
        "path",
        d="M4.5 1.6H11.5L15.2 8 11.5 14.4H4.5L.8 8z",
        stroke_width=1.5,
        **palette.paint(fill="none", stroke=tone),
    )
    return body + element(
        "path",
        d="M5.8 4.8V11.2M10.2 4.8V11.2M5.8 8H10.2",
        stroke_width=1.6,
        **palette.paint(fill="none", stroke=tone),
    )


def _open_triangle(palette: Palette, tone: str) -> str:
    return element(
        "path",
        d="M8 3.4 13.6 13.2H2.4z",
        stroke_width=1.5,
        **palette.paint(fill="none", stroke="text"),
    )


_OUTLINES: Mapping[str, Callable[[Palette, str], str]] = MappingProxyType(
    {
        "diamond": _diamond,
        "triangle": _triangle,
        "ring": _ring,
        "tick": _tick,
        "cross": _cross,
        "dash": _dash,
        "dashed_square": _dashed_square,
        "square": _square,
        "half_circle": _half_circle,
        "hourglass": _hourglass,
        "hexagon": _hexagon,
        "open_triangle": _open_triangle,
    }
)


def draw_marks(name: str, *, palette: Palette = SCREEN, tone: str | None = None) -> str:
    """Return the bare elements of a shape on its 16 by 16 grid, to be placed inside a larger drawing."""
    state = state_named(name)
    return _OUTLINES[state.outline](palette, tone or state.tone)


def draw_shape(
    name: str,
    *,
    palette: Palette = SCREEN,
    size_px: float = 16,
    tone: str | None = None,
) -> str:
    """
    Return the shape of a state as an SVG, hidden from screen readers: the word beside it says the same.

    ``tone`` replaces the state's own colour meaning (``"text"`` on a filled button, say).
    """
    return drawing(
        draw_marks(name, palette=palette, tone=tone),
        width=size_px,
        height=size_px,
        view_width=16,
        view_height=16,
        class_="shape",
    )
