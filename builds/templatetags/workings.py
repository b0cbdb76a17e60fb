"""A figure on a page as a link that opens how it came about."""

import re
from typing import Any
from urllib.parse import quote

from django import template
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe

register = template.Library()

_LOW = re.compile(r"(?<=[A-Za-z])_(\w+)")
_NO_FIGURE = ("", "–")


@register.filter
def letters(formula: str) -> SafeString:
    """``{{ step.formula|letters }}``: a formula with what follows a letter's stroke set low: V_own."""
    return mark_safe(_LOW.sub(r"<sub>\1</sub>", conditional_escape(formula)))  # noqa: S308  escaped before


@register.simple_tag(takes_context=True)
def worked(context: Any, kind: str, key: str, text: object) -> SafeString:
    """``{% worked "circuit-drop" row.key row.drop %}``: the figure, leading to its working where a build is at hand."""
    build = context.get("build")
    if build is None or not kind or str(text) in _NO_FIGURE:
        return conditional_escape(str(text))
    name = f"{quote(key, safe='')}/" if key else ""
    return format_html(
        '<a class="worked" href="/builds/{}/workings/{}/{}" data-working>{}</a>',
        quote(build.number, safe=""),
        kind,
        name,
        text,
    )
