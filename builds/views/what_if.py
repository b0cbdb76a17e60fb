"""What if: a few figures taken to be others, what the strip and the findings would say, and then kept or left."""

from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from builds.engineering.errors import EngineeringError
from builds.errors import BadInput, NotHere, StaleRow
from builds.forms.what_if import (
    MOST_ASSUMPTIONS,
    Assumption,
    AssumptionForm,
    read_assumptions,
    subjects_of,
    values_by_family,
)
from builds.models import Build
from builds.permissions import Action, check_may
from builds.selectors.build_sheet import Sheet, build_named, read_sheet
from builds.selectors.design_difference import Difference, sheet_difference, sheet_with
from builds.selectors.part_difference import PartDifference, part_differences
from builds.selectors.row_preview import design_with_rows
from builds.selectors.table_results import row_versions
from builds.services import design_edits
from builds.services.assessments import assess_build
from builds.services.design_edits import Step
from builds.views.requests import ShopRequest
from builds.views.sheet_pieces import may_edit_design

__all__ = ["what_if", "what_if_keep"]

_PAGE = "builds/what_if.html"


@require_GET
@vary_on_headers("HX-Request")
def what_if(request: ShopRequest, number: str) -> HttpResponse:
    """Show what would differ; ``?if=circuit:203 gauge 12`` as often as wanted, ``what``, ``figure``, ``becomes`` add one."""
    check_may(request.user, Action.SEE_BUILDS)
    sheet = read_sheet(build_named(number))
    assumptions, left_out = read_assumptions(sheet.design, request.GET.getlist("if"))
    form = AssumptionForm(sheet.design)
    if "what" in request.GET:
        form = AssumptionForm(sheet.design, request.GET)
        if form.is_valid() and form.assumption is not None:
            assumptions = [*(item for item in assumptions if _place(item) != _place(form.assumption)), form.assumption]
            form = AssumptionForm(sheet.design)
    response = _show(request, sheet, assumptions, form=form, said=left_out)
    if request.htmx and not form.errors:
        response["HX-Push-Url"] = _address(sheet.build, assumptions)
    return response


def _place(item: Assumption) -> tuple[str, str]:
    return item.subject, item.field


def _address(build: Build, assumptions: list[Assumption]) -> str:
    query = urlencode({"if": [item.text for item in assumptions]}, doseq=True)
    return reverse("what-if", args=[build.number]) + (f"?{query}" if query else "")


def _show(
    request: ShopRequest, sheet: Sheet, assumptions: list[Assumption], *, form: AssumptionForm, said: list[str],
    status: int = 200,
) -> HttpResponse:  # fmt: skip
    difference: Difference | None = None
    parts: tuple[PartDifference, ...] = ()
    try:
        if assumptions:
            changed = _sheet_if(sheet, assumptions)
            difference = sheet_difference(sheet, changed)
            parts = part_differences(sheet, changed, (item.subject for item in assumptions))
    except EngineeringError as error:
        said = [*said, str(error)]
    build = sheet.build
    context = {
        "build": build,
        "assumptions": [(item, _without(build, assumptions, item)) for item in assumptions],
        "versions": _versions(build, assumptions),
        "form": form,
        "said": said,
        "difference": difference,
        "parts": parts,
        "things": subjects_of(sheet.design),
        "may_edit": may_edit_design(request, build),
        "full": len(assumptions) >= MOST_ASSUMPTIONS,
    }
    return render(request, f"{_PAGE}#work" if request.htmx else _PAGE, context, status=status)


def _sheet_if(sheet: Sheet, assumptions: list[Assumption]) -> Sheet:
    design = sheet.design
    for family, rows in values_by_family(assumptions).items():
        design = design_with_rows(design, family, rows)
    return sheet_with(sheet, design)


def _without(build: Build, assumptions: list[Assumption], item: Assumption) -> str:
    return _address(build, [other for other in assumptions if other is not item])


def _versions(build: Build, assumptions: list[Assumption]) -> list[tuple[str, int]]:
    """Return the version of each row that is touched, so that keeping says so where someone else was faster."""
    known = {family: row_versions(build, family) for family in {item.family for item in assumptions}}
    return sorted({(item.subject, known[item.family].get(item.key, 0)) for item in assumptions})


@require_POST
def what_if_keep(request: ShopRequest, number: str) -> HttpResponse:
    """Keep all assumptions as one edit."""
    check_may(request.user, Action.EDIT_DESIGN)
    build = build_named(number)
    sheet = read_sheet(build)
    assumptions, left_out = read_assumptions(sheet.design, request.POST.getlist("if"))
    if not assumptions or left_out:
        raise NotHere(left_out[0] if left_out else "Nothing is assumed, so there is nothing to keep.")
    steps = [
        Step(family=family, key=key, values=values, row_version=_sent_version(request, f"{family}:{key}"))
        for family, rows in values_by_family(assumptions).items()
        for key, values in rows.items()
    ]
    label = "; ".join(item.words for item in assumptions)
    try:
        design_edits.make_steps(build=build, steps=steps, label=label, by=request.user, at=timezone.now())
    except (BadInput, StaleRow) as error:
        said = [f"{error.message} The figures below are of the build as it is now; keep again to set yours."]
        fresh = read_sheet(build_named(number))
        return _show(request, fresh, assumptions, form=AssumptionForm(fresh.design), said=said, status=error.status)
    assess_build(build)
    response: Any = redirect(f"{reverse('build-detail', args=[number])}#changes")
    return response


def _sent_version(request: ShopRequest, subject: str) -> int:
    sent = request.POST.get(f"version-{subject}", "")
    return int(sent) if sent.isdecimal() and len(sent) < 10 else 0
