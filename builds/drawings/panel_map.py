"""A fuse panel or module as it looks with its cover off: every position in its true place."""

from collections.abc import Sequence

from builds.drawings.devices import device_marks, device_width
from builds.drawings.findings_marks import worst_finding
from builds.drawings.palette import SCREEN, Palette
from builds.drawings.shapes import draw_marks
from builds.drawings.svg import drawing, element, number, words
from builds.drawings.text_width import shorten, width_of, wrap
from builds.drawings.texts import object_text, text
from builds.engineering.assessment import Assessment
from builds.engineering.design import Circuit, Design, PanelSpec, PowerNode
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.findings import Severity

__all__ = ["draw_panel_map"]

CELL_W = 100.0
_HEAD_H = 26.0
_LEGEND_SIZE = 12.0
_LEGEND_LINE = 14.0
_LEGEND_TOP = 84.0
_EDGE = 1.5


def draw_panel_map(
    design: Design,
    panel_key: str,
    assessment: Assessment | None = None,
    *,
    palette: Palette = SCREEN,
) -> str:
    """
    Return the map of one panel as an SVG.

    Parameters
    ----------
    design : Design
        The design the panel belongs to.
    panel_key : str
        Address of a panel or module, "P2".
    assessment : Assessment, optional
        Its findings mark the positions they are about.
    palette : Palette
        ``SCREEN`` writes classes, ``PRINT`` literal colours.

    Returns
    -------
    str
        An SVG 100 px a column wide, positions counted from the left, row by row. A position that no circuit uses is
        dashed and says "spare"; a circuit on a position the panel does not have is said beneath the map.

    Raises
    ------
    UnknownTableEntry
        If the design has no such panel.
    """
    panel = _panel(design, panel_key)
    spec = panel.panel or PanelSpec(positions=1, columns=1)
    circuits = [circuit for circuit in design.circuits if circuit.panel == panel_key]
    cell_h = _cell_height(circuits)
    columns = min(spec.columns, spec.positions)
    rows = -(-spec.positions // columns)
    width = max(columns * CELL_W, 200.0) + 2 * _EDGE
    parts = [_head(panel, spec, width, palette)]
    parts += [
        _cell(spec_position, circuits, assessment, columns, cell_h, palette)
        for spec_position in range(1, spec.positions + 1)
    ]
    frame_h = rows * cell_h
    parts.append(_frame(columns * CELL_W, frame_h, palette))
    beyond = _beyond(circuits, spec, _HEAD_H + frame_h, width, palette)
    height = _HEAD_H + frame_h + 2 * _EDGE + (22 if beyond else 0)
    description = element("desc", words(_description(panel, spec, circuits)))
    return drawing(
        description,
        *parts,
        beyond,
        width=width,
        height=height,
        title=f"Panel {panel.key}, {panel.name}",
        class_="panel-map",
    )


def _panel(design: Design, key: str) -> PowerNode:
    for node in design.nodes:
        if node.key == key:
            return node
    raise UnknownTableEntry("The design's panels", key)


def _cell_height(circuits: Sequence[Circuit]) -> float:
    lines = max((len(_legend_lines(circuit.legend)) for circuit in circuits), default=1)
    return _LEGEND_TOP + max(lines, 1) * _LEGEND_LINE


def _legend_lines(legend: str) -> tuple[str, ...]:
    return wrap(legend, CELL_W - 8, _LEGEND_SIZE, mono=True, most_lines=3)


def _head(panel: PowerNode, spec: PanelSpec, width: float, palette: Palette) -> str:
    hinge = f"door hinge at {spec.hinge}" if spec.hinge else ""
    key_w = width_of(panel.key, 17, weight=800) + 10
    room = width - key_w - width_of(hinge, 13) - 14
    name = shorten(panel.name, room, 14)
    return (
        text(panel.key, 1, 17, palette=palette, size=17, weight=800)
        + text(name, 1 + key_w, 17, palette=palette, size=14)
        + (
            text(
                hinge,
                width - 1,
                17,
                palette=palette,
                size=13,
                anchor="end",
                tone="text-2",
            )
            if hinge
            else ""
        )
    )


def _frame(width: float, height: float, palette: Palette) -> str:
    return element(
        "rect", x=_EDGE, y=_HEAD_H + _EDGE, width=width, height=height, stroke_width=2.5,
        **palette.paint(fill="none", stroke="text"),
    )  # fmt: skip


def _cell(
    position: int,
    circuits: Sequence[Circuit],
    assessment: Assessment | None,
    columns: int,
    cell_h: float,
    palette: Palette,
) -> str:
    column, row = (position - 1) % columns, (position - 1) // columns
    x, y = _EDGE + column * CELL_W, _HEAD_H + _EDGE + row * cell_h
    here = [circuit for circuit in circuits if circuit.position == position]
    worst = worst_finding(assessment, [f"circuit:{circuit.number}" for circuit in here])
    inside = [
        element(
            "rect",
            x=0,
            y=0,
            width=CELL_W,
            height=cell_h,
            stroke_width=1,
            **palette.paint(fill="none", stroke="hair"),
        ),
        text(str(position), 6, 16, palette=palette, size=13, tone="text-2"),
        *(_taken(here, palette) if here else _spare(palette)),
    ]
    if worst:
        inside.append(_finding(worst, cell_h, palette))
    return element("g", *inside, transform=f"translate({number(x)} {number(y)})")


def _taken(here: Sequence[Circuit], palette: Palette) -> list[str]:
    first = here[0]
    width = device_width(first.device_family, first.device_rating_a)
    marks = device_marks(first.device_family, first.device_rating_a, palette=palette)
    numbers = " + ".join(circuit.number for circuit in here)
    middle = CELL_W / 2
    size = 16 if width_of(numbers, 16, weight=800) <= CELL_W - 8 else 13
    parts = [
        element("g", marks, transform=f"translate({number(middle - width / 2)} 10)"),
        text(
            shorten(numbers, CELL_W - 6, size, weight=800),
            middle,
            64,
            palette=palette,
            size=size,
            weight=800,
            anchor="middle",
        ),
    ]
    for index, line in enumerate(_legend_lines(" / ".join(circuit.legend for circuit in here))):
        y = _LEGEND_TOP - 4 + index * _LEGEND_LINE
        parts.append(object_text(line, middle, y, palette=palette, size=_LEGEND_SIZE, anchor="middle"))
    return parts


def _spare(palette: Palette) -> list[str]:
    middle = CELL_W / 2
    box = element(
        "rect", x=middle - 17, y=12, width=34, height=20, rx=3, stroke_width=1.3, stroke_dasharray="4 3",
        **palette.paint(fill="none", stroke="edge"),
    )  # fmt: skip
    return [
        box,
        text(
            "spare",
            middle,
            64,
            palette=palette,
            size=13,
            anchor="middle",
            tone="text-2",
        ),
    ]


def _finding(worst: Severity, cell_h: float, palette: Palette) -> str:
    """The worst finding's shape in the corner; a blocking one outlines the whole cell as well."""
    shape = element(
        "g",
        draw_marks(worst.value, palette=palette),
        transform=f"translate({number(CELL_W - 20)} 4)",
    )
    if worst is not Severity.BLOCKING:
        return shape
    outline = element(
        "rect",
        x=2.5,
        y=2.5,
        width=CELL_W - 5,
        height=cell_h - 5,
        stroke_width=3,
        **palette.paint(fill="none", stroke="stop"),
    )
    return outline + shape


def _beyond(
    circuits: Sequence[Circuit],
    spec: PanelSpec,
    y: float,
    width: float,
    palette: Palette,
) -> str:
    outside = [f"{c.number} on position {c.position}" for c in circuits if c.position > spec.positions]
    if not outside:
        return ""
    line = shorten("The panel has no such position: " + ", ".join(outside), width - 22, 13)
    shape = element(
        "g",
        draw_marks(Severity.BLOCKING.value, palette=palette),
        transform=f"translate(0 {number(y + 7)})",
    )
    return shape + text(line, 20, y + 20, palette=palette, size=13)


def _description(panel: PowerNode, spec: PanelSpec, circuits: Sequence[Circuit]) -> str:
    used = {circuit.position for circuit in circuits}
    listed = "; ".join(
        f"position {c.position}: circuit {c.number}, {c.legend}, {number(c.device_rating_a)} A"
        for c in sorted(circuits, key=lambda c: (c.position, c.number))
    )
    spare = spec.positions - len({position for position in used if position <= spec.positions})
    return f"{spec.positions} positions in {spec.columns} columns, {spare} spare. {listed}"
