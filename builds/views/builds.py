"""The job list."""

from dataclasses import dataclass
from functools import lru_cache

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString
from django.views.decorators.http import require_GET
from django.views.decorators.vary import vary_on_headers

from builds.forms.build_list import BuildFilterForm
from builds.permissions import Action, check_may, may
from builds.selectors.build_list import PAGE_ROWS, BuildFilter, BuildPage, BuildRow, list_builds
from builds.templatetags.figures import ladder, match
from builds.templatetags.shapes import state

__all__ = ["build_list"]

# A ladder, a match and a state are the same picture wherever their words are the same: drawn once, then kept.
_ladder = lru_cache(maxsize=64)(ladder)
_match = lru_cache(maxsize=64)(match)
_state = lru_cache(maxsize=1024)(state)


@dataclass(frozen=True, slots=True)
class ShownRow:
    """One row of the list, everything in it ready to print."""

    address: str
    number: str
    customer: int
    buyer: str
    title: str
    unit: str
    ladder: SafeString
    match: SafeString
    state: SafeString
    promised: str
    who_acts: str
    steps: str


@require_GET
@vary_on_headers("HX-Request")
def build_list(request: HttpRequest) -> HttpResponse:
    """Show the builds a person looks for, worst first; htmx gets the table alone."""
    check_may(request.user, Action.SEE_BUILDS)
    form = BuildFilterForm(request.GET)
    wanted = form.wanted()
    page = list_builds(wanted=wanted, person=request.user, at=timezone.now())
    template = "builds/build_list.html"
    fragment = request.htmx and not request.htmx.history_restore_request and not request.htmx.boosted
    context = {
        "form": form,
        "wanted": wanted,
        "filtered": wanted != BuildFilter(),
        "page": page,
        "rows": [_shown(row) for row in page.rows],
        "page_rows": PAGE_ROWS,
        "may_open": may(request.user, Action.OPEN_BUILD),
        "without_customer": form.address(customer=None),
        **_neighbours(form, page),
    }
    return render(request, f"{template}#build_table" if fragment else template, context)


def _neighbours(form: BuildFilterForm, page: BuildPage) -> dict[str, str]:
    return {
        "earlier": form.address(page=page.page - 1) if page.page > 1 else "",
        "later": form.address(page=page.page + 1) if page.more else "",
    }


def _shown(row: BuildRow) -> ShownRow:
    return ShownRow(
        address=reverse("build-detail", args=[row.number]),
        number=row.number,
        customer=row.customer,
        buyer=row.buyer,
        title=row.title,
        unit=row.unit or "–",
        ladder=_ladder(row.stage, row.on_hold),
        match=_match(row.vehicle_here, row.parts_here, row.gear_here),
        state=_state(row.standing.state, row.standing.words),
        promised=row.promised_on.strftime("%a %-d %b") if row.promised_on else "not promised",
        who_acts=row.standing.who_acts,
        steps=row.steps or "–",
    )
