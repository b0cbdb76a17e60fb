"""The key that is printed with every one-line diagram."""

from collections.abc import Callable
from typing import TypeAlias

from builds.drawings import one_line_symbols as symbols
from builds.drawings.measures import FINE, HEAVY, MIDDLE
from builds.drawings.palette import Palette
from builds.drawings.shapes import state_named
from builds.drawings.texts import text
from builds.engineering.assessment import Assessment
from builds.engineering.design import Design
from builds.engineering.vocabulary import GaugeBasis

__all__ = ["draw_key", "key_height"]

_LINE_H = 21.0
_COLUMNS = 2
_SAMPLE_W = 58.0

_Entry: TypeAlias = tuple[Callable[[float, float], str], str]


def key_height(design: Design, assessment: Assessment | None) -> float:
    """Return the height of the key. [px]."""
    return -(-len(_entries(design, assessment, None)) // _COLUMNS) * _LINE_H + 16


def draw_key(design: Design, assessment: Assessment | None, *, top: float, width: float, palette: Palette) -> str:
    """Return the key's lines in two columns beneath a rule."""
    entries = _entries(design, assessment, palette)
    rows = -(-len(entries) // _COLUMNS)
    parts = [symbols.line(f"M0 {top:g}H{width:g}", 0.8, palette)]
    for index, (sample, meaning) in enumerate(entries):
        x, y = (index // rows) * (width / _COLUMNS), top + 20 + (index % rows) * _LINE_H
        parts.append(sample(x + 2, y - 4))
        parts.append(text(meaning, x + _SAMPLE_W, y, palette=palette, size=13, tone="text-2"))
    return "".join(parts)


def _entries(design: Design, assessment: Assessment | None, palette: Palette | None) -> list[_Entry]:
    pen = palette or Palette(name="none")
    metric = design.conventions.gauge_basis is GaugeBasis.METRIC
    fine, middle, heavy = (
        ("under 10 mm²", "10 to 35 mm²", "50 mm² and heavier")
        if metric
        else ("8 ga and finer", "6 to 1 ga", "1/0 and heavier")
    )

    def weight(name: str) -> Callable[[float, float], str]:
        return lambda x, y: symbols.line(f"M{x:g} {y:g}h44", symbols.LINE_WEIGHT[name], pen)

    entries: list[_Entry] = [
        (weight(FINE), fine),
        (weight(MIDDLE), middle),
        (weight(HEAVY), heavy),
        (
            lambda x, y: symbols.line(f"M{x:g} {y - 2:g}h44", 1.25, pen) + symbols.dotted(f"M{x:g} {y + 3:g}h44", pen),
            "dotted beside: live with the disconnect open",
        ),
        (lambda x, y: symbols.line(f"M{x:g} {y:g}h44", 1.25, pen) + symbols.device("fuse", x + 22, y, pen), "fuse"),
        (
            lambda x, y: symbols.line(f"M{x:g} {y:g}h44", 1.25, pen) + symbols.device("breaker", x + 22, y, pen),
            "circuit breaker",
        ),
    ]
    if assessment is not None:
        entries.append(
            (lambda x, y: symbols.lozenge("A", x + 22, y, pen), "mean amperes, each run in its own worst condition")
        )
        if any(node.alternator for node in design.nodes):
            entries.append(
                (lambda x, y: symbols.lozenge("A", x + 22, y, pen), "on an alternator's run: its hot output")
            )
        severities = sorted({finding.severity for finding in assessment.findings}, key=lambda item: item.rank)
        entries += [
            (_finding_sample(severity.value, pen), f"{state_named(severity.value).word.lower()} at this thing")
            for severity in severities
        ]
    if any(node.converter for node in design.nodes):
        entries.append(
            (
                lambda x, y: symbols.parted_box(x, y - 8, 44, 16, pen),
                "converter: volts it takes above, gives below",
            )
        )
    entries.append((lambda x, y: symbols.ground(x + 22, y - 8, pen), "ground; a box names its return stud"))
    return entries


def _finding_sample(severity: str, palette: Palette) -> Callable[[float, float], str]:
    return lambda x, y: symbols.shape(severity, x + 14, y - 8, palette)
