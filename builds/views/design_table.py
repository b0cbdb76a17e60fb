"""
Circuits, runs or loads as one table to type and paste into.

Nothing is kept while somebody works on it: ``do=check`` says at each cell what cannot be taken and what the rest would
change, ``do=keep`` keeps all cells as one edit or none, ``do=undo`` plays the newest edit backwards; ``?rows`` gives the rows
as they are now. These answer with JSON; the page itself is drawn by the server.
"""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from django.http import HttpResponse, JsonResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from builds.engineering.document.assemble import part_of
from builds.engineering.errors import EngineeringError
from builds.engineering.findings import Severity
from builds.errors import BadInput, CellFault, NotHere, RowsRefused
from builds.forms.design_table import TABLE_FAMILIES, DesignTable, TypedCell
from builds.forms.merged_words import merged_words
from builds.forms.new_rows import is_new, read_new_rows
from builds.forms.row_fields import FAMILY_FIELDS, RowField
from builds.permissions import Action, check_may
from builds.selectors.build_sheet import Sheet, build_named, read_sheet, sheet_of
from builds.selectors.design_after import design_after
from builds.selectors.design_difference import difference_words, sheet_difference, sheet_with
from builds.selectors.event_stream import event_stream_url
from builds.selectors.kept_designs import keep_design
from builds.selectors.live_strip import strip_figures
from builds.selectors.row_preview import design_with_rows
from builds.selectors.sheet_findings import Margin, margins_of
from builds.selectors.sheet_head import head_of
from builds.selectors.table_results import RESULTS, result_texts, row_versions
from builds.services import design_edits
from builds.services.assessments import assess_design_of
from builds.services.design_edits import RowChange
from builds.services.design_rows import FAMILIES
from builds.services.many_rows import faults_of_rows
from builds.views.requests import ShopRequest
from builds.views.sheet_pieces import may_edit_design

__all__ = ["design_table", "table_cells"]

_Values: TypeAlias = dict[str, dict[str, Any]]

_MOST_CELLS = 50_000
_WORDS = {"circuit": "Circuits", "run": "Runs", "load": "Loads"}


@dataclass(frozen=True, slots=True)
class ShownRow:
    """One row of the table: its key and version, its cells, what the core says of it, and its mark."""

    key: str
    row_version: int
    cells: list[str]
    results: list[str]
    margin: Margin


@require_GET
def design_table(request: ShopRequest, number: str, family: str) -> HttpResponse:
    """Show all rows of one family."""
    check_may(request.user, Action.SEE_BUILDS)
    sheet = read_sheet(build_named(number))
    if "rows" in request.GET:
        return _answer(request, sheet, family)
    table = _table(sheet, family)
    build = sheet.build
    context = {
        "build": build,
        "sheet": sheet,
        "head": head_of(sheet, at=timezone.now()),
        "table": table,
        "rows": list(_rows(sheet, table)),
        "results": RESULTS[family],
        "family": family,
        "family_word": _WORDS[family],
        "families": [(name, _WORDS[name], reverse("design-table", args=[number, name])) for name in TABLE_FAMILIES],
        "new_fields_text": json.dumps([[spec.name, spec.label] for spec in FAMILY_FIELDS[family] if spec.only_new]),
        "offers": {column.list_id: column.choices for column in table.columns if column.list_id},
        "mark_names": [*(severity.value for severity in Severity), "changed"],
        "strip": strip_figures(sheet),
        "may_edit": may_edit_design(request, build),
        "events_url": event_stream_url(build_number=build.number, origin=request.events_origin),
        "anchor": {"circuit": "circuits", "load": "circuits", "run": "power"}[family],
    }
    return render(request, "builds/design_table.html", context)


def _table(sheet: Sheet, family: str) -> DesignTable:
    if family not in TABLE_FAMILIES:
        raise NotHere(f"There is no table of {family!r}. There are tables of circuits, runs and loads.")
    return DesignTable(family, sheet.design)


def _rows(sheet: Sheet, table: DesignTable) -> Iterable[ShownRow]:
    margins, results = margins_of(sheet), result_texts(sheet, table.family)
    versions = row_versions(sheet.build, table.family)
    for key in table.sorted_keys():
        margin = margins.get(f"{table.family}:{key}", Margin())
        yield ShownRow(key, versions.get(key, 0), table.texts(key), results.get(key, []), margin)


@require_POST
def table_cells(request: ShopRequest, number: str, family: str) -> HttpResponse:
    """Check cells, keep them, or undo the newest edit."""
    check_may(request.user, Action.EDIT_DESIGN)
    wanted = request.POST.get("do", "")
    build = build_named(number)
    sheet = read_sheet(build)
    table = _table(sheet, family)
    if wanted == "undo":
        design_edits.undo_last(build=build, by=request.user, at=timezone.now())
        return _answer(request, sheet_of(build, *assess_design_of(build)), family)
    if wanted not in ("check", "keep"):
        raise BadInput({"do": "Say what to do with the cells: check, keep or undo."})
    cells = _sent_cells(request)
    values, faults = table.read(cell for cell in cells if not is_new(cell.key))
    added, more = read_new_rows(family, sheet.design, (cell for cell in cells if is_new(cell.key)))
    faults += more
    if wanted == "check" and not faults:
        faults = list(faults_of_rows(build, FAMILIES[family], values, added))
    if wanted == "check" or faults:
        return _checked(sheet, table, values, added, faults, status=422 if wanted == "keep" else 200)
    return _keep(request, sheet, family, values, added)


def _sent_cells(request: ShopRequest) -> list[TypedCell]:
    """Return what was typed; it comes as a list of [row, field, text]."""
    try:
        sent = json.loads(request.POST.get("cells", "[]"))
    except (ValueError, RecursionError):
        sent = None
    if not isinstance(sent, list) or len(sent) > _MOST_CELLS or not all(map(_is_cell, sent)):
        raise BadInput({"cells": "The cells could not be read. Read the page again."})
    return [TypedCell(*cell) for cell in sent]


def _is_cell(item: object) -> bool:
    return isinstance(item, list) and len(item) == 3 and all(isinstance(text, str) for text in item)


def _sent_versions(request: ShopRequest) -> dict[str, int]:
    try:
        sent = json.loads(request.POST.get("versions", "{}"))
    except (ValueError, RecursionError):
        sent = None
    if not isinstance(sent, dict):
        raise BadInput({"versions": "The versions of the rows could not be read. Read the page again."})
    return {key: value for key, value in sent.items() if isinstance(value, int) and 0 <= value < 10**9}


def _checked(
    sheet: Sheet, table: DesignTable, values: _Values, added: _Values, faults: list[CellFault], *, status: int
) -> HttpResponse:
    """Say what is wrong at which cell, or else what would change and what the new rows would be."""
    says: list[str] = []
    made: dict[str, list[Any]] = {}
    if not faults and (values or added):
        try:
            part_class = RowField.part_class(table.family)
            parts = {key: part_of(part_class, row) for key, row in added.items()}
            after = sheet_with(sheet, design_with_rows(sheet.design, table.family, values, parts.values()))
            says = difference_words(sheet_difference(sheet, after)) or ["no figure of the strip moves"]
            made = {key: [table.key_of(part), table.texts_of(part)] for key, part in parts.items()}
        except EngineeringError as error:
            says = [str(error)]
    message = "Some cells cannot be taken." if faults else ""
    return _refused(message, faults, status=status, says=says, rows=len(values), made=made)


def _refused(message: str, faults: Iterable[CellFault], *, status: int, **more: Any) -> HttpResponse:
    cells = [[fault.key, fault.field, fault.words] for fault in faults]
    return JsonResponse({"message": message, "faults": cells, **more}, status=status)


def _keep(request: ShopRequest, sheet: Sheet, family: str, values: _Values, added: _Values) -> HttpResponse:
    build, versions = sheet.build, _sent_versions(request)
    read_at, batch = build.design_version, None
    changes = [RowChange(key=key, values=row, row_version=versions.get(key, 0)) for key, row in values.items()]
    try:
        if changes or added:
            batch = design_edits.edit_table(
                build=build, family=family, changes=changes, added=added, by=request.user, at=timezone.now()
            )
    except RowsRefused as error:
        newest = row_versions(build, family) if error.stale else {}
        fresh = {cell.key: newest.get(cell.key, 0) for cell in error.cells}
        return _refused(error.message, error.cells, status=error.status, versions=fresh if error.stale else {})
    design = design_after(build, before=sheet.design, read_at=read_at, batch=batch)
    design, assessment = assess_design_of(build, design)
    keep_design(build, design, assessment)
    merged = merged_words(design, batch.meanwhile if batch else ())
    return _answer(request, sheet_of(build, design, assessment), family, merged=merged)


def _answer(request: ShopRequest, sheet: Sheet, family: str, *, merged: Sequence[str] = ()) -> HttpResponse:
    """Return every row as it is now with the strip: the screen changes what differs."""
    table = _table(sheet, family)
    rows = {
        row.key: [row.row_version, row.cells, row.results, row.margin.worst, row.margin.words, row.margin.changed]
        for row in _rows(sheet, table)
    }
    strip = render_to_string(
        "builds/build_detail.html#strip", {"strip": strip_figures(sheet), "build": sheet.build}, request
    )
    counts = [f"{sheet.assessment.count(item)} {item.value}" for item in Severity if sheet.assessment.count(item)]
    return JsonResponse(
        {
            "rows": rows,
            "strip": strip,
            "findings": ", ".join(counts) or "no findings",
            "design_version": sheet.build.design_version,
            "merged": list(merged),
        }
    )
