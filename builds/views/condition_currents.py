"""What flows in an operating condition, and over which run each load loses its volts."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from builds.permissions import Action, check_may
from builds.selectors.build_sheet import build_named
from builds.selectors.condition_currents import currents_page
from builds.selectors.kept_designs import working_design
from builds.selectors.sheet_findings import row_id
from builds.views.requests import ShopRequest
from builds.views.row_edits import part_of

__all__ = ["condition_currents"]


@require_safe
def condition_currents(request: ShopRequest, number: str, key: str) -> HttpResponse:
    """Show sources, runs and loads of a condition at its lowest voltage; "?load=" splits the drop of one."""
    check_may(request.user, Action.SEE_BUILDS)
    build = build_named(number)
    design = working_design(build)
    condition = part_of(design, "condition", key)
    context = {
        "build": build,
        "condition": condition,
        "currents": currents_page(design, key, request.GET.get("load", "")),
        "back": f"{reverse('build-detail', args=[number])}#{row_id(f'condition:{key}')}",
    }
    return render(request, "builds/condition_currents.html", context)
