"""A build's sheet: the whole page, one row of it, and what has changed since a screen last looked."""

from collections.abc import Sequence
from typing import Any

from django.http import HttpResponse, JsonResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from builds.engineering.document.canonical import canonical_text
from builds.errors import NotHere
from builds.models import Build
from builds.permissions import Action, check_may, may
from builds.selectors.build_sheet import Sheet, build_named, read_sheet
from builds.selectors.engineering_inputs import design_of
from builds.selectors.sheet_findings import row_id
from builds.selectors.sheet_page import below_design
from builds.services.open_rows import tell_open_row
from builds.services.revisions import revision_letter
from builds.views.requests import ShopRequest
from builds.views.row_edits import RowEdit, add_to, dress, open_row
from builds.views.sheet_pieces import (
    CLOSED,
    differing_pieces,
    may_edit_design,
    piece_of_row,
    render_piece,
    sheet_context,
)

__all__ = [
    "answer_sheet",
    "build_detail",
    "build_document",
    "build_drawings",
    "build_live",
    "build_version",
    "known_marks",
    "render_edit",
    "row_open",
    "show_sheet",
]


@require_GET
@vary_on_headers("HX-Request")
def build_detail(request: ShopRequest, number: str) -> HttpResponse:
    """
    Show the sheet.

    ``?edit=circuit:203`` opens a row, ``?row=circuit:203`` closes it, ``?add=circuit`` opens a new one, ``?close=`` takes
    that away; htmx gets that row alone.
    """
    check_may(request.user, Action.SEE_BUILDS)
    sheet = read_sheet(build_named(number))
    edit = _asked_edit(request, sheet)
    if not request.htmx or request.htmx.boosted or request.htmx.history_restore_request:
        return show_sheet(request, sheet, edit=edit)
    if edit is not None:
        return render_edit(request, sheet, edit)
    if "close" in request.GET:
        return render(request, "builds/_partials/row_edit.html#slot", {"family": request.GET["close"]})
    context = sheet_context(request, sheet)
    if "row" not in request.GET:
        return show_sheet(request, sheet)
    piece = piece_of_row(context, row_id(request.GET["row"]))
    if piece is None:
        raise NotHere("This row is no longer here. Read the page again.")
    return HttpResponse(render_piece(request, piece, context, oob=False))


def _asked_edit(request: ShopRequest, sheet: Sheet) -> RowEdit | None:
    if not may_edit_design(request, sheet.build):
        return None
    if request.GET.get("add"):
        return add_to(
            sheet.design, request.GET["add"], kind=request.GET.get("kind", ""), circuit=request.GET.get("circuit", "")
        )
    family, _, key = request.GET.get("edit", "").partition(":")
    return dress(open_row(sheet.build, sheet.design, family, key), sheet) if key else None


def show_sheet(request: ShopRequest, sheet: Sheet, *, edit: RowEdit | None = None, status: int = 200) -> HttpResponse:
    """Return the whole page, a row of it open where one is being edited."""
    context = sheet_context(request, sheet) | below_design(sheet) | _rights_below(request, sheet)
    if edit is not None and edit.parent:
        edit.circuit = dress(open_row(sheet.build, sheet.design, *edit.parent.split(":", 1)), sheet)
        edit.circuit.load_edit = edit
    return render(request, "builds/build_detail.html", context | {"edit": edit}, status=status)


def _rights_below(request: ShopRequest, sheet: Sheet) -> dict[str, Any]:
    build = sheet.build
    released = sheet.newest is not None and not sheet.change_count
    return {
        "may_write": may(request.user, Action.WRITE_REGISTER),
        "may_release": may(request.user, Action.RELEASE_REVISION) and build.stage not in CLOSED and not released,
        "may_authorise": may(request.user, Action.RECORD_AUTHORISATION),
        "next_letter": revision_letter((sheet.newest.sequence if sheet.newest else 0) + 1),
    }


def render_edit(request: ShopRequest, sheet: Sheet, edit: RowEdit, *, status: int = 200) -> HttpResponse:
    """Return an open row alone."""
    if edit.is_new:
        name = "new"
    else:
        name = "circuit" if edit.family == "circuit" else "row"
    context: dict[str, Any] = {"edit": edit, "build": sheet.build, "may_edit": True}
    return render(request, f"builds/_partials/row_edit.html#{name}", context, status=status)


@require_POST
def build_live(request: ShopRequest, number: str) -> HttpResponse:
    """Answer with the pieces that differ from those a screen shows; it sends their marks."""
    check_may(request.user, Action.SEE_BUILDS)
    return answer_sheet(request, read_sheet(build_named(number)))


def answer_sheet(
    request: ShopRequest,
    sheet: Sheet,
    *,
    main: str = "",
    without: str = "",
    context: dict[str, Any] | None = None,
    merged: Sequence[str] | None = None,
) -> HttpResponse:
    """
    Return ``main`` for the target and every other piece that differs from what the screen shows, in one answer.

    ``merged`` is what others changed in the rows of the edit that is answered: it stays on the screen until the next one.
    """
    context = context or sheet_context(request, sheet)
    known = known_marks(request)
    pieces = [piece for piece in differing_pieces(context, known) if piece.element_id != without]
    if merged is not None:
        main += render_to_string("builds/_partials/merged.html", {"merged": merged, "oob": True}, request)
    response = HttpResponse(main + "".join(render_piece(request, piece, context, oob=True) for piece in pieces))
    response["X-Design-Version"] = str(sheet.build.design_version)
    return response


def known_marks(request: ShopRequest) -> dict[str, str]:
    """Return the marks a screen sent, by element id."""
    pairs = (word.rpartition(":") for word in request.POST.get("seen", "").split())
    return {element_id: mark for element_id, _, mark in pairs if element_id}


@require_POST
def row_open(request: ShopRequest, number: str) -> HttpResponse:
    """Tell the other screens that this person has a row open, or has left it."""
    check_may(request.user, Action.EDIT_DESIGN)
    family, _, key = request.POST.get("row", "").partition(":")
    is_open = request.POST.get("open") == "1"
    tell_open_row(build=build_named(number), family=family, key=key, is_open=is_open, by=request.user)
    return HttpResponse(status=204)


@require_GET
def build_version(request: ShopRequest, number: str) -> HttpResponse:
    """Answer the number of the newest edit, for screens without a stream."""
    check_may(request.user, Action.SEE_BUILDS)
    version = Build.objects.filter(number=number).values_list("design_version", flat=True).first()
    if version is None:
        raise NotHere(f"There is no build {number}.")
    return JsonResponse({"design_version": version})


@require_GET
def build_drawings(request: ShopRequest, number: str) -> HttpResponse:
    """Show the one-line diagram and the panel maps alone."""
    check_may(request.user, Action.SEE_BUILDS)
    sheet = read_sheet(build_named(number))
    panels = [node for node in sheet.design.nodes if node.panel is not None]
    context = {"build": sheet.build, "sheet": sheet, "panels": panels}
    return render(request, "builds/_partials/sheet_power.html#drawings", context)


@require_GET
def build_document(request: ShopRequest, number: str) -> HttpResponse:
    """Send the working design as a build document."""
    check_may(request.user, Action.SEE_BUILDS)
    build = build_named(number)
    response = HttpResponse(canonical_text(design_of(build)), content_type="application/json; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="build-{build.number}.json"'
    return response
