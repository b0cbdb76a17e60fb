"""Bars that count: phases of a build, steps of a checklist, pages of a packet."""

from collections.abc import Sequence
from dataclasses import dataclass

from builds.drawings.palette import SCREEN, Palette
from builds.drawings.svg import drawing, element


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseCount:
    """Steps of one phase; ``present`` is the index inside the phase of the step being shown, or ``None``."""

    name: str
    done: int
    total: int
    present: int | None = None


def draw_progress(done: float, total: float, *, palette: Palette = SCREEN, width_px: float = 240) -> str:
    """Return an outlined bar filled to ``done`` of ``total``, hidden from screen readers; nothing known draws it empty."""
    return drawing(
        *_share(0, width_px, 12, done, total, palette),
        width=width_px,
        height=12,
        class_="progress-picture",
        stretch=True,
    )


def _share(x: float, width: float, height: float, done: float, total: float, palette: Palette) -> list[str]:
    """An outlined box filled by its share; the outline keeps its weight when the drawing is stretched."""
    ratio = min(max(done / total, 0), 1) if total else 0
    frame = element(
        "rect",
        x=x,
        y=0,
        width=width,
        height=height,
        stroke_width=2,
        vector_effect="non-scaling-stroke",
        **palette.paint(fill="sheet", stroke="text"),
    )
    fill = element(
        "rect",
        x=x,
        y=0,
        width=width * ratio,
        height=height,
        **palette.paint(fill="text"),
    )
    return [frame, fill] if ratio else [frame]


def draw_phase_boxes(phases: Sequence[PhaseCount], *, palette: Palette = SCREEN, width_px: float = 420) -> str:
    """Return one outlined box a phase, each filled by its own share of steps passed."""
    count = max(len(phases), 1)
    each = (width_px - 4 * (count - 1)) / count
    parts: list[str] = []
    for index, phase in enumerate(phases):
        parts.extend(_share(index * (each + 4), each, 8, phase.done, phase.total, palette))
    return drawing(*parts, width=width_px, height=8, class_="phase-boxes", stretch=True)


def draw_step_ruler(phases: Sequence[PhaseCount], *, palette: Palette = SCREEN, width_px: float = 358) -> str:
    """Return one small box a step, grouped by phase: solid done, accent present, hollow to come."""
    total = max(sum(phase.total for phase in phases), 1)
    gap = 8.0
    each = (width_px - gap * (max(len(phases), 1) - 1)) / total
    x, parts = 0.0, []
    for phase in phases:
        for index in range(phase.total):
            parts.append(_ruler_box(x, each, index, phase, palette))
            x += each
        x += gap
    return drawing(*parts, width=width_px, height=14, class_="step-ruler", stretch=True)


def _ruler_box(x: float, each: float, index: int, phase: PhaseCount, palette: Palette) -> str:
    width = max(each - 1, 1)
    if index == phase.present:
        return element("rect", x=x, y=0, width=width, height=14, **palette.paint(fill="act"))
    if index < phase.done:
        return element("rect", x=x, y=3, width=width, height=8, **palette.paint(fill="text"))
    return element(
        "rect",
        x=x + 0.5,
        y=3.5,
        width=max(width - 1, 0.5),
        height=7,
        stroke_width=1,
        **palette.paint(fill="none", stroke="text"),
    )


def draw_limit_bar(value: float, limit: float, *, palette: Palette = SCREEN, width_px: float = 36) -> str:
    """Return the short bar of a table cell: how far a figure reaches towards its limit, a post at the limit."""
    post = width_px - 8
    reach = min(max(value / limit, 0), 1.25) * post if limit > 0 else 0
    over = value > limit
    bar = element(
        "rect",
        x=0,
        y=4,
        width=min(reach, width_px),
        height=4,
        **palette.paint(fill="stop" if over else "text"),
    )
    line = element(
        "path",
        d=f"M{post + 1:g} 0V12",
        stroke_width=1.2,
        **palette.paint(fill="none", stroke="stop" if over else "edge"),
    )
    return drawing(bar, line, width=width_px, height=12, class_="limit-bar")


def draw_way_mark(state: str, *, palette: Palette = SCREEN) -> str:
    """
    Return one mark of a customer's ladder: ``done`` a filled box with a tick, ``present`` an arrow, ``to_come`` a box.

    Raises ``KeyError`` for another state.
    """
    marks = {
        "done": lambda: (
            element("rect", x=3, y=3, width=22, height=22, **palette.paint(fill="text"))
            + element(
                "path",
                d="M8.5 14.5 12.5 18.5 20 9.5",
                stroke_width=2.8,
                **palette.paint(fill="none", stroke="sheet"),
            )
        ),
        "present": lambda: element("path", d="M2 3H17L26 14 17 25H2z", **palette.paint(fill="act")),
        "to_come": lambda: element(
            "rect",
            x=4,
            y=4,
            width=20,
            height=20,
            stroke_width=2,
            **palette.paint(fill="sheet", stroke="edge"),
        ),
    }
    return drawing(marks[state](), width=28, height=28, class_="way-mark")
