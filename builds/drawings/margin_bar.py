"""
The margin bar: how much of a limit is left.

Hollow is used, solid is left, a post stands at the limit and its foot points to the allowed side. Past a broken limit
the bar is hatched. A small arrow shows where the last authorised revision stood. ``margin_words`` says the same.
"""

from dataclasses import dataclass
from math import isfinite

from builds.drawings.palette import SCREEN, Palette
from builds.drawings.svg import drawing, element

AT_MOST = "at_most"
AT_LEAST = "at_least"
NEAR_RATIO = 0.05

WITHIN = "within"
NEAR = "near"
OVER = "over"
NOT_MEASURED = "not_measured"

_HEIGHT = 18.0
_TOP = 7.0
_BAR_H = 6.0
# The post stands here, so that a broken limit has room to show by how much.
_POST_RATIO = 0.84
# A little left must still be seen.
_LEAST_LEFT_PX = 3.0


class UnknownLimitKind(ValueError):
    """A margin was asked for that is neither at most nor at least."""

    def __init__(self, kind: str) -> None:
        super().__init__(f"A limit is {AT_MOST!r} or {AT_LEAST!r}, not {kind!r}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """
    A figure against its limit.

    ``used`` is the figure itself; ``None`` means nobody measured it. ``left`` is positive on the allowed side.
    """

    used: float | None
    limit: float
    kind: str
    state: str
    left: float | None


def margin_of(
    used: float | None,
    limit: float,
    *,
    kind: str = AT_MOST,
    near_ratio: float = NEAR_RATIO,
) -> Margin:
    """
    Return the margin; near means less than ``near_ratio`` of the limit is left, exactly at the limit is near.

    A figure exactly at the limit keeps it, so it is not over. Raises ``UnknownLimitKind`` for another kind and
    ``ValueError`` for a figure that is not finite.
    """
    if kind not in (AT_MOST, AT_LEAST):
        raise UnknownLimitKind(kind)
    if used is None:
        return Margin(used=None, limit=limit, kind=kind, state=NOT_MEASURED, left=None)
    if not isfinite(used) or not isfinite(limit):
        raise ValueError("A margin needs finite figures.")
    left = limit - used if kind == AT_MOST else used - limit
    if left < 0:
        state = OVER
    elif left < near_ratio * abs(limit):
        state = NEAR
    else:
        state = WITHIN
    return Margin(used=used, limit=limit, kind=kind, state=state, left=left)


def figure(value: float, *, places: int | None = None) -> str:
    """
    Return a number for reading: thousands apart, as many decimals as asked, or as many as it needs up to two.

    >>> figure(1210), figure(4.1), figure(4.1000001), figure(0.5, places=2), figure(-0.0)
    ('1,210', '4.1', '4.1', '0.50', '0')
    """
    if places is not None:
        text = f"{value:,.{places}f}"
    else:
        text = f"{value:,.2f}".rstrip("0").rstrip(".")
    return text[1:] if text.startswith("-") and not any(digit in text for digit in "123456789") else text


def margin_words(margin: Margin, *, unit: str = "", places: int | None = None) -> str:
    """
    Return the sentence under the bar.

    >>> margin_words(margin_of(113.9, 118), unit="A")
    '4.1 A left of 118'
    >>> margin_words(margin_of(5.5, 5.0), unit="%", places=1)
    '0.5 % over 5.0'
    >>> margin_words(margin_of(27, 24, kind="at_least"), unit="h")
    '3 h past 24'
    """
    limit = figure(margin.limit, places=places)
    if margin.left is None:
        return "Not measured"
    amount = _amount(abs(margin.left), places) + (f" {unit}" if unit else "")
    if margin.state == OVER:
        return f"{amount} over {limit}" if margin.kind == AT_MOST else f"{amount} short of {limit}"
    return f"{amount} left of {limit}" if margin.kind == AT_MOST else f"{amount} past {limit}"


def _amount(left: float, places: int | None) -> str:
    """A margin that is something is never written as 0: it gets the decimals it needs, up to four."""
    text = figure(left, places=places)
    for more in range(places or 2, 5):
        if left == 0 or any(digit in text for digit in "123456789"):
            return text
        text = figure(left, places=more)
    return text if float(text) else "under 0.0001"


def draw_margin_bar(
    margin: Margin,
    *,
    revised: float | None = None,
    palette: Palette = SCREEN,
    width_px: float = 140,
) -> str:
    """Return the bar as an SVG, hidden from screen readers: ``margin_words`` stands under it."""
    scale = _Scale(margin, width_px)
    parts = [
        _track(margin, scale, palette),
        _left(margin, scale, palette),
        _post(margin, scale, palette),
    ]
    if revised is not None:
        parts.append(_arrow(scale.x(revised), palette))
    return drawing(*parts, width=width_px, height=_HEIGHT, class_="margin-bar")


class _Scale:
    """Where a figure stands on the bar: zero at the left, the limit at the post, clipped at the ends."""

    def __init__(self, margin: Margin, width_px: float) -> None:
        self.end = width_px - 2
        ratio = _POST_RATIO if margin.kind == AT_MOST else 0.66
        self.post = round(self.end * ratio)
        self.per_unit = (
            self.post / margin.limit if margin.limit > 1e-9 else 0.0
        )  # below that a limit is none that anybody set

    def x(self, value: float) -> float:
        return min(max(1 + value * self.per_unit, 1), self.end)


def _track(margin: Margin, scale: _Scale, palette: Palette) -> str:
    """Hollow: what is used, up to the figure or to the limit, whichever comes first."""
    if margin.used is None:
        paint = palette.paint(fill="none", stroke="edge")
        return element(
            "rect",
            x=1,
            y=_TOP,
            width=scale.post,
            height=_BAR_H,
            stroke_width=1,
            stroke_dasharray="3 2",
            **paint,
        )
    stop = scale.post + 1 if margin.kind == AT_MOST else min(scale.x(margin.used), scale.post + 1)
    return element(
        "rect",
        x=1,
        y=_TOP,
        width=max(stop - 1, 1),
        height=_BAR_H,
        stroke_width=1,
        **palette.paint(fill="quiet", stroke="edge"),
    )


def _left(margin: Margin, scale: _Scale, palette: Palette) -> str:
    """Solid: what is left, between the figure and the post; hatched where a limit is broken."""
    if margin.used is None:
        return ""
    low, high = sorted((scale.x(margin.used), scale.post + 1.0))
    if margin.state == OVER:
        return _hatch(low, max(high, low + _LEAST_LEFT_PX * 2), palette)
    if high - low < _LEAST_LEFT_PX:
        low, high = (high - _LEAST_LEFT_PX, high) if margin.kind == AT_MOST else (low, low + _LEAST_LEFT_PX)
    if margin.state == NEAR:
        paint = palette.paint(fill="care-f", stroke="care")
        return element(
            "rect",
            x=low,
            y=_TOP,
            width=high - low,
            height=_BAR_H,
            stroke_width=1,
            **paint,
        )
    return element(
        "rect",
        x=low,
        y=_TOP - 0.5,
        width=high - low,
        height=_BAR_H + 1,
        **palette.paint(fill="good"),
    )


def _hatch(low: float, high: float, palette: Palette) -> str:
    """A box with strokes drawn one by one: patterns need ids, and ids must not repeat on a page."""
    top, bottom = _TOP - 1.5, _TOP + _BAR_H + 1.5
    height = bottom - top
    strokes = []
    x = low - height + 4
    while x < high:
        start, stop = max(x, low), min(x + height, high)
        if stop > start:
            strokes.append(f"M{start:.1f} {bottom - (start - x):.1f}L{stop:.1f} {bottom - (stop - x):.1f}")
        x += 4.5
    box = element(
        "rect",
        x=low,
        y=top,
        width=high - low,
        height=height,
        stroke_width=1.2,
        **palette.paint(fill="sheet", stroke="stop"),
    )
    return box + element(
        "path",
        d="".join(strokes),
        stroke_width=1.3,
        **palette.paint(fill="none", stroke="stop"),
    )


def _post(margin: Margin, scale: _Scale, palette: Palette) -> str:
    x = scale.post + 1
    foot = -5 if margin.kind == AT_MOST else 5
    return element(
        "path",
        d=f"M{x:g} {_TOP - 4:g}V{_TOP + _BAR_H + 4:g}H{x + foot:g}",
        stroke_width=1.8,
        **palette.paint(fill="none", stroke="text"),
    )


def _arrow(x: float, palette: Palette) -> str:
    return element("path", d=f"M{x - 3:.2f} .5H{x + 3:.2f}L{x:.2f} 5z", **palette.paint(fill="act"))
