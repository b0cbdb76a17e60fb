"""Proposed sizes of a build: looked through, tried, and applied one by one or together."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from builds.engineering.changes import apply_changes
from builds.engineering.proposing import SizingProposal, changes_of, propose
from builds.errors import BadInput, StaleRow
from builds.models import Build
from builds.permissions import Action, check_may
from builds.selectors.build_sheet import Sheet, build_named, read_sheet
from builds.selectors.design_difference import Difference, difference_words, sheet_difference, sheet_with
from builds.selectors.sizing_rows import size_groups
from builds.services.assessments import assess_build
from builds.services.sizing import apply_sizes
from builds.views.requests import ShopRequest
from builds.views.sheet_pieces import may_edit_design

__all__ = ["build_sizes"]

_PAGE = "builds/build_sizes.html"


@require_http_methods(["GET", "HEAD", "POST"])
def build_sizes(request: ShopRequest, number: str) -> HttpResponse:
    """Show what every conductor and device ought to be; ``do=try`` says what the chosen would do, ``do=apply`` keeps them."""
    check_may(request.user, Action.SEE_BUILDS)
    build = build_named(number)
    if request.method != "POST":
        return _show(request, read_sheet(build))
    check_may(request.user, Action.EDIT_DESIGN)
    if request.POST.get("do") == "try":
        return _try(request, read_sheet(build))
    return _apply(request, build)


def _show(
    request: ShopRequest, sheet: Sheet, *, chosen: frozenset[str] | None = None, said: str = "", status: int = 200,
    more: Mapping[str, Any] | None = None,
) -> HttpResponse:  # fmt: skip
    proposals = propose(sheet.design)
    context = {
        "build": sheet.build,
        "groups": size_groups(sheet, proposals, chosen),
        "changing": sum(1 for proposal in proposals if proposal.stands and proposal.changes),
        "design_version": sheet.build.design_version,
        "may_edit": may_edit_design(request, sheet.build),
        "said": said,
        "back": f"{reverse('build-detail', args=[sheet.build.number])}#circuits",
        **(more or {}),
    }
    return render(request, _PAGE, context, status=status)


def _chosen(request: ShopRequest) -> frozenset[str] | None:
    """What was ticked; None where all were asked for; the one row whose own button was pressed."""
    if request.POST.get("only"):
        return frozenset([request.POST["only"]])
    return None if request.POST.get("do") == "apply-all" else frozenset(request.POST.getlist("subject"))


def _try(request: ShopRequest, sheet: Sheet) -> HttpResponse:
    proposals, chosen = propose(sheet.design), _chosen(request) or frozenset()
    says = _says(sheet, proposals, chosen)
    if request.htmx:
        return render(request, f"{_PAGE}#says", says)
    return _show(request, sheet, chosen=chosen, more=says)


def _says(sheet: Sheet, proposals: tuple[SizingProposal, ...], chosen: frozenset[str]) -> dict[str, Any]:
    changes = changes_of(proposals, chosen)
    if not changes:
        return {"tried": True, "words": [], "new": [], "gone": []}
    after = sheet_with(sheet, apply_changes(sheet.design, changes))
    difference: Difference = sheet_difference(sheet, after)
    copper_kg = sum(proposal.copper_kg for proposal in proposals if proposal.stands and proposal.subject in chosen)
    measures = sheet.measures
    words = difference_words(difference)
    if abs(measures.mass(copper_kg)) >= 0.05:
        words.append(
            f"Copper of the conductors: {measures.mass(copper_kg):+.1f} {measures.mass_unit}".replace("-", "−")
        )
    return {"tried": True, "words": words, "new": difference.new, "gone": difference.gone, "count": len(chosen)}


def _apply(request: ShopRequest, build: Build) -> HttpResponse:
    sent = request.POST.get("design_version", "")
    version = int(sent) if sent.isdecimal() and len(sent) < 10 else 0
    chosen = _chosen(request)
    try:
        batch = apply_sizes(build=build, subjects=chosen, design_version=version, by=request.user, at=timezone.now())
    except StaleRow as error:
        return _show(request, read_sheet(build_named(build.number)), chosen=chosen, said=error.message, status=409)
    except BadInput as error:
        return _show(request, read_sheet(build), chosen=chosen, said=error.message, status=422)
    assess_build(build)
    messages.success(request, f"{batch.words[0].upper()}{batch.words[1:]}. Undo stands in section 10 of the sheet.")
    return redirect("build-sizes", build.number)
