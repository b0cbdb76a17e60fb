"""The power tree to change: an outline with the one-line diagram, and at each line what can be asked of it."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from builds.engineering.errors import EngineeringError, TreeRefused
from builds.engineering.tree_edits import TreeStep, design_with_steps
from builds.engineering.vocabulary import RunSide
from builds.errors import BadInput, BuildError, NotHere, StaleRow, Taken
from builds.forms.power_tree import Question, questions_at
from builds.models import Build
from builds.permissions import Action, check_may
from builds.selectors.build_sheet import Sheet, build_named, read_sheet, sheet_of
from builds.selectors.design_difference import difference_words, sheet_difference, sheet_with
from builds.selectors.edits import last_edit
from builds.selectors.event_stream import event_stream_url
from builds.selectors.live_strip import strip_figures
from builds.selectors.tree_items import TreeItem, item_at, tree_items
from builds.services import design_edits
from builds.services.assessments import assess_design_of
from builds.services.design_edits import Step
from builds.views.requests import ShopRequest, named_edit
from builds.views.row_edits import version_of
from builds.views.sheet_pieces import may_edit_design

__all__ = ["power_tree", "tree_change", "tree_preview", "tree_undo"]

_PAGE = "builds/power_tree.html"


@require_GET
@vary_on_headers("HX-Request")
def power_tree(request: ShopRequest, number: str) -> HttpResponse:
    """Show the tree; ``?side=supply&at=run:R8`` says which line is chosen, ``kind`` what a new thing shall be."""
    check_may(request.user, Action.SEE_BUILDS)
    return _show(request, read_sheet(build_named(number)), request.GET)


def _show(
    request: ShopRequest, sheet: Sheet, asked: Any, *, questions: list[Question] | None = None, said: str = "",
    status: int = 200,
) -> HttpResponse:  # fmt: skip
    sides = [(side, tree_items(sheet, side)) for side in RunSide]
    chosen = _chosen(dict(sides), asked)
    may_edit = may_edit_design(request, sheet.build)
    if questions is None and chosen is not None and may_edit:
        questions = questions_at(
            sheet.design, side=RunSide(chosen.side), subject=chosen.subject, kind=asked.get("kind", "")
        )
        for question in questions:
            question.open = question.do == asked.get("do", "")
            if question.open and asked.get("source"):
                question.own.initial["source"] = asked["source"]
    context = {
        "build": sheet.build,
        "sheet": sheet,
        "sides": [(side.value, items) for side, items in sides],
        "chosen": chosen,
        "questions": questions or [],
        "version": _version(sheet.build, chosen),
        "said": said,
        "may_edit": may_edit,
        "last_edit": last_edit(sheet.build) if may_edit else None,
        "strip": strip_figures(sheet),
        "events_url": event_stream_url(build_number=sheet.build.number, origin=request.events_origin),
        "oob": bool(request.htmx),
    }
    return render(request, f"{_PAGE}#work" if request.htmx else _PAGE, context, status=status)


def _chosen(sides: dict[RunSide, list[TreeItem]], asked: Any) -> TreeItem | None:
    """Return the line asked for, on its side, else on either, else the first."""
    subject = asked.get("at", "")
    wanted = [side for side in RunSide if side.value == asked.get("side")]
    for side in [*wanted, *RunSide]:
        found = item_at(sides[side], subject)
        if found is not None:
            return found
    return next((items[0] for items in sides.values() if items), None)


def _version(build: Build, item: TreeItem | None) -> int:
    """Return the version of the row that a change at a line acts on."""
    family, _, key = item.subject.partition(":") if item else ("", "", "")
    return version_of(build, family, key) if family in ("run", "circuit") else 0


def _asked(request: ShopRequest, sheet: Sheet) -> tuple[TreeItem, Question, list[Question]]:
    """Return the line, the question that was asked there, and all that can be. Raises NotHere."""
    sides = {side: tree_items(sheet, side) for side in RunSide}
    subject, do = request.POST.get("at", ""), request.POST.get("do", "")
    wanted = [side for side in RunSide if side.value == request.POST.get("side")] or list(RunSide)
    item = next((found for side in wanted if (found := item_at(sides[side], subject))), None)
    if item is None:
        raise NotHere("This is no longer in the tree. Read the page again.")
    questions = questions_at(
        sheet.design, side=RunSide(item.side), subject=item.subject, kind=request.POST.get("kind", ""), asked=do,
        data=request.POST,
    )  # fmt: skip
    question = next((found for found in questions if found.do == do), None)
    if question is None:
        raise NotHere("This cannot be asked here.")
    return item, question, questions


@require_POST
def tree_preview(request: ShopRequest, number: str) -> HttpResponse:
    """Say what a change would do, without making it."""
    check_may(request.user, Action.EDIT_DESIGN)
    sheet = read_sheet(build_named(number))
    _, question, _ = _asked(request, sheet)
    context: dict[str, object] = {}
    if question.is_valid():
        try:
            after = sheet_with(sheet, design_with_steps(sheet.design, question.steps()))
            context["words"] = difference_words(sheet_difference(sheet, after)) or ["no figure of the strip moves"]
        except EngineeringError as error:
            context["fault"] = str(error)
    return render(request, f"{_PAGE}#says", context)


@require_POST
def tree_change(request: ShopRequest, number: str) -> HttpResponse:
    """Make one change of the tree as one edit, or say at its place why not."""
    check_may(request.user, Action.EDIT_DESIGN)
    build = build_named(number)
    sheet = read_sheet(build)
    item, question, questions = _asked(request, sheet)
    place = {"side": item.side, "at": item.subject}
    if not question.is_valid():
        return _show(request, sheet, place, questions=questions, status=422)
    try:
        steps = question.steps()
        design_edits.make_steps(
            build=build, steps=[_step(step, item, request) for step in steps], label=question.label, by=request.user,
            at=timezone.now(),
        )  # fmt: skip
    except (TreeRefused, BadInput, Taken, StaleRow) as error:
        question.refuse(error)
        status = error.status if isinstance(error, BuildError) else 422
        return _show(request, sheet, place, questions=questions, status=status)
    return _changed(request, build, place | _where_to(steps), question.label)


def _step(step: TreeStep, item: TreeItem, request: ShopRequest) -> Step:
    """Only the row that was acted on was looked at, so only its version is checked."""
    looked_at = f"{step.family}:{step.key}" == item.subject
    sent = request.POST.get("row_version", "")
    version = int(sent) if sent.isdecimal() and len(sent) < 10 else 0
    return Step(
        family=step.family, key=step.key, values=step.values, row_version=version if looked_at else None,
        prefix=f"{step.part}." if step.part else "",
    )  # fmt: skip


def _where_to(steps: tuple[TreeStep, ...]) -> dict[str, str]:
    """After something was added, its line is the chosen one."""
    new = [step.values["key"] for step in steps if step.family == "node" and not step.key and step.values]
    return {"at": f"node:{new[0]}"} if new else {}


def _changed(request: ShopRequest, build: Build, place: dict[str, str], said: str) -> HttpResponse:
    sheet = sheet_of(build, *assess_design_of(build))
    if not request.htmx:
        return redirect(f"{reverse('power-tree', args=[build.number])}?{urlencode(place)}")
    response = _show(request, sheet, place, said=f"{said[:1].upper()}{said[1:]}.")
    response["X-Design-Version"] = str(build.design_version)
    return response


@require_POST
def tree_undo(request: ShopRequest, number: str) -> HttpResponse:
    """Play the newest edit backwards and show the tree again."""
    check_may(request.user, Action.EDIT_DESIGN)
    build = build_named(number)
    batch = design_edits.undo_last(build=build, by=request.user, at=timezone.now(), named=named_edit(request))
    place = {"side": request.POST.get("side", ""), "at": request.POST.get("at", "")}
    return _changed(request, build, place, batch.words)
