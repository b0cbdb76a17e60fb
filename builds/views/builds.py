"""The job list."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET
from django.views.decorators.vary import vary_on_headers

from builds.forms.build_list import STAGES, STATES, filter_address, wanted_of
from builds.permissions import Action, check_may, may
from builds.selectors.build_list import PAGE_ROWS, BuildFilter, BuildPage, list_builds
from builds.views.requests import ShopRequest

__all__ = ["build_list"]


@require_GET
@vary_on_headers("HX-Request")
def build_list(request: ShopRequest) -> HttpResponse:
    """Show the builds a person looks for, worst first; htmx gets the table alone."""
    check_may(request.user, Action.SEE_BUILDS)
    wanted = wanted_of(request.GET)
    page = list_builds(wanted=wanted, person=request.user, at=timezone.now())
    template = "builds/build_list.html"
    fragment = request.htmx and not request.htmx.history_restore_request and not request.htmx.boosted
    context = {
        "stages": STAGES,
        "states": STATES,
        "wanted": wanted,
        "filtered": wanted != BuildFilter(),
        "page": page,
        "list_address": reverse("build-list"),
        "page_rows": PAGE_ROWS,
        "may_open": may(request.user, Action.OPEN_BUILD),
        "without_customer": filter_address(wanted, customer=None) if wanted.customer else "",
        **_neighbours(wanted, page),
    }
    return render(request, f"{template}#build_table" if fragment else template, context)


def _neighbours(wanted: BuildFilter, page: BuildPage) -> dict[str, str]:
    return {
        "earlier": filter_address(wanted, page=page.page - 1) if page.page > 1 else "",
        "later": filter_address(wanted, page=page.page + 1) if page.more else "",
    }
