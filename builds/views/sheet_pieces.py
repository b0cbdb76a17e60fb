"""
The pieces a build's sheet is made of, each with a mark of what it shows.

A screen sends the marks of the pieces it has; the answer brings those that differ, so that one edit brings the figures of
every row it moved, and nothing else.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.template.loader import render_to_string
from django.utils import timezone

from builds.engineering.findings import Severity
from builds.engineering.vocabulary import NodeKind
from builds.models import Build
from builds.permissions import Action, may
from builds.selectors import sheet_rows, sheet_work
from builds.selectors.build_sheet import Sheet
from builds.selectors.event_stream import event_stream_url
from builds.selectors.figure_words import ampere
from builds.selectors.live_strip import strip_figures, worst_condition
from builds.selectors.sheet_findings import cards_of, index_of, row_id
from builds.selectors.sheet_head import head_of
from builds.templatetags.sheet import seen

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
    """One element of the sheet: its id, its mark, and what draws it."""

    element_id: str
    mark: str
    template: str
    context: dict[str, Any]


@dataclass(frozen=True, slots=True)
class GroupHead:
    """What the line of a panel shows."""

    key: str
    name: str
    feed: str
    positions: str
    continuous: str


@dataclass(frozen=True, slots=True)
class ShownGroup:
    """A panel's line and its circuits, ready to print."""

    element_id: str
    key: str
    name: str
    feed: str
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


def may_edit_design(request: HttpRequest, build: Build) -> bool:
    """Whether this person may change the design as it stands."""
    return may(request.user, Action.EDIT_DESIGN) and build.stage not in CLOSED


def sheet_context(request: HttpRequest, sheet: Sheet) -> dict[str, Any]:
    """Return what every piece of the sheet prints from."""
    build = sheet.build
    head = head_of(sheet, at=timezone.now())
    measures = sheet.measures
    return {
        "request": request,
        "build": build,
        "sheet": sheet,
        "head": head,
        "act_address": f"#{head.act_anchor}" if head.act_anchor else "",
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
        "cards": cards_of(sheet),
        "severity_counts": [(item.value, sheet.assessment.count(item)) for item in Severity],
        "node_kinds": [(kind.value, kind.value) for kind in NodeKind],
        **_tables(sheet),
    }


def _counts(build: Build) -> dict[int, str]:
    return {8: f"{build.step_done_count}/{build.step_count}" if build.step_count else ""}


def _tables(sheet: Sheet) -> dict[str, Any]:
    groups = [_shown_group(group) for group in sheet_rows.circuit_groups(sheet)]
    tables: dict[str, Any] = {
        "parts": sheet_work.part_rows(sheet),
        "runs": sheet_rows.run_rows(sheet),
        "nodes": sheet_rows.node_rows(sheet),
        "conditions": sheet_work.condition_rows(sheet),
        "operations": sheet_work.operation_rows(sheet),
    }
    weights = sheet_work.weight_figures(sheet), sheet_work.zone_weights(sheet)
    return {
        **tables,
        **{f"{name}_order": tuple(row.key for row in rows) for name, rows in tables.items()},
        "circuit_groups": groups,
        "circuits_order": tuple((group.key, tuple(row.key for row in group.rows)) for group in groups),
        "circuits_foot": _circuits_foot(sheet),
        "parts_foot": sheet_work.parts_foot(sheet),
        "hours_foot": sheet_work.hours_foot(sheet),
        "weight_figures": weights[0],
        "zone_weights": weights[1],
        "weight_seen": seen(weights),
        "added_mass": sheet.measures.mass_words(sheet.assessment.weight.added_kg),
        "load_count": len(sheet.design.loads),
        "panels": [node for node in sheet.design.nodes if node.panel is not None],
    }


def _shown_group(group: sheet_rows.CircuitGroup) -> ShownGroup:
    head = GroupHead(group.key, group.name, group.feed, group.positions, group.continuous)
    return ShownGroup(
        row_id(f"panel:{group.key}"), group.key, group.name, group.feed, group.positions, group.continuous, head, group.rows
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
    ("operations", "sheet_hours.html", "row", "operations-table", "table"),
)
TABLE_OF_FAMILY = {
    "part": "parts-table", "run": "runs-table", "node": "nodes-table", "condition": "conditions-table",
    "operation": "operations-table", "circuit": "circuits-table", "load": "circuits-table",
}  # fmt: skip


def _page_pieces(context: dict[str, Any]) -> Iterator[Piece]:
    for element_id, shown, name in (
        ("title", "head", "title"),
        ("strip", "strip", "strip"),
        ("index-lines", "index", "index"),
        ("findings", "cards", "findings"),
        ("bottom-bar", "severity_counts", "bottom_bar"),
    ):
        yield Piece(element_id, seen(context[shown]), f"{_PAGE}#{name}", {})


def _table_pieces(context: dict[str, Any], known: dict[str, str]) -> Iterator[Piece]:
    """A table whose rows are others is brought whole, else row by row."""
    for name, file, row_name, element_id, table_name in _TABLES:
        whole = Piece(element_id, seen(context[f"{name}_order"]), f"{_PARTIALS}{file}#{table_name}", {})
        if known.get(element_id) != whole.mark:
            yield whole
        else:
            for row in context[name]:
                yield Piece(row.element_id, seen(row), f"{_PARTIALS}{file}#{row_name}", {"row": row})
    yield Piece("parts-foot", seen(context["parts_foot"]), f"{_PARTIALS}sheet_parts.html#foot", {})
    yield Piece("hours-foot", seen(context["hours_foot"]), f"{_PARTIALS}sheet_hours.html#foot", {})
    yield Piece("weight-body", context["weight_seen"], f"{_PARTIALS}sheet_weight.html#body", {})


def _circuit_pieces(context: dict[str, Any], known: dict[str, str]) -> Iterator[Piece]:
    file = f"{_PARTIALS}sheet_circuits.html"
    whole = Piece("circuits-table", seen(context["circuits_order"]), f"{file}#table", {})
    if known.get("circuits-table") != whole.mark:
        yield whole
        return
    for group in context["circuit_groups"]:
        yield Piece(f"group-{group.element_id}", seen(group.head), f"{file}#group_head", {"group": group})
        for row in group.rows:
            yield Piece(row.element_id, seen(row), f"{file}#row", {"row": row})
    yield Piece("circuits-foot", seen(context["circuits_foot"]), f"{file}#foot", {})


def differing_pieces(context: dict[str, Any], known: dict[str, str]) -> list[Piece]:
    """Return the pieces a screen shows that no longer look so; ``known`` are the marks it has by element id."""
    found = [*_page_pieces(context), *_circuit_pieces(context, known), *_table_pieces(context, known)]
    return [piece for piece in found if piece.element_id in known and known[piece.element_id] != piece.mark]


def table_piece(context: dict[str, Any], element_id: str) -> Piece:
    """Return a whole table as a piece."""
    return next(piece for piece in (*_circuit_pieces(context, {}), *_table_pieces(context, {})) if piece.element_id == element_id)


def piece_of_row(context: dict[str, Any], element_id: str) -> Piece | None:
    """Return the closed row with this element id, ``None`` where there is none."""
    marks = {table: seen(context[f"{name}_order"]) for name, _, _, table, _ in _TABLES}
    marks["circuits-table"] = seen(context["circuits_order"])
    for piece in (*_circuit_pieces(context, marks), *_table_pieces(context, marks)):
        if piece.element_id == element_id:
            return piece
    return None


def render_piece(request: HttpRequest, piece: Piece, context: dict[str, Any], *, oob: bool) -> str:
    """
    Return the markup of one piece, marked to be swapped by its id where it comes beside the main one.

    Rows come inside a template: beside other elements a parser would drop their tags.
    """
    markup = render_to_string(piece.template, context | piece.context | {"oob": oob}, request).strip()
    return f"<template>{markup}</template>" if oob and markup.startswith("<tbody") else markup

