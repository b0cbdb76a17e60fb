"""
The pieces a build's sheet is made of, each with a mark of what it shows.

A screen sends the marks of the pieces it has; the answer brings those that differ, so that one edit brings the figures of
every row it moved, and nothing else.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from builds.engineering.assessing.words import kind_words
from builds.engineering.findings import Severity
from builds.engineering.vocabulary import NodeKind
from builds.models import Build
from builds.permissions import Action, may
from builds.selectors import sheet_duty, sheet_rows, sheet_weight, sheet_work
from builds.selectors.build_sheet import Sheet
from builds.selectors.event_stream import event_stream_url
from builds.selectors.figure_words import ampere
from builds.selectors.live_strip import strip_figures, worst_condition
from builds.selectors.sheet_findings import cards_of, index_of, is_empty, row_id
from builds.selectors.sheet_head import head_of
from builds.selectors.sheet_page import functions_of
from builds.templatetags.sheet import seen
from builds.views.requests import ShopRequest

__all__ = [
    "CLOSED",
    "TABLE_OF_FAMILY",
    "Piece",
    "differing_pieces",
    "may_edit_design",
    "piece_of_row",
    "render_piece",
    "sheet_context",
    "table_piece",
]

CLOSED = ("delivered", "closed", "cancelled")
_PARTIALS = "builds/_partials/"
_PAGE = "builds/build_detail.html"


@dataclass(frozen=True, slots=True)
class Piece:
    """One element of the sheet: its id, what it shows, and what draws it."""

    element_id: str
    shows: object
    template: str
    context: dict[str, Any]

    @property
    def mark(self) -> str:
        """A text that changes when anything the piece shows changes."""
        return seen(self.shows)


@dataclass(frozen=True, slots=True)
class GroupHead:
    """What the line of a panel shows."""

    key: str
    name: str
    feed: str
    feed_drop: str
    positions: str
    continuous: str


@dataclass(frozen=True, slots=True)
class ShownGroup:
    """A panel's line and its circuits, ready to print."""

    element_id: str
    key: str
    name: str
    feed: str
    feed_drop: str
    positions: str
    continuous: str
    head: GroupHead
    rows: tuple[sheet_rows.CircuitRow, ...]


@dataclass(frozen=True, slots=True)
class CircuitsFoot:
    """The line under all circuits."""

    count: int
    words: str
    together: str


def may_edit_design(request: ShopRequest, build: Build) -> bool:
    """Whether this person may change the design as it stands."""
    return may(request.user, Action.EDIT_DESIGN) and build.stage not in CLOSED


def sheet_context(request: ShopRequest, sheet: Sheet) -> dict[str, Any]:
    """Return what every piece of the sheet prints from."""
    build = sheet.build
    head = head_of(sheet, at=timezone.now())
    measures = sheet.measures
    return {
        "request": request,
        "build": build,
        "sheet": sheet,
        "head": head,
        "act_address": (reverse(head.act_route, args=[build.number]) if head.act_route else "")
        + (f"#{head.act_anchor}" if head.act_anchor else ""),
        "events_url": event_stream_url(build_number=build.number, origin=request.events_origin),
        "may_edit": may_edit_design(request, build),
        "may_override": may(request.user, Action.OVERRIDE_FINDING),
        "may_edit_customer": may(request.user, Action.EDIT_CUSTOMER),
        "currency": sheet.currency,
        "shop_zone": sheet.zone.key,
        "length_unit": measures.length_unit,
        "mass_unit": measures.mass_unit,
        "gauge_unit": measures.gauge_unit,
        "strip": strip_figures(sheet),
        "index": index_of(sheet, _counts(build)),
        "cards": (cards := cards_of(sheet)),
        "nothing_yet": (nothing_yet := is_empty(sheet.design)),
        "findings_shown": (nothing_yet, tuple(cards)),
        "severity_counts": [(item.value, sheet.assessment.count(item)) for item in Severity],
        "node_kinds": [(kind.value, kind_words(kind)) for kind in NodeKind],
        "functions": functions_of(sheet),
        **_tables(sheet),
    }


def _counts(build: Build) -> dict[int, str]:
    return {8: f"{build.step_done_count}/{build.step_count}" if build.step_count else ""}


def _tables(sheet: Sheet) -> dict[str, Any]:
    groups = [_shown_group(group) for group in sheet_rows.circuit_groups(sheet)]
    tables: dict[str, Any] = {
        "parts": (parts := sheet_work.part_rows(sheet)),
        "runs": sheet_rows.run_rows(sheet),
        "nodes": sheet_rows.node_rows(sheet),
        "conditions": sheet_work.condition_rows(sheet),
        "duties": sheet_duty.duty_rows(sheet),
        "segments": sheet_duty.segment_rows(sheet),
        "sheds": sheet_duty.shed_rows(sheet),
        "operations": sheet_work.operation_rows(sheet),
    }
    weights = sheet_weight.weight_figures(sheet), sheet_weight.zone_weights(sheet), sheet_weight.weight_cases(sheet)
    return {
        **tables,
        **{f"{name}_order": tuple(row.key for row in rows) for name, rows in tables.items()},
        "removed_lines": [row for row in parts if row.removed],
        "circuit_groups": groups,
        "circuits_order": tuple((group.key, tuple(row.key for row in group.rows)) for group in groups),
        "circuits_foot": _circuits_foot(sheet),
        "parts_foot": sheet_work.parts_foot(sheet),
        "hours_foot": sheet_work.hours_foot(sheet),
        "weights": weights,
        "weight_figures": weights[0],
        "zone_weights": weights[1],
        "weight_cases": weights[2],
        "added_mass": sheet.measures.mass_words(sheet.assessment.weight.added_kg),
        "no_mount": sheet_work.no_mount_words(sheet.design),
        "load_count": len(sheet.design.loads),
        "panels": [node for node in sheet.design.nodes if node.panel is not None],
    }


def _shown_group(group: sheet_rows.CircuitGroup) -> ShownGroup:
    head = GroupHead(group.key, group.name, group.feed, group.feed_drop, group.positions, group.continuous)
    return ShownGroup(
        row_id(f"panel:{group.key}"),
        group.key,
        group.name,
        group.feed,
        group.feed_drop,
        group.positions,
        group.continuous,
        head,
        group.rows,
    )


def _circuits_foot(sheet: Sheet) -> CircuitsFoot:
    count = len(sheet.design.circuits)
    worst = worst_condition(sheet.assessment)
    together = f"together, {worst.name.lower()}: {ampere(worst.mean_a)} A" if worst else ""
    return CircuitsFoot(count, f"{count} circuit{'' if count == 1 else 's'}", together)


# Table of the context, file, name of the row's fragment, element and fragment of the whole table.
_TABLES = (
    ("parts", "sheet_parts.html", "row", "parts-table", "table"),
    ("runs", "sheet_power.html", "run_row", "runs-table", "runs"),
    ("nodes", "sheet_power.html", "node_row", "nodes-table", "nodes"),
    ("conditions", "sheet_conditions.html", "row", "conditions-table", "table"),
    ("duties", "sheet_duty.html", "duty_row", "duties-table", "duties"),
    ("segments", "sheet_duty.html", "segment_row", "segments-table", "segments"),
    ("sheds", "sheet_duty.html", "shed_row", "sheds-table", "sheds"),
    ("operations", "sheet_hours.html", "row", "operations-table", "table"),
)
TABLE_OF_FAMILY = {
    "part": "parts-table", "run": "runs-table", "node": "nodes-table", "condition": "conditions-table",
    "duty": "duties-table", "segment": "segments-table", "shed": "sheds-table",
    "operation": "operations-table", "circuit": "circuits-table", "load": "circuits-table",
}  # fmt: skip


def _page_pieces(context: dict[str, Any]) -> Iterator[Piece]:
    for element_id, shown, name in (
        ("title", "head", "title"),
        ("strip", "strip", "strip"),
        ("index-lines", "index", "index"),
        ("findings", "findings_shown", "findings"),
        ("bottom-bar", "severity_counts", "bottom_bar"),
    ):
        yield Piece(element_id, context[shown], f"{_PAGE}#{name}", {})


def _whole_tables(context: dict[str, Any]) -> Iterator[Piece]:
    yield Piece("circuits-table", context["circuits_order"], f"{_PARTIALS}sheet_circuits.html#table", {})
    for name, file, _, element_id, table_name in _TABLES:
        yield Piece(element_id, context[f"{name}_order"], f"{_PARTIALS}{file}#{table_name}", {})


def _rows(context: dict[str, Any]) -> Iterator[tuple[str, Piece]]:
    """Yield the id of its table and the piece of every row and every panel's line."""
    for name, file, row_name, table, _ in _TABLES:
        for row in context[name]:
            yield table, Piece(row.element_id, row, f"{_PARTIALS}{file}#{row_name}", {"row": row})
    file = f"{_PARTIALS}sheet_circuits.html"
    for group in context["circuit_groups"]:
        yield "circuits-table", Piece(f"group-{group.element_id}", group.head, f"{file}#group_head", {"group": group})
        for row in group.rows:
            yield "circuits-table", Piece(row.element_id, row, f"{file}#row", {"row": row})


def _feet(context: dict[str, Any]) -> Iterator[Piece]:
    yield Piece("circuits-foot", context["circuits_foot"], f"{_PARTIALS}sheet_circuits.html#foot", {})
    yield Piece("parts-foot", context["parts_foot"], f"{_PARTIALS}sheet_parts.html#foot", {})
    yield Piece("hours-foot", context["hours_foot"], f"{_PARTIALS}sheet_hours.html#foot", {})
    yield Piece("functions-body", context["functions"], f"{_PARTIALS}sheet_functions.html#body", {})
    yield Piece("weight-body", context["weights"], f"{_PARTIALS}sheet_weight.html#body", {})


def differing_pieces(context: dict[str, Any], known: dict[str, str]) -> list[Piece]:
    """
    Return the pieces a screen shows that no longer look so; ``known`` are the marks it has by element id.

    A table whose rows came, went or moved is brought whole, any other row by row.
    """
    tables = [piece for piece in _whole_tables(context) if known.get(piece.element_id, piece.mark) != piece.mark]
    whole = {piece.element_id for piece in tables}
    feet = {"circuits-foot": "circuits-table", "parts-foot": "parts-table", "hours-foot": "operations-table"}
    single = [piece for table, piece in _rows(context) if table not in whole]
    single += [piece for piece in _feet(context) if feet.get(piece.element_id) not in whole]
    return [
        *tables,
        *(
            piece
            for piece in (*_page_pieces(context), *single)
            if piece.element_id in known and known[piece.element_id] != piece.mark
        ),
    ]


def table_piece(context: dict[str, Any], element_id: str) -> Piece:
    """Return a whole table as a piece."""
    return next(piece for piece in _whole_tables(context) if piece.element_id == element_id)


def piece_of_row(context: dict[str, Any], element_id: str) -> Piece | None:
    """Return the closed row with this element id, ``None`` where there is none."""
    return next((piece for _, piece in _rows(context) if piece.element_id == element_id), None)


def render_piece(request: ShopRequest, piece: Piece, context: dict[str, Any], *, oob: bool) -> str:
    """
    Return the markup of one piece, marked to be swapped by its id where it comes beside the main one.

    Rows come inside a template: beside other elements a parser would drop their tags.
    """
    markup = render_to_string(piece.template, context | piece.context | {"oob": oob}, request).strip()
    return f"<template>{markup}</template>" if oob and markup.startswith("<tbody") else markup
