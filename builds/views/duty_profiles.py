"""A duty profile over time: charge, voltage and currents as plots, in words and in a table."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from builds.permissions import Action, check_may
from builds.selectors.build_sheet import build_named
from builds.selectors.duty_page import duty_page
from builds.selectors.engineering_inputs import design_of
from builds.selectors.sheet_findings import row_id
from builds.views.requests import ShopRequest
from builds.views.row_edits import part_of

__all__ = ["duty_profile"]


@require_GET
def duty_profile(request: ShopRequest, number: str, key: str) -> HttpResponse:
    """Show one profile of a working design as it is simulated."""
    check_may(request.user, Action.SEE_BUILDS)
    build = build_named(number)
    design = design_of(build)
    profile = part_of(design, "duty", key)
    context = {
        "build": build,
        "profile": profile,
        "duty": duty_page(design, key),
        "back": f"{reverse('build-detail', args=[number])}#{row_id(f'duty:{key}')}",
    }
    return render(request, "builds/duty_profile.html", context)
