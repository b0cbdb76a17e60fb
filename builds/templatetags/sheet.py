"""Template tags of a build's sheet: what a piece looks like as a short mark, and the address that opens a row."""

import zlib
from collections.abc import Sequence
from urllib.parse import urlencode

from django import template
from django.utils.html import format_html_join
from django.utils.safestring import SafeString, mark_safe

from builds.drawings.axle_picture import draw_axle_picture
from builds.drawings.duty_plot import draw_duty
from builds.drawings.one_line import draw_one_line
from builds.drawings.panel_map import draw_panel_map
from builds.engineering.assessment import Assessment
from builds.engineering.design import Design
from builds.forms.design_table import Column
from builds.selectors.duty_page import DutyPage

register = template.Library()


@register.filter
def seen(piece: object) -> str:
    """``{{ row|seen }}``: a mark that changes when anything the piece shows changes."""
    return f"{zlib.crc32(repr(piece).encode()):x}"


@register.filter
def edit_query(subject: str) -> str:
    """``{{ row.subject|edit_query }}``: the query that opens a row for editing."""
    return "?" + urlencode({"edit": subject})


@register.filter
def cut_family(subject: str) -> str:
    """``{{ item.subject|cut_family }}``: "run R8" for "run:R8", "BAT1" for "node:BAT1"."""
    family, _, key = subject.partition(":")
    return key if family == "node" else f"{family} {key}"


@register.simple_tag
def grid_cells(texts: Sequence[str], columns: Sequence[Column]) -> SafeString:
    """``{% grid_cells row.cells table.columns %}``: the cells of one row, figures to the right."""
    pairs = zip(texts, columns, strict=True)
    return format_html_join(
        "", "<td{}>{}</td>", ((_FIGURE if column.is_figure else "", text) for text, column in pairs)
    )


_FIGURE = mark_safe(' class="num"')


@register.simple_tag
def one_line(design: Design, assessment: Assessment) -> SafeString:
    """``{% one_line design assessment %}``: the one-line diagram."""
    return mark_safe(draw_one_line(design, assessment))  # noqa: S308  drawings escape every word in them


@register.simple_tag
def duty_plot(page: DutyPage, *, narrow: bool = False) -> SafeString:
    """``{% duty_plot duty %}``: charge, voltage and currents over a duty profile; ``narrow`` for a phone."""
    title = f"Charge, voltage and currents over “{page.profile.name}”; the table below says the same in figures"
    width_px, panel_px = (350.0, 110.0) if narrow else (1080.0, 150.0)
    plots = draw_duty(title, page.panels, page.stretches, page.switchings, width_px=width_px, panel_px=panel_px)
    return mark_safe(plots)  # noqa: S308  drawings escape every word in them


@register.simple_tag
def axle_picture(design: Design, assessment: Assessment) -> SafeString:
    """``{% axle_picture design assessment %}``: the vehicle on its axles, each against its rating."""
    return mark_safe(draw_axle_picture(design, assessment))  # noqa: S308  drawings escape every word in them


@register.simple_tag
def panel_map(design: Design, key: str, assessment: Assessment) -> SafeString:
    """``{% panel_map design "P2" assessment %}``: one panel with its cover off."""
    return mark_safe(draw_panel_map(design, key, assessment))  # noqa: S308  drawings escape every word in them
