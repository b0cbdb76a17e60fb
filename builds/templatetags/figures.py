"""Template tags for figures that are drawn: ladders, margins, fuses, wires, matches, progress."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from functools import lru_cache
from typing import Any

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from builds.drawings.fuses import draw_blade_fuse, draw_fuse_chip
from builds.drawings.ladder import draw_ladder, ladder_words, stage_key
from builds.drawings.margin_bar import (
    AT_MOST,
    NEAR_RATIO,
    Margin,
    draw_margin_bar,
    margin_of,
    margin_words,
)
from builds.drawings.margin_bar import figure as figure_text
from builds.drawings.progress import (
    PhaseCount,
    draw_limit_bar,
    draw_phase_boxes,
    draw_progress,
    draw_step_ruler,
    draw_way_mark,
)
from builds.drawings.wires import UnknownWireColour, draw_wire_swatch, wire_words
from builds.templatetags.shapes import palette_named, shape, state

register = template.Library()

Number = float | int | Decimal


def _float(value: Number | str | None) -> float | None:
    return None if value is None or value == "" else float(value)


def _places(value: int | str | None) -> int | None:
    """A template hands over "" for a name that is not there."""
    return None if value is None or value == "" else int(value)


def _drawn(svg: str) -> SafeString:
    """Mark text made by builds.drawings as markup: every word in it is escaped there."""
    return mark_safe(svg)  # noqa: S308  made by builds.drawings, which escapes every word


# A table of hundreds of circuits shows few different fuses and wires, and its bars stay from one answer to the next.
_KEPT_DRAWINGS = 4096


@lru_cache(maxsize=_KEPT_DRAWINGS)
def _limit_bar(value: float, limit: float, palette: str) -> SafeString:
    return _drawn(draw_limit_bar(value, limit, palette=palette_named(palette)))


@lru_cache(maxsize=_KEPT_DRAWINGS)
def _fuse_chip(rating_a: float, family: str, colour: str) -> SafeString:
    return _drawn(draw_fuse_chip(rating_a, family=family, colour=colour))


@register.simple_tag
def ladder(stage: str, on_hold: bool = False, reason: str = "", palette: str = "screen") -> SafeString:
    """``{% ladder build.stage build.is_on_hold build.hold_reason %}``: eight rungs, then the word."""
    picture = _drawn(draw_ladder(stage, on_hold=on_hold, palette=palette_named(palette)))
    words = ladder_words(stage, on_hold=on_hold, reason=reason)
    return format_html(
        '<span class="ladder ladder-{}">{}<span class="ladder-word">{}</span></span>',
        stage_key(stage),
        picture,
        words,
    )


def _margin(used: Number | None, limit: Number, kind: str, near_ratio: Number) -> Margin:
    return margin_of(_float(used), float(limit), kind=kind or AT_MOST, near_ratio=float(near_ratio))


@register.simple_tag
def margin_bar(
    used: Number | None,
    limit: Number,
    kind: str = AT_MOST,
    revised: Number | None = None,
    near_ratio: Number = NEAR_RATIO,
    width: int = 140,
    palette: str = "screen",
) -> SafeString:
    """``{% margin_bar 113.9 118 revised=111 %}``: the bar alone. Print ``margin_words`` under it."""
    margin = _margin(used, limit, kind, near_ratio)
    return _drawn(
        draw_margin_bar(
            margin,
            revised=_float(revised),
            width_px=width,
            palette=palette_named(palette),
        )
    )


@register.simple_tag(name="margin_words")
def margin_words_tag(
    used: Number | None,
    limit: Number,
    unit: str = "",
    kind: str = AT_MOST,
    places: int | None = None,
    near_ratio: Number = NEAR_RATIO,
    palette: str = "screen",
) -> SafeString:
    """``{% margin_words 113.9 118 "A" %}``: shape and "4.1 A left of 118"."""
    margin = _margin(used, limit, kind, near_ratio)
    return state(
        margin.state,
        margin_words(margin, unit=unit, places=_places(places)),
        palette=palette,
    )


@register.simple_tag
def margin(
    used: Number | None,
    limit: Number,
    unit: str = "",
    kind: str = AT_MOST,
    revised: Number | None = None,
    places: int | None = None,
    near_ratio: Number = NEAR_RATIO,
    width: int = 140,
    palette: str = "screen",
) -> SafeString:
    """``{% margin 113.9 118 "A" %}``: the bar with its words under it."""
    bar = margin_bar(
        used,
        limit,
        kind=kind,
        revised=revised,
        near_ratio=near_ratio,
        width=width,
        palette=palette,
    )
    said = margin_words_tag(
        used,
        limit,
        unit=unit,
        kind=kind,
        places=places,
        near_ratio=near_ratio,
        palette=palette,
    )
    return format_html('<span class="margin">{}{}</span>', bar, said)


@register.simple_tag
def limit_bar(value: Number | None, limit: Number, palette: str = "screen") -> SafeString:
    """``{% limit_bar 4.3 5.0 %}``: the short bar of a table cell; the figure stands before it."""
    if value is None or value == "":
        return mark_safe("")
    return _limit_bar(float(value), float(limit), palette)


@register.simple_tag
def fuse_chip(rating_a: Number | None, family: str = "", colour: str = "") -> SafeString:
    """
    ``{% fuse_chip circuit.device_rating_a circuit.device_family %}``: the figure on the body's colour.

    A colour names a rating only within a family, so without one the body is plain; nothing known prints a dash.
    """
    if rating_a is None or rating_a == "":
        return format_html("<span>{}</span>", "–")
    return _fuse_chip(float(rating_a), family or "", colour or "")


@register.simple_tag
def blade_fuse(rating_a: Number, family: str = "", colour: str = "", palette: str = "screen") -> SafeString:
    """``{% blade_fuse 10 "ATO" %}``: the picture of a blade fuse, for panel maps."""
    return _drawn(
        draw_blade_fuse(
            float(rating_a),
            family=family or "",
            colour=colour or "",
            palette=palette_named(palette),
        )
    )


@register.simple_tag
def wire_swatch(code: str, palette: str = "screen") -> SafeString:
    """
    ``{% wire_swatch "WH/RD" %}``: the drawn swatch and its letters; an empty code prints a dash.

    Letters that are no colour (a finding says so) are printed after a cross, without a swatch.
    """
    return _wire_swatch(str(code), palette) if code else format_html("<span>{}</span>", "–")


@lru_cache(maxsize=_KEPT_DRAWINGS)
def _wire_swatch(code: str, palette: str) -> SafeString:
    try:
        picture, said = (
            _drawn(draw_wire_swatch(code, palette=palette_named(palette))),
            wire_words(code),
        )
    except UnknownWireColour:
        picture, said = (
            shape("defective", size=12, palette=palette),
            "not a wire colour",
        )
    return format_html(
        '<span class="wire-swatch" title="{}">{}<span class="wire-letters">{}</span></span>',
        said,
        picture,
        code.upper(),
    )


_MATCH_STATES = {True: "pass", False: "missing", None: "not_applicable"}
_MATCH_SAID = {True: "here", False: "missing", None: "not needed"}


@register.simple_tag
def match(vehicle: bool | None, parts: bool | None, gear: bool | None, palette: str = "screen") -> SafeString:
    """``{% match True False None %}``: three boxes; True is here, False is missing, None is not needed."""
    boxes = (
        (name, _MATCH_STATES[value], _MATCH_SAID[value])
        for name, value in (("Vehicle", vehicle), ("Parts", parts), ("Gear", gear))
    )
    rows = (
        (
            kind.replace("_", "-"),
            shape(kind, size=12, tone=_match_tone(kind), palette=palette),
            name,
            said,
        )
        for name, kind, said in boxes
    )
    return format_html(
        '<span class="match">{}</span>',
        format_html_join(
            "",
            '<span class="match-box match-{}">{}{}<span class="unseen"> {}</span></span>',
            rows,
        ),
    )


def _match_tone(kind: str) -> str:
    return "text" if kind == "pass" else ""


@register.simple_tag
def progress_bar(
    done: Number,
    total: Number | None,
    label: str = "",
    width: int = 240,
    palette: str = "screen",
) -> SafeString:
    """``{% progress_bar 14 24 "Page 14 of 24" %}``: the bar with its words; without a total the bar stays empty."""
    picture = _drawn(
        draw_progress(
            float(done or 0),
            float(total or 0),
            palette=palette_named(palette),
            width_px=width,
        )
    )
    return format_html(
        '<span class="progress">{}<span class="progress-words">{}</span></span>',
        picture,
        label,
    )


def _phases(phases: Iterable[Mapping[str, Any] | PhaseCount]) -> list[PhaseCount]:
    """Accept dicts with name, done, total, present, or PhaseCount itself."""
    return [
        phase
        if isinstance(phase, PhaseCount)
        else PhaseCount(
            name=str(phase["name"]),
            done=int(phase["done"]),
            total=int(phase["total"]),
            present=phase.get("present"),
        )
        for phase in phases
    ]


@register.simple_tag
def phase_boxes(
    phases: Iterable[Mapping[str, Any] | PhaseCount],
    width: int = 420,
    palette: str = "screen",
) -> SafeString:
    """``{% phase_boxes phases %}``: one box a phase, filled by its share of steps passed."""
    return _drawn(draw_phase_boxes(_phases(phases), palette=palette_named(palette), width_px=width))


@register.simple_tag
def step_ruler(
    phases: Iterable[Mapping[str, Any] | PhaseCount],
    width: int = 358,
    palette: str = "screen",
) -> SafeString:
    """``{% step_ruler phases %}``: one small box a step, grouped by phase."""
    return _drawn(draw_step_ruler(_phases(phases), palette=palette_named(palette), width_px=width))


_WAY_SAID = {"done": "done", "present": "now", "to_come": "to come"}


@register.simple_tag
def way_mark(state_name: str, palette: str = "screen") -> SafeString:
    """``{% way_mark "done" %}``: a mark of the customer's ladder: done, present, to_come."""
    return format_html(
        '{}<span class="unseen">{}: </span>',
        _drawn(draw_way_mark(state_name, palette=palette_named(palette))),
        _WAY_SAID[state_name],
    )


@register.filter
def vin_groups(vin: str) -> SafeString:
    """``{{ vehicle.vin|vin_groups }}``: set 3-6-8 for the eye; there is no space to copy."""
    text = str(vin or "")
    if not text:
        return format_html('<span class="text-2">{}</span>', "not known")
    groups = (text[:3], text[3:9], text[9:])
    return format_html(
        '<span class="vin">{}</span>',
        format_html_join(
            "",
            '<span class="vin-group">{}</span>',
            ((group,) for group in groups if group),
        ),
    )


@register.filter
def figure(value: Number | None, places: int | None = None) -> str:
    """``{{ value|figure:1 }}``: thousands apart, so many decimals; nothing known is "not measured"."""
    number = _float(value)
    return "not measured" if number is None else figure_text(number, places=places)


@register.filter
def change(value: Number | None) -> str:
    """``{{ entry.on_hand_change|change }}``: with its sign; nothing where nothing changed."""
    number = _float(value)
    return f"{'+' if number > 0 else '−'}{figure_text(abs(number))}" if number else ""
