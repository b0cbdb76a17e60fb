"""The checklist on a phone: the list of steps, one step at a time, a hold point signed."""

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from builds.drawings.reading_setups import draw_setup
from builds.engineering.vocabulary import HoldSigner
from builds.errors import BuildError, NotHere
from builds.forms.floor import ClockOnForm, PhotoForm, SignForm, TickForm
from builds.models import Build, ChecklistStep, Person, TimeEntry
from builds.permissions import Action, may
from builds.selectors import checklist as read
from builds.selectors.match import match_of
from builds.selectors.readings import (
    asks_supply_voltage,
    backward_words,
    limit_words,
    needs_instrument,
    needs_supply_voltage,
    scale_of,
    shown,
)
from builds.services import checklists, hold_points, ticks
from builds.services.step_results import DONE
from builds.services.time_entries import INSPECTION, open_entry, work_words
from builds.services.work_guards import missing_for
from builds.views.acting import person_who_may
from builds.views.responses import add_errors
from builds.views.shop_clock import render_on_shop_clock

__all__ = ["checklist", "checklist_make", "checklist_step", "hold_sign", "step_tick"]

_PLAIN_HOSTS = ("localhost", "127.0.0.1", "[::1]")


@require_GET
def checklist(request: HttpRequest, number: str) -> HttpResponse:
    """Show every step of a build by phase."""
    person = person_who_may(request, Action.SEE_BUILDS)
    build = found_build(number)
    steps = read.checklist_of(build)
    context = floor_context(request, build) | {
        "checklist": steps,
        "ruler": steps.ruler(),
        "next": steps.next_open(),
        "match": match_of(build),
        "may_make": may(person, Action.MAKE_STEPS),
        "authorised": checklists.authorised_revision(build),
    }
    return render_on_shop_clock(request, "builds/checklist_list.html", context)


@require_POST
def checklist_make(request: HttpRequest, number: str) -> HttpResponse:
    """Make the checklist from the authorised revision, or bring it up to that."""
    person = person_who_may(request, Action.MAKE_STEPS)
    build = found_build(number)
    made = checklists.make_steps(build=build, by=person, at=timezone.now())
    messages.success(
        request,
        f"Checklist of revision {made.revision.letter}: {made.steps} steps, {made.added} new, {made.reopened} open again, "
        f"{made.retired} no longer asked for.",
    )
    return redirect("checklist", number=build.number)


@require_GET
def checklist_step(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Show one step."""
    person = person_who_may(request, Action.SEE_BUILDS)
    step = found_step(number, pk)
    return _step_page(request, step, person, SignForm() if step.is_hold_point else TickForm())


@require_POST
def step_tick(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Keep what was found at a step, and go on to the next; what cannot stand comes back with words at its field."""
    person = person_who_may(request, Action.TICK_STEP)
    step = found_step(number, pk)
    form = TickForm(request.POST)
    if not form.is_valid():
        return _step_page(request, step, person, form, status=422)
    now = timezone.now()
    try:
        tick = ticks.record(
            step=step, found=form.outcome(scale_of(step)), event_id=form.cleaned_data["event_id"], by=person, at=form.at(now),
            received_at=now, device=form.cleaned_data["device"], device_sequence=form.cleaned_data["device_sequence"],
        )  # fmt: skip
    except BuildError as error:
        return _refused(request, step, person, form, error)
    return _go_on(step, kept=str(tick.event_id))


@require_POST
def hold_sign(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Sign a hold point, or send back what it covers."""
    person = person_who_may(request, Action.SIGN_HOLD_POINT)
    step = found_step(number, pk)
    form = SignForm(request.POST)
    if not form.is_valid():
        return _step_page(request, step, person, form, status=422)
    try:
        signature = hold_points.sign(
            step=step, passed=form.cleaned_data["passed"], basis=hold_points.signer_of(step.build), by=person,
            event_id=form.cleaned_data["event_id"], at=timezone.now(), remark=form.cleaned_data["remark"],
        )  # fmt: skip
    except BuildError as error:
        return _refused(request, step, person, form, error)
    return _go_on(step, kept=str(signature.event_id))


def _refused(
    request: HttpRequest, step: ChecklistStep, person: Person, form: TickForm | SignForm, error: BuildError
) -> HttpResponse:
    add_errors(form, error)
    step.refresh_from_db(fields=["result", "result_at", "result_by"])
    return _step_page(request, step, person, form, status=error.status)


def _go_on(step: ChecklistStep, *, kept: str) -> HttpResponse:
    """Go to the next step that is open; ``kept`` tells the page which entry need not be held any longer."""
    steps = read.checklist_of(step.build)
    here = steps.line_of(step)
    following = steps.next_open(after=here.number if here else 0)
    if following is None or following.step.pk == step.pk:
        address = reverse("checklist", args=[step.build.number])
    else:
        address = reverse("checklist-step", args=[step.build.number, following.step.pk])
    return redirect(f"{address}?{urlencode({'kept': kept})}")


def _step_page(
    request: HttpRequest, step: ChecklistStep, person: Person, form: TickForm | SignForm, *, status: int = 200
) -> HttpResponse:
    steps = read.checklist_of(step.build)
    line = steps.line_of(step)
    context = floor_context(request, step.build) | {
        "step": step,
        "line": line,
        "checklist": steps,
        "ruler": steps.ruler(line),
        "next": steps.next_open(after=line.number) if line else None,
        "form": form,
        "photos": read.photos_of_step(step),
        "photo_form": PhotoForm(),
        "open_before": steps.open_before(step),
        **_clock_context(step, person),
        **(_hold_context(step, person) if step.is_hold_point else _tick_context(step, person)),
    }
    return render_on_shop_clock(request, "builds/step_detail.html", context, status=status)


def _tick_context(step: ChecklistStep, person: Person) -> dict[str, Any]:
    return {
        "setup": draw_setup(step.key, step.subject),
        "ticks": read.ticks_of_step(step),
        "holds": step.covered_by.filter(retired=False, is_hold_point=True),
        "may_tick": may(person, Action.TICK_STEP),
        "missing": missing_for(step),
        "asks_voltage": step.asks_reading and asks_supply_voltage(step),
        "needs_voltage": needs_supply_voltage(step),
        "needs_instrument": needs_instrument(step),
        "limits": limit_words(step),
        "reading": _reading_context(step),
        "calculated": None if step.reading_calculated is None else shown(step, step.reading_calculated),
    }


def _is_clock_here(running: TimeEntry, step: ChecklistStep) -> bool:
    """Whether someone's open entry is on this step; at a hold point it is the inspection of its build."""
    if step.is_hold_point:
        return running.build_id == step.build_id and running.operation_key == INSPECTION
    return running.step_id == step.pk


def _reading_context(step: ChecklistStep) -> dict[str, str]:
    """The unit a reading is typed in, its limits in that unit, and what one below nothing means."""
    scale = scale_of(step)
    limits = {"least": step.reading_min, "most": step.reading_max, "lost": step.reading_lost_max_v}
    figures = {
        name: "" if limit is None else scale.figure(limit, step.reading_decimals) for name, limit in limits.items()
    }
    return {"unit": scale.unit, "backward": backward_words(step), **figures}


def _hold_context(step: ChecklistStep, person: Person) -> dict[str, Any]:
    signer = hold_points.signer_of(step.build)
    covered = list(step.covers.filter(retired=False))
    closed = [item for item in covered if item.result in DONE]
    return {
        "signed_as": read.SIGNED_AS[signer],
        "signatures": [(item, read.SIGNED_AS[HoldSigner(item.basis)]) for item in read.signatures_of(step)],
        "covered": covered,
        "closed": closed,
        "still_open": [item for item in covered if item not in closed],
        "may_sign": may(person, Action.SIGN_HOLD_POINT),
        "not_possible": hold_points.why_not(step, person, signer, had_a_hand=read.had_a_hand(step, person)),
    }


def _clock_context(step: ChecklistStep, person: Person) -> dict[str, Any]:
    running = open_entry(person) if may(person, Action.CLOCK_TIME) else None
    return {
        "may_clock": may(person, Action.CLOCK_TIME),
        "clock": running,
        "clock_words": work_words(running) if running else "",
        "clock_is_here": running is not None and _is_clock_here(running, step),
        "clock_form": ClockOnForm(),
    }


def found_build(number: str) -> Build:
    """Return a build by its number. Raises NotHere."""
    build = read.find_build(number)
    if build is None:
        raise NotHere(f"There is no build {number[:20]}.")
    return build


def found_step(number: str, pk: int) -> ChecklistStep:
    """Return a step of a build. Raises NotHere, also for another build's step."""
    build = found_build(number)
    step = read.find_step(build, pk)
    if step is None:
        raise NotHere(f"Build {build.number} has no such step.")
    return step


def floor_context(request: HttpRequest, build: Build) -> dict[str, Any]:
    """Return what the head of every floor page needs."""
    host = request.get_host().rsplit(":", 1)[0]
    return {
        "build": build,
        "place": read.place_words(build),
        "revision": read.revision_words(build),
        "kept": request.GET.get("kept", ""),
        # Browsers let a page work offline only over HTTPS or on the very machine that serves it.
        "offline_possible": request.is_secure() or host in _PLAIN_HOSTS,
    }
