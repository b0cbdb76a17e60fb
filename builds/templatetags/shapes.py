"""Template tags for states: a shape and a word, never one without the other."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from builds.drawings.mark import draw_mark
from builds.drawings.palette import PRINT, SCREEN, Palette
from builds.drawings.shapes import draw_shape, state_named

register = template.Library()

PALETTES = {"screen": SCREEN, "print": PRINT}


def palette_named(name: str) -> Palette:
    """Return the palette ``"screen"`` or ``"print"``."""
    return PALETTES[name]


@register.simple_tag
def shape(name: str, size: int = 16, tone: str = "", palette: str = "screen") -> SafeString:
    """
    ``{% shape "blocking" %}``: the shape alone, hidden from screen readers. Write the word beside it.

    ``tone="text"`` gives it the colour of a meaning other than its own (``"act-on"`` on a filled button).
    """
    svg = draw_shape(name, palette=palette_named(palette), size_px=size, tone=tone or None)
    return mark_safe(svg)  # noqa: S308  made by builds.drawings, which escapes every word


@register.simple_tag
def state(name: str, word: str = "", size: int = 16, palette: str = "screen") -> SafeString:
    """``{% state "late" "Late 1 day" %}``: shape and word; without a word the state's own is used."""
    known = state_named(name)
    picture = shape(name, size=size, palette=palette)
    return format_html(
        '<span class="state tone-{}">{}<span class="state-word">{}</span></span>',
        known.tone,
        picture,
        word or known.word,
    )


@register.simple_tag
def mark(name: str, word: str = "", size: int = 16, palette: str = "screen") -> SafeString:
    """``{% mark "caution" %}``: for a margin column; the word is there for screen readers and as a tooltip."""
    known = state_named(name)
    said = word or known.word
    picture = shape(name, size=size, palette=palette)
    return format_html(
        '<span class="mark tone-{}" title="{}">{}<span class="unseen">{}</span></span>',
        known.tone,
        said,
        picture,
        said,
    )


@register.simple_tag
def brand_mark(size: int = 24, palette: str = "screen") -> SafeString:
    """``{% brand_mark %}``: a bay with a vehicle, to stand before the name."""
    svg = draw_mark(palette=palette_named(palette), size_px=size)
    return mark_safe(svg)  # noqa: S308  made by builds.drawings
