"""Two function schedules compared by what they do: the working one against a revision, or against another build's."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from builds.engineering.design import Design
from builds.engineering.functions.comparing import compare_schedules
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.reports import report_of
from builds.errors import NotHere
from builds.models import Build
from builds.permissions import Action, check_may
from builds.selectors.build_sheet import build_named
from builds.selectors.engineering_inputs import design_of
from builds.services.revisions import design_of_revision
from builds.views.requests import ShopRequest

__all__ = ["function_compare"]


@require_GET
def function_compare(request: ShopRequest, number: str) -> HttpResponse:
    """Show where the working schedule of a build does something else than another one."""
    check_may(request.user, Action.SEE_BUILDS)
    build = build_named(number)
    revisions = list(build.revisions.select_related("document").order_by("-sequence")[:20])
    chosen, other = request.GET.get("with", ""), request.GET.get("build", "").strip()
    context = {
        "build": build,
        "choices": [(revision.letter, f"revision {revision.letter}") for revision in revisions]
        or [("", "no revision yet")],
        "chosen": chosen,
        "other": other,
    }
    if other or chosen:
        try:
            name, design = _other(build, chosen, other)
            result = compare_schedules(
                _compiled(design_of(build), build.number).schedule, _compiled(design, name).schedule
            )
            context |= {"result": result, "other_name": name}
        except NotHere as error:
            context["said"] = error.message
    return render(request, "builds/function_compare.html", context)


def _other(build: Build, letter: str, number: str) -> tuple[str, Design]:
    if number:
        return f"Build {number}", design_of(build_named(number))
    revision = build.revisions.filter(letter=letter).select_related("document").first()
    if revision is None:
        raise NotHere(f"Build {build.number} has no revision {letter}.")
    return f"Revision {letter}", design_of_revision(revision)


def _compiled(design: Design, name: str) -> CompiledSchedule:
    compiled = report_of(design.function_schedule).compiled
    if compiled is None or not compiled.schedule.channels:
        raise NotHere(f"{name} has no function schedule that can be compared.")
    return compiled
