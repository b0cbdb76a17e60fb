"""
The rows of the job list.

They are joined from one pattern instead of being looped over in the template: the list is the page opened most, and twenty
rows of twelve looked-up values take a template as long as all the rest of the page.
"""

from collections.abc import Iterable
from functools import lru_cache

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from builds.selectors.build_list import BuildRow
from builds.templatetags.figures import ladder, match
from builds.templatetags.shapes import state

register = template.Library()

# A ladder, a match and a state are the same picture wherever their words are the same: drawn once, then kept.
_ladder = lru_cache(maxsize=64)(ladder)
_match = lru_cache(maxsize=64)(match)
_state = lru_cache(maxsize=1024)(state)

_ROW = (
    '<tr><th class="col-build" scope="row"><a href="{}{}/">{}</a></th>'
    '<td class="col-buyer"><a class="quiet-link" href="?customer={}">{}</a><br>{}</td><td class="col-unit" data-label="Unit">{}</td>'
    '<td class="only-desk">{}</td><td class="only-desk">{}</td><td class="col-state">{}</td><td class="only-desk nowrap">{}</td>'
    '<td class="col-acts">{}</td><td class="num only-desk">{}</td></tr>'
)


@register.simple_tag
@lru_cache(maxsize=64)
def options(choices: tuple[tuple[str, str], ...], chosen: str) -> SafeString:
    """``{% options stages wanted.stage %}``: what a select offers, one of it chosen."""
    return format_html_join(
        "",
        '<option value="{}"{}>{}</option>',
        ((value, SafeString(" selected") if value == chosen else "", word) for value, word in choices),
    )


@register.simple_tag
def build_rows(rows: Iterable[BuildRow], list_address: str) -> SafeString:
    """``{% build_rows page.rows list_address %}``: the rows of the table; a build lives below the list's address."""
    return mark_safe("".join(_row(row, list_address) for row in rows))  # noqa: S308  each row escapes its cells


@lru_cache(maxsize=4096)
def _row(row: BuildRow, list_address: str) -> SafeString:
    """Return a row; equal values are drawn once, and most builds have not changed since the list was last opened."""
    return format_html(_ROW, *_cells(row, list_address))


def _cells(row: BuildRow, list_address: str) -> tuple[object, ...]:
    return (
        list_address, row.number, row.number, row.customer, row.buyer, row.title, row.unit or "–",
        _ladder(row.stage, row.on_hold), _match(row.vehicle_here, row.parts_here, row.gear_here),
        _state(row.standing.state, row.standing.words),
        f"{row.promised_on:%a %-d %b}" if row.promised_on else "not promised", row.standing.who_acts, row.steps or "–",
    )  # fmt: skip
