"""What happens to a whole build: revisions, authorisations, moves from stage to stage, holds, overrides."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from builds.errors import BadInput, BuildError, NotHere
from builds.forms.changes import AuthorisationForm, HoldForm, OpenItemForm, OverrideForm
from builds.models import Build, ChecklistStep, Shop, Stage
from builds.models.stage import GUARDS
from builds.permissions import Action, check_may, may
from builds.selectors.build_sheet import build_named
from builds.selectors.figure_words import hours, money
from builds.selectors.handover import HandoverCaution, handover_cautions
from builds.selectors.open_steps import open_steps, why_step_never_open
from builds.selectors.registers import serial_count, serial_lines
from builds.selectors.sheet_page import changes_of
from builds.services import authorisations, overrides, revisions, stages
from builds.services.assessments import assess_build
from builds.services.stages import OpenItem
from builds.views.acting import person_who_may
from builds.views.requests import ShopRequest
from builds.views.responses import add_errors
from builds.views.sheet_pieces import may_edit_design

__all__ = [
    "build_history",
    "build_hold",
    "build_lift_hold",
    "build_move",
    "build_override",
    "build_release",
    "build_stages",
    "revision_authorise",
]


@dataclass(frozen=True, slots=True)
class NextStage:
    """Where a build can go, what is missing for it or does not fit it, and whether the move asks for a reason."""

    stage: str
    word: str
    missing: tuple[str, ...]
    asks_note: bool
    note_label: str
    cautions: tuple[HandoverCaution, ...]
    open_steps: tuple["OpenStep", ...] = ()


@dataclass(frozen=True, slots=True)
class OpenStep:
    """A step that is not done, with the form that names it as an open item; ``never`` says why it cannot be one."""

    step: ChecklistStep
    form: OpenItemForm
    never: str


def _open_steps(build: Build, data: QueryDict | None = None) -> tuple[OpenStep, ...]:
    return tuple(
        OpenStep(
            step, OpenItemForm(data, prefix=f"open-{step.pk}", initial={"part": step.title}), why_step_never_open(step)
        )
        for step in open_steps(build)
    )


def _sheet(build: Build, anchor: str) -> str:
    return f"{reverse('build-detail', args=[build.number])}#{anchor}"


@require_GET
def build_history(request: ShopRequest, number: str) -> HttpResponse:
    """Show the last edits alone."""
    check_may(request.user, Action.SEE_BUILDS)
    build = build_named(number)
    zone = Shop.objects.values_list("time_zone", flat=True).first() or "UTC"
    context = {"build": build, "may_edit": may_edit_design(request, build), "shop_zone": zone, **changes_of(build)}
    return render(request, "builds/_partials/sheet_changes.html#history", context)


@require_GET
def build_stages(request: ShopRequest, number: str) -> HttpResponse:
    """Show where a build can go from here, and what each move still misses, in sentences."""
    check_may(request.user, Action.SEE_BUILDS)
    return _stages_page(request, build_named(number))


def _stages_page(
    request: ShopRequest, build: Build, *, tried: tuple[OpenStep, ...] | None = None, status: int = 200
) -> HttpResponse:
    """The moves a person can make; ``tried`` are open items as they were sent, with what is wrong with them."""
    context = {
        "build": build,
        "next_stages": [
            _next_stage(build, stage, tried) for stage in stages.next_stages(build) if _may_move(request, stage)
        ],
        "may_hold": may(request.user, Action.SET_HOLD) and build.stage not in (Stage.CLOSED, Stage.CANCELLED),
        "hold_form": HoldForm(auto_id="hold-%s"),
        "back": _sheet(build, "changes"),
    }
    page = "builds/build_stages.html#stages" if request.htmx else "builds/build_stages.html"
    return render(request, page, context, status=status)


def _may_move(request: ShopRequest, stage: Stage) -> bool:
    action = {Stage.CANCELLED: Action.CANCEL_BUILD, Stage.CLOSED: Action.CLOSE_BUILD}.get(stage, Action.MOVE_STAGE)
    return may(request.user, action)


def _next_stage(build: Build, stage: Stage, tried: tuple[OpenStep, ...] | None = None) -> NextStage:
    asked = _NOTE_GUARDS.get(stage, "reason-given")
    missing = stages.missing_guards(build, stage, note="")
    told = tuple(GUARDS.get(guard, guard) for guard in missing if guard != asked)
    cautions = handover_cautions(build) if stage is Stage.DELIVERED else ()
    still_open: tuple[OpenStep, ...] = ()
    if asked == "steps-done" and asked in missing:
        still_open = _open_steps(build) if tried is None else tried
    asks_note = asked in missing and not still_open
    return NextStage(
        stage.value, _move_word(stage), told, asks_note, _note_label(build, stage), cautions, still_open
    )  # fmt: skip


_NOTE_GUARDS = {
    Stage.FINAL_CHECK: "steps-done",
    Stage.CLOSED: "invoice-or-reason",
    Stage.READY: "serials-recorded",
}


def _note_label(build: Build, stage: Stage) -> str:
    if stage is Stage.READY:
        count = serial_count(serial_lines(build))
        return f"Serials: {count.words}. Which stay open, and who reads them when"
    return "Invoice number, or why there is none" if stage is Stage.CLOSED else "Reason"


def _move_word(stage: Stage) -> str:
    return "Cancel this build" if stage is Stage.CANCELLED else f"Move to {stage.label.lower()}"


@require_POST
def build_move(request: ShopRequest, number: str) -> HttpResponse:
    """Move a build to another stage."""
    check_may(request.user, Action.SEE_BUILDS)
    build = build_named(number)
    to = request.POST.get("to", "")
    if to not in Stage.values:
        raise NotHere("There is no such stage.")
    note = request.POST.get("note", "")
    tried: tuple[OpenStep, ...] = ()
    if to == Stage.FINAL_CHECK:
        check_may(request.user, Action.MOVE_STAGE)
        tried = _open_steps(build, request.POST)
    named = [item for item in tried if not item.never]
    valid = [item.form.is_valid() for item in named]  # each of them, so that every fault is shown at once
    if not all(valid):
        return _stages_page(request, build, tried=tried, status=422)
    items = [OpenItem(step=item.step.key, **item.form.cleaned_data) for item in named]
    try:
        stages.move(build=build, to=Stage(to), by=request.user, at=timezone.now(), note=note, open_items=items)
    except BadInput as error:
        for item in named:
            own = {name: words for name in item.form.fields if (words := error.fields.get(f"{item.step.key} {name}"))}
            if own:
                add_errors(item.form, BuildError(error.message, fields=own))
        return _stages_page(request, build, tried=tried, status=422)
    messages.success(request, f"Build {build.number} is now: {Stage(to).label.lower()}.")
    return redirect(_sheet(build, "changes"))


@require_POST
def build_hold(request: ShopRequest, number: str) -> HttpResponse:
    """Stop a build, naming why and who must act."""
    person = person_who_may(request, Action.SET_HOLD)
    build = build_named(number)
    form = HoldForm(request.POST)
    if form.is_valid():
        try:
            stages.set_hold(build=build, by=person, at=timezone.now(), **form.cleaned_data)
        except BuildError as error:
            add_errors(form, error)
        else:
            messages.success(request, f"Build {build.number} is on hold.")
            return redirect(_sheet(build, "changes"))
    context = _page(build, form, "Put the build on hold", "changes")
    return render(request, "builds/form_page.html", context, status=422)


@require_POST
def build_lift_hold(request: ShopRequest, number: str) -> HttpResponse:
    """Let a build go on."""
    person = person_who_may(request, Action.SET_HOLD)
    build = build_named(number)
    stages.lift_hold(build=build, note=request.POST.get("note", ""), by=person, at=timezone.now())
    messages.success(request, f"Build {build.number} goes on.")
    return redirect(_sheet(build, "changes"))


@require_POST
def build_release(request: ShopRequest, number: str) -> HttpResponse:
    """Fix the working design as the next revision."""
    person = person_who_may(request, Action.RELEASE_REVISION)
    build = build_named(number)
    revision = revisions.release(build=build, summary=request.POST.get("summary", ""), by=person, at=timezone.now())
    messages.success(request, f"Revision {revision.letter} is released. Work starts once it carries an authorisation.")
    return redirect(_sheet(build, "changes"))


@require_http_methods(["GET", "HEAD", "POST"])
def revision_authorise(request: ShopRequest, number: str, letter: str) -> HttpResponse:
    """Write down who allowed a revision to be built."""
    person = person_who_may(request, Action.RECORD_AUTHORISATION)
    build = build_named(number)
    revision = build.revisions.filter(letter=letter).first()
    if revision is None:
        raise NotHere(f"Build {number} has no revision {letter}.")

    def record(values: dict[str, Any]) -> None:
        authorisations.record(revision=revision, by=person, at=timezone.now(), **values)

    context = {
        "title": f"Record the authorisation of revision {letter}",
        "word": "Record the authorisation",
        "why": f"{revision.summary}. Price {money(revision.price_total)}, {hours(float(revision.crew_h))} hours.",
    }
    return _form_page(request, build, AuthorisationForm, record, "changes", context)


@require_http_methods(["GET", "HEAD", "POST"])
def build_override(request: ShopRequest, number: str) -> HttpResponse:
    """Write down why a build goes on in spite of a blocking finding."""
    person = person_who_may(request, Action.OVERRIDE_FINDING)
    build = build_named(number)
    asked = request.POST if request.method == "POST" else request.GET
    names = {"finding": asked.get("finding", ""), "subject": asked.get("subject", "")}
    finding = next(
        (item for item in assess_build(build).blocking if (item.id, item.subject) == tuple(names.values())), None
    )
    if finding is None:
        raise NotHere("This finding is no longer open.")

    def record(values: dict[str, Any]) -> None:
        overrides.record(
            build=build, finding_id=finding.id, subject=finding.subject, by=person, at=timezone.now(), **values
        )

    context = {
        "title": "Override and say why",
        "finding": finding.message,
        "why": "Your name, the day and this reason stay with the build and are printed in its packet.",
        "hidden": names,
    }
    return _form_page(request, build, OverrideForm, record, "findings", context)


def _form_page(
    request: ShopRequest, build: Build, form_class: type[forms.Form], write: Callable[[dict[str, Any]], None],
    anchor: str, context: dict[str, Any],
) -> HttpResponse:  # fmt: skip
    form = form_class(request.POST if request.method == "POST" else None)
    status = 200
    if request.method == "POST":
        if form.is_valid():
            try:
                write(form.cleaned_data)
            except BuildError as error:
                add_errors(form, error)
            else:
                return redirect(_sheet(build, anchor))
        status = 422
    return render(request, "builds/form_page.html", _page(build, form, "", anchor) | context, status=status)


def _page(build: Build, form: forms.Form, title: str, anchor: str) -> dict[str, Any]:
    return {"form": form, "title": title, "back": _sheet(build, anchor), "back_word": f"Build {build.number}"}
