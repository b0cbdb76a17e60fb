"""The stage ladder: eight rungs from intake to closed, an arrow on the present one."""

from builds.drawings.palette import SCREEN, Palette
from builds.drawings.svg import drawing, element

STAGES = (
    "intake",
    "quoted",
    "approved",
    "in_work",
    "final_check",
    "ready",
    "delivered",
    "closed",
)
STAGE_WORDS = {
    "intake": "Intake",
    "quoted": "Quoted",
    "approved": "Approved",
    "in_work": "In work",
    "final_check": "Final check",
    "ready": "Ready",
    "delivered": "Delivered",
    "closed": "Closed",
    "cancelled": "Cancelled",
}

_RUNG_W = 11.0
_STEP_W = 16.0
_HEIGHT = 14.0


class UnknownStage(ValueError):
    """A stage was asked for that is not on the ladder."""

    def __init__(self, stage: str) -> None:
        super().__init__(f"There is no stage {stage!r}. Known stages: {', '.join(STAGE_WORDS)}.")


def stage_key(stage: str) -> str:
    """Return the stage's key; spaces and hyphens count as underscores. Raises ``UnknownStage``."""
    key = str(stage).strip().lower().replace("-", "_").replace(" ", "_")
    if key not in STAGE_WORDS:
        raise UnknownStage(str(stage))
    return key


def ladder_words(stage: str, *, on_hold: bool = False, reason: str = "") -> str:
    """
    Return what the ladder says in words.

    >>> ladder_words("in_work", on_hold=True, reason="parts")
    'In work, on hold: parts'
    """
    words = STAGE_WORDS[stage_key(stage)]
    if on_hold:
        words += f", on hold: {reason}" if reason else ", on hold"
    return words


def draw_ladder(stage: str, *, on_hold: bool = False, palette: Palette = SCREEN) -> str:
    """Return the ladder as an SVG, hidden from screen readers: ``ladder_words`` stands beside it."""
    key = stage_key(stage)
    present = STAGES.index(key) if key in STAGES else -1
    rungs = [_rung(index, present, on_hold, palette) for index in range(len(STAGES))]
    if key == "cancelled":
        strokes = "".join(f"M{index * _STEP_W + 2:g} 12.5L{index * _STEP_W + 11:g} 1.5" for index in range(len(STAGES)))
        rungs.append(
            element(
                "path",
                d=strokes,
                stroke_width=1.5,
                **palette.paint(fill="none", stroke="text"),
            )
        )
    return drawing(*rungs, width=_width(), height=_HEIGHT, class_="ladder-rungs")


def _width() -> float:
    return _STEP_W * len(STAGES)


def _rung(index: int, present: int, on_hold: bool, palette: Palette) -> str:
    x = index * _STEP_W + 1
    if index == present:
        fill = "sheet" if on_hold else "act"
        path = f"M{x:g} 1.5H{x + 8:g}L{x + 13.5:g} 7 {x + 8:g} 12.5H{x:g}z"
        return element(
            "path",
            d=path,
            stroke_width=1.5,
            stroke_linejoin="round",
            **palette.paint(fill=fill, stroke="act"),
        )
    if index < present:
        return element("rect", x=x, y=5, width=_RUNG_W, height=4, **palette.paint(fill="text"))
    return element(
        "rect",
        x=x + 0.5,
        y=5.5,
        width=_RUNG_W - 1,
        height=3,
        stroke_width=1,
        **palette.paint(fill="none", stroke="edge"),
    )
