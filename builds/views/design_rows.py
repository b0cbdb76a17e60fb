"""Editing the rows of a design in place: see what a change would do, keep it, take a row out, undo."""

from collections.abc import Sequence

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from builds.engineering.changes import apply_changes
from builds.engineering.design import Design
from builds.engineering.errors import EngineeringError
from builds.engineering.findings import Finding
from builds.errors import BadInput, BuildError, NotHere, StaleRow
from builds.forms.merged_words import merged_words
from builds.models import Build
from builds.permissions import Action, check_may
from builds.selectors.build_sheet import Sheet, build_named, read_sheet, sheet_of
from builds.selectors.design_after import design_after
from builds.selectors.engineering_inputs import design_of
from builds.selectors.kept_designs import keep_design, working_design
from builds.selectors.row_preview import design_with, preview_words
from builds.selectors.sheet_findings import row_id
from builds.services import design_edits
from builds.services.assessments import assess_design_of
from builds.services.design_edits import RowEdit as RowChange
from builds.views.build_sheet import answer_sheet, known_marks, render_edit, show_sheet
from builds.views.requests import ShopRequest, named_edit
from builds.views.responses import add_errors
from builds.views.row_edits import RowEdit, add_to, dress, open_row
from builds.views.sheet_pieces import TABLE_OF_FAMILY, piece_of_row, render_piece, sheet_context, table_piece

__all__ = ["apply_fix", "row_add", "row_edit", "row_preview", "row_remove", "undo_last"]


@require_POST
def row_edit(request: ShopRequest, number: str, family: str, key: str) -> HttpResponse:
    """Keep what was changed in a row."""
    check_may(request.user, Action.EDIT_DESIGN)
    build = build_named(number)
    read_at, design = build.design_version, working_design(build)
    edit = open_row(build, design, family, key, data=request.POST)
    changes = _changes(edit, request)
    if changes is None:
        return _show_again(request, build, edit, 422)
    batch = None
    try:
        if changes:
            batch = design_edits.edit_rows(build=build, rows=changes, by=request.user, at=timezone.now())
    except StaleRow as error:
        again = open_row(build, design_of(build), family, key, data=request.POST)
        again.show_conflict(error)
        return _show_again(request, build, again, 409)
    except BadInput as error:
        _put_words(edit, error)
        return _show_again(request, build, edit, 422)
    after = design_after(build, before=design, read_at=read_at, batch=batch)
    return _kept(request, build, edit, after, merged_words(after, batch.meanwhile if batch else ()))


def _changes(edit: RowEdit, request: ShopRequest) -> list[RowChange] | None:
    """Return the touched fields of the row (and of a circuit's only load), ``None`` where one cannot be read."""
    forms = [(edit.form, edit.family, edit.key, "row_version", "")]
    if edit.load_form is not None:
        forms.append((edit.load_form, "load", edit.load_key, "load_version", "load."))
    for form, *_ in forms:
        form.take_theirs()
    valid = [form.is_valid() for form, *_ in forms]  # each of them, so that every fault is shown at once
    if not all(valid):
        return None
    return [
        RowChange(family=family, key=key, values=values, row_version=_number(request.POST.get(version)), prefix=prefix)
        for form, family, key, version, prefix in forms
        if (values := form.changes())
    ]


def _number(text: str | None) -> int:
    return int(text) if text and text.isdecimal() and len(text) < 10 else 0


def _put_words(edit: RowEdit, error: BadInput) -> None:
    """Put the service's words at the fields, those of the circuit's only load at its own."""
    own = {name: words for name, words in error.fields.items() if not name.startswith("load.")}
    of_load = {name[5:]: words for name, words in error.fields.items() if name.startswith("load.")}
    if own or not of_load:
        add_errors(edit.form, BuildError(error.message, fields=own))
    if of_load and edit.load_form is not None:
        add_errors(edit.load_form, BuildError(error.message, fields=of_load))


def _show_again(request: ShopRequest, build: Build, edit: RowEdit, status: int) -> HttpResponse:
    sheet = read_sheet(build)
    dress(edit, sheet)
    if request.htmx:
        return render_edit(request, sheet, edit, status=status)
    return show_sheet(request, sheet, edit=edit, status=status)


def _kept(request: ShopRequest, build: Build, edit: RowEdit, design: Design, merged: list[str]) -> HttpResponse:
    """Answer a kept row: the row for the target, and all else it moved, in one; without htmx the sheet again."""
    design, assessment = assess_design_of(build, design)
    keep_design(build, design, assessment)
    sheet = sheet_of(build, design, assessment)
    anchor = row_id(edit.parent or edit.subject)
    if not request.htmx:
        for words in merged:
            messages.info(request, f"Your change is kept. {words}.")
        query = f"?edit={edit.parent}" if edit.parent else ""
        return redirect(f"{reverse('build-detail', args=[build.number])}{query}#{anchor}")
    return answer_row(
        request, sheet, family=edit.family, element_id=row_id(edit.subject), parent=edit.parent, merged=merged
    )


def answer_row(
    request: ShopRequest, sheet: Sheet, *, family: str, element_id: str, parent: str = "", merged: Sequence[str] = ()
) -> HttpResponse:
    """
    Return one row for the target of a kept edit, with all other pieces that differ.

    Where rows came, went or moved the whole table stands for the row; a load brings its circuit, still open.
    """
    context = sheet_context(request, sheet)
    table = table_piece(context, TABLE_OF_FAMILY[family])
    if parent:
        circuit = dress(open_row(sheet.build, sheet.design, *parent.split(":", 1)), sheet)
        main = render_edit(request, sheet, circuit).content.decode()
        target = row_id(parent)
    elif known_marks(request).get(table.element_id) != table.mark:
        main, target = render_piece(request, table, context, oob=False), table.element_id
    else:
        piece = piece_of_row(context, element_id)
        main, target = (render_piece(request, piece, context, oob=False) if piece else ""), element_id
    response = answer_sheet(request, sheet, main=main, without=target, context=context, merged=merged)
    response["HX-Retarget"] = f"#{target}"
    response["HX-Reswap"] = "outerHTML"
    return response


@require_POST
def row_preview(request: ShopRequest, number: str, family: str, key: str) -> HttpResponse:
    """Say what a change would do, without keeping it."""
    check_may(request.user, Action.EDIT_DESIGN)
    build = build_named(number)
    sheet = read_sheet(build)
    edit = open_row(build, sheet.design, family, key, data=request.POST)
    changes = _changes(edit, request)
    preview: dict[str, object] = {}
    if changes is None:
        preview["faults"] = "Something typed here cannot be taken yet; keep it to see what."
    elif changes:
        preview = _preview(sheet, changes, family, key)
    return render(request, "builds/_partials/row_edit.html#says", {"edit": edit, "preview": preview})


def _preview(sheet: Sheet, changes: list[RowChange], family: str, key: str) -> dict[str, object]:
    try:
        changed: Design = sheet.design
        for change in changes:
            changed = design_with(changed, change.family, change.key, change.values)
        return {"words": preview_words(sheet, changed, family=family, key=key)}
    except EngineeringError as error:
        return {"faults": str(error)}


@require_POST
def row_remove(request: ShopRequest, number: str, family: str, key: str) -> HttpResponse:
    """Take a row out of the design."""
    check_may(request.user, Action.EDIT_DESIGN)
    build = build_named(number)
    edit = open_row(build, design_of(build), family, key)
    design_edits.remove_row(
        build=build, family=family, key=key, row_version=_number(request.POST.get("row_version")), by=request.user,
        at=timezone.now(),
    )  # fmt: skip
    if not request.htmx:
        return redirect(f"{reverse('build-detail', args=[build.number])}#{TABLE_OF_FAMILY[family]}")
    sheet = sheet_of(build, *assess_design_of(build))
    return answer_row(request, sheet, family=family, element_id=edit.element_id, parent=edit.parent)


@require_POST
def row_add(request: ShopRequest, number: str, family: str) -> HttpResponse:
    """Add a row to the design."""
    check_may(request.user, Action.EDIT_DESIGN)
    build = build_named(number)
    design = design_of(build)
    kind, circuit = request.GET.get("kind", ""), request.GET.get("circuit", "")
    edit = add_to(design, family, kind=kind, circuit=circuit, data=request.POST)
    if not edit.form.is_valid():
        return _show_again(request, build, edit, 422)
    try:
        design_edits.add_row(build=build, family=family, values=edit.form.values(), by=request.user, at=timezone.now())
    except BadInput as error:
        add_errors(edit.form, error)
        return _show_again(request, build, edit, 422)
    key = edit.form.cleaned_data[_key_field(family)]
    subject = f"{family}:{key}"
    if not request.htmx:
        query = f"?edit={edit.parent}" if edit.parent else ""
        return redirect(f"{reverse('build-detail', args=[build.number])}{query}#{row_id(edit.parent or subject)}")
    sheet = sheet_of(build, *assess_design_of(build))
    response = answer_row(request, sheet, family=family, element_id=row_id(subject), parent=edit.parent)
    if not edit.parent:
        slot = render(request, "builds/_partials/row_edit.html#slot", {"family": family, "oob": True})
        response.content += slot.content
    return response


def _key_field(family: str) -> str:
    return "number" if family == "circuit" else "key"


@require_POST
def apply_fix(request: ShopRequest, number: str) -> HttpResponse:
    """Make the repair that a finding proposes, if it still stands."""
    check_may(request.user, Action.EDIT_DESIGN)
    build = build_named(number)
    finding = _finding(read_sheet(build), request.POST.get("finding", ""), request.POST.get("subject", ""))
    fix = finding.fix
    if fix is None:
        raise NotHere("This finding no longer proposes a repair.")
    apply_changes(design_of(build), fix.changes)
    design_edits.apply_fix(build=build, changes=fix.changes, label=fix.label, by=request.user, at=timezone.now())
    return answer_design(request, build, anchor="findings")


def _finding(sheet: Sheet, finding_id: str, subject: str) -> Finding:
    for finding in sheet.assessment.findings:
        if (finding.id, finding.subject) == (finding_id, subject):
            return finding
    raise NotHere("This finding is no longer open.")


@require_POST
def undo_last(request: ShopRequest, number: str) -> HttpResponse:
    """Play the newest edit backwards."""
    check_may(request.user, Action.EDIT_DESIGN)
    build = build_named(number)
    design_edits.undo_last(build=build, by=request.user, at=timezone.now(), named=named_edit(request))
    return answer_design(request, build, anchor="changes")


def answer_design(request: ShopRequest, build: Build, *, anchor: str) -> HttpResponse:
    """Answer an edit that belongs to no open row: every piece that differs, or without htmx the sheet again."""
    design, assessment = assess_design_of(build)
    if not request.htmx:
        return redirect(f"{reverse('build-detail', args=[build.number])}#{anchor}")
    return answer_sheet(request, sheet_of(build, design, assessment), merged=())
