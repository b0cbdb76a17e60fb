"""
How an instrument is set up for a reading: a small sketch above the acts of a step.

Each sketch is 358 by 124 and shows the instrument, the two points it is held to and their names. What is measured is
drawn in the ink of the page, the leads in its accent, with an arrow head where they touch.
"""

from collections.abc import Callable

from builds.drawings.palette import FACE, SCREEN, Palette
from builds.drawings.svg import drawing, element, words

__all__ = ["draw_setup"]

_WIDTH, _HEIGHT = 358.0, 124.0


def draw_setup(step_key: str, subject: str, *, palette: Palette = SCREEN) -> str:
    """
    Return the sketch of a step's reading, or an empty text where the step has none.

    Parameters
    ----------
    step_key : str
        The step's key; the part before its slash says what sort of reading it is.
    subject : str
        What the step is about, "node:G2" or "circuit:203"; the part behind the colon is printed.
    palette : Palette
        How colours are written.
    """
    kind, _, rest = step_key.partition("/")
    draw = _SETUPS.get(kind)
    if draw is None:
        return ""
    name = subject.partition(":")[2] or rest
    title, parts = draw(name, palette)
    return drawing(*parts, width=_WIDTH, height=_HEIGHT, title=title, class_="setup")


def _stud(name: str, palette: Palette) -> tuple[str, list[str]]:
    """A voltmeter between a ground and the battery's negative post, current flowing home between the two."""
    home = element("path", d="M96 92H264", stroke_width=3.5, **palette.paint(fill="none", stroke="text"))
    arrow = element("path", d="M170 92l13 -7v14z", **palette.paint(fill="text"))
    stud = element("circle", cx=280, cy=92, r=17, stroke_width=2, **palette.paint(fill="sheet", stroke="text"))
    hole = element("circle", cx=280, cy=92, r=6, stroke_width=2, **palette.paint(fill="none", stroke="text"))
    parts = [
        home, arrow, *_battery(38, 72, palette), stud, hole, _word(306, 97, name, palette, size=16, anchor="start"),
        *_meter("V", palette), *_lead("M157 26C112 26 82 32 82 52", 82, 64, palette),
        *_lead("M201 26C246 26 280 36 280 61", 280, 73, palette), _word(179, 117, "current on its way home", palette, soft=True),
    ]  # fmt: skip
    return f"Voltmeter between the battery's negative post and {name}", parts


def _volts(name: str, palette: Palette) -> tuple[str, list[str]]:
    """A voltmeter across a load's own plus and minus, the load on."""
    box = element(
        "rect", x=124, y=70, width=110, height=32, stroke_width=2, **palette.paint(fill="sheet", stroke="text")
    )
    wires = element("path", d="M34 86H124M234 86H324", stroke_width=3.5, **palette.paint(fill="none", stroke="text"))
    parts = [
        wires, box, _word(179, 91, f"load of {name}", palette, size=15), _word(104, 106, "+", palette, size=18),
        _word(254, 106, "−", palette, size=18), *_meter("V", palette),
        *_lead("M157 26C122 26 104 38 104 66", 104, 79, palette), *_lead("M201 26C236 26 254 38 254 66", 254, 79, palette),
        _word(179, 120, "switched on, at full load", palette, soft=True),
    ]  # fmt: skip
    return f"Voltmeter across the load of circuit {name}", parts


def _battery_at_rest(name: str, palette: Palette) -> tuple[str, list[str]]:
    """A voltmeter on both posts of a battery that feeds nothing."""
    case = element(
        "rect", x=109, y=74, width=140, height=32, stroke_width=2, **palette.paint(fill="sheet", stroke="text")
    )
    posts = element(
        "path", d="M122 74V66H138V74M220 74V66H236V74", stroke_width=2, **palette.paint(fill="sheet", stroke="text")
    )
    parts = [
        posts, case, _word(179, 96, name, palette, size=15), _word(130, 95, "+", palette, size=16),
        _word(228, 95, "−", palette, size=16), *_meter("V", palette),
        *_lead("M157 26C138 26 130 36 130 52", 130, 64, palette), *_lead("M201 26C220 26 228 36 228 52", 228, 64, palette),
        _word(179, 120, "on the posts, not on the clamps", palette, soft=True),
    ]  # fmt: skip
    return f"Voltmeter on both posts of {name}", parts


def _key_off(name: str, palette: Palette) -> tuple[str, list[str]]:
    """A clamp around the battery's cable, everything shut and asleep."""
    return _clamp(
        "Clamp ammeter around the battery's cable", "mA", "closed before the key goes off", "to the vehicle", palette
    )


def _load(name: str, palette: Palette) -> tuple[str, list[str]]:
    """A clamp around a feed of the added distribution, everything of a condition on."""
    return _clamp(
        "Clamp ammeter around each feed in turn",
        "A",
        "one feed after the other, all of it on",
        "to the panels",
        palette,
    )


def _clamp(title: str, unit: str, under: str, beyond: str, palette: Palette) -> tuple[str, list[str]]:
    cable = element("path", d="M96 78H324", stroke_width=5, **palette.paint(fill="none", stroke="text"))
    jaw = element("ellipse", cx=200, cy=78, rx=14, ry=21, stroke_width=5, **palette.paint(fill="none", stroke="act"))
    handle = element("path", d="M200 57V38", stroke_width=5, **palette.paint(fill="none", stroke="act"))
    over = element("path", d="M187 78H213", stroke_width=5, **palette.paint(fill="none", stroke="text"))
    meter = element(
        "rect", x=170, y=4, width=60, height=34, rx=4, stroke_width=2, **palette.paint(fill="sheet", stroke="text")
    )
    parts = [
        cable, jaw, over, handle, meter, _word(200, 27, unit, palette, size=16), *_battery(38, 58, palette),
        _word(179, 119, under, palette, soft=True), _word(286, 68, beyond, palette, soft=True),
    ]  # fmt: skip
    return title, parts


def _weigh(name: str, palette: Palette) -> tuple[str, list[str]]:
    """A vehicle from the side, front left, one axle on the scale."""
    body = element(
        "path", d="M46 78V54L76 48L98 22H176V16H312V78Z", stroke_width=2.25, stroke_linejoin="round",
        **palette.paint(fill="sheet", stroke="text"),
    )  # fmt: skip
    wheels = [
        element("circle", cx=x, cy=78, r=16, stroke_width=2.25, **palette.paint(fill="sheet", stroke="text"))
        for x in (94, 262)
    ]
    at = 262 if name == "rear" else 94
    scale = element("rect", x=at - 40, y=95, width=80, height=8, **palette.paint(fill="act"))
    ground = element("path", d="M20 103H338", stroke_width=2, **palette.paint(fill="none", stroke="text"))
    side = _word(at, 119, f"{name} axle on the scale", palette, soft=True)
    return f"The {name} axle on a scale", [body, *wheels, ground, scale, side]


_SETUPS: dict[str, Callable[[str, Palette], tuple[str, list[str]]]] = {
    "stud": _stud,
    "volts": _volts,
    "battery": _battery_at_rest,
    "key-off": _key_off,
    "load": _load,
    "weigh": _weigh,
}


def _meter(unit: str, palette: Palette) -> list[str]:
    """A hand-held meter in the middle of the top, its display and its knob."""
    case = element(
        "rect", x=157, y=4, width=44, height=46, rx=4, stroke_width=2, **palette.paint(fill="sheet", stroke="text")
    )
    display = element(
        "rect", x=163, y=9, width=32, height=17, stroke_width=1.25, **palette.paint(fill="quiet", stroke="text")
    )
    knob = element("circle", cx=179, cy=38, r=6.5, stroke_width=1.5, **palette.paint(fill="none", stroke="text"))
    mark = element("path", d="M179 38L183 34", stroke_width=1.75, **palette.paint(fill="none", stroke="text"))
    return [case, display, knob, mark, _word(179, 22, unit, palette, size=14)]


def _battery(x: float, y: float, palette: Palette) -> list[str]:
    """A battery with its posts, the negative one on the right."""
    posts = element(
        "path",
        d=f"M{x + 10:g} {y}v-8h10v8M{x + 38:g} {y}v-8h10v8",
        stroke_width=1.75,
        **palette.paint(fill="sheet", stroke="text"),
    )
    case = element("rect", x=x, y=y, width=58, height=40, stroke_width=2, **palette.paint(fill="sheet", stroke="text"))
    plus, minus = _word(x + 15, y + 17, "+", palette, size=15), _word(x + 43, y + 17, "−", palette, size=15)
    return [posts, case, plus, minus, _word(x + 29, y + 34, "battery", palette, size=13)]


def _lead(path: str, x: float, y: float, palette: Palette) -> list[str]:
    """A test lead with an arrow head where it touches."""
    line = element("path", d=path, stroke_width=2.5, **palette.paint(fill="none", stroke="act"))
    return [line, element("path", d=f"M{x:g} {y:g}l-6 -12h12z", **palette.paint(fill="act"))]


def _word(
    x: float, y: float, text: str, palette: Palette, *, size: float = 14, soft: bool = False, anchor: str = "middle"
) -> str:
    return element(
        "text", words(text), x=x, y=y, text_anchor=anchor, font_family=FACE, font_size=size,
        font_weight=400 if soft else 600, **palette.paint(fill="text-2" if soft else "text"),
    )  # fmt: skip
