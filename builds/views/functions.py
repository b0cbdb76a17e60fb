"""The function schedule of a build: its picture, claims, rules and chart; the text and the form that edit the same thing."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods
from django.views.decorators.vary import vary_on_headers

from builds.engineering.design import Design
from builds.engineering.functions.reports import report_of
from builds.errors import BadInput, NotHere
from builds.permissions import Action, check_may, may
from builds.selectors.build_sheet import Sheet, build_named, read_sheet
from builds.selectors.function_page import function_context
from builds.selectors.function_play import PREFIX, acts_asked, condition_choices, play_view, start_of_claim
from builds.selectors.kept_designs import assessed_design
from builds.selectors.live_strip import strip_figures
from builds.services import design_edits
from builds.services.assessments import assess_build
from builds.services.function_rows import schedule_row
from builds.views.requests import ShopRequest
from builds.views.sheet_pieces import may_edit_design

__all__ = ["condition_setting", "function_chart", "function_page", "function_play"]


@require_GET
@vary_on_headers("HX-Request")
def function_page(request: ShopRequest, number: str) -> HttpResponse:
    """Show the schedule of a build: the picture first, then what was proved and found, then its rules."""
    check_may(request.user, Action.SEE_BUILDS)
    sheet = read_sheet(build_named(number))
    text = sheet.design.function_schedule
    report = report_of(text)
    context = page_context(request, sheet) | function_context(sheet, report, text=text)
    context |= _picture(request, sheet.design)
    return render(request, "builds/function_detail.html", context)


def page_context(request: ShopRequest, sheet: Sheet) -> dict[str, Any]:
    """Return what every page of a build's functions prints at its head."""
    row = schedule_row(sheet.build)
    return {
        "build": sheet.build,
        "sheet": sheet,
        "strip": strip_figures(sheet),
        "may_edit": may_edit_design(request, sheet.build),
        "may_write": may(request.user, Action.WRITE_REGISTER),
        "row_version": row.row_version if row else 0,
        "play_url": reverse("function-play", args=[sheet.build.number]),
        "revisions": list(sheet.build.revisions.order_by("-sequence")[:20]),
        "shop_zone": sheet.zone.key,
    }


def _picture(request: ShopRequest, design: Design) -> dict[str, Any]:
    report = report_of(design.function_schedule)
    if report.compiled is None or not report.compiled.schedule.channels:
        return {"view": None}
    asked = request.GET.dict()
    woken, shown_claim = False, None
    start = start_of_claim(report, asked.get("claim", "")) if asked.get("claim") else None
    if start is not None:
        acts, woken = start
        shown_claim = asked["claim"]
    else:
        acts, woken = acts_asked(report.compiled, asked)
    return {
        "view": play_view(design, report.compiled, acts, asked, woken=woken),
        "shown_claim": shown_claim,
        "condition_choices": list(condition_choices(report.compiled, design.conditions)),
    }


@require_GET
@vary_on_headers("HX-Request")
def function_play(request: ShopRequest, number: str) -> HttpResponse:
    """Answer a toggle, a wait or a step with the controls, the picture and its words."""
    check_may(request.user, Action.SEE_BUILDS)
    build = build_named(number)
    if not request.htmx:
        return redirect(f"{reverse('function-detail', args=[number])}?{request.GET.urlencode()}")
    context = _picture(request, assessed_design(build)[0])
    if context["view"] is None:
        raise NotHere("This build has no function schedule that can be played.")
    context["play_url"] = reverse("function-play", args=[number])
    return render(request, "builds/_partials/function_play.html#play", context)


@require_GET
def function_chart(request: ShopRequest, number: str) -> HttpResponse:
    """Show what every control does, by control, for whoever drives."""
    check_may(request.user, Action.SEE_BUILDS)
    sheet = read_sheet(build_named(number))
    text = sheet.design.function_schedule
    context = page_context(request, sheet) | function_context(sheet, report_of(text), text=text)
    return render(request, "builds/function_chart.html", context)


@require_http_methods(["POST"])
def condition_setting(request: ShopRequest, number: str) -> HttpResponse:
    """Keep the setting that the picture shows as that of an operating condition."""
    check_may(request.user, Action.EDIT_DESIGN)
    build = build_named(number)
    compiled = report_of(read_sheet(build).design.function_schedule).compiled
    if compiled is None:
        raise NotHere("This build has no function schedule.")
    key = request.POST.get("condition", "")
    if not any(name.startswith(PREFIX) for name in request.POST):
        raise BadInput({"condition": "Bring the picture to the setting first, then keep it."})
    acts, _ = acts_asked(compiled, {name: value for name, value in request.POST.dict().items() if name != "past"})
    row = build.conditions.filter(key=key).first()
    if row is None:
        raise BadInput({"condition": "Choose an operating condition of this build."})
    settings = [{"input": name, "value": value} for name, value in acts[-1].setting.away]
    design_edits.edit_row(
        build=build, family="condition", key=key, values={"input_settings": settings}, row_version=row.row_version,
        by=request.user, at=timezone.now(),
    )  # fmt: skip
    assess_build(build)
    return redirect(f"{reverse('function-detail', args=[number])}#conditions")
