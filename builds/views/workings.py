"""How a figure of a build came about, on a page of its own or in the panel over the sheet."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET
from django.views.decorators.vary import vary_on_headers

from builds.engineering.errors import EngineeringError
from builds.engineering.explaining import explain
from builds.engineering.explaining.printed import printed_working
from builds.errors import NotHere
from builds.permissions import Action, check_may
from builds.selectors.build_sheet import build_named
from builds.selectors.kept_designs import assessed_design
from builds.views.requests import ShopRequest

__all__ = ["build_working"]

_PAGE = "builds/build_working.html"
# What else stands beside a figure of a circuit, a run or a condition, in the order of the work.
_BESIDE = {
    "circuit": (
        ("mean", "Mean"), ("continuous", "Continuous"), ("peak", "Peak"), ("drop", "Drop"), ("ampacity", "Ampacity"),
        ("margin", "Margin over its device"), ("loading", "Device loading"), ("short", "Short at its device"),
        ("far-end", "Short at its far end"), ("gauge", "Proposed pair"),
    ),
    "run": (
        ("continuous", "Continuous"), ("peak", "Peak"), ("drop", "Drop"), ("ampacity", "Ampacity"),
        ("margin", "Margin over its device"), ("loading", "Device loading"), ("short", "Short at its device"),
        ("gauge", "Proposed pair"),
    ),
    "condition": (
        ("mean", "Mean"), ("rms", "RMS"), ("peak", "Peak"), ("source", "Source left"), ("battery", "Battery time"),
        ("lowest", "Lowest voltage"),
    ),
    "panel": (("continuous", "Continuous"), ("feed-drop", "Feed drop")),
    "alternator": (("idle", "Hot at idle"), ("speed", "Hot at speed")),
    "duty": (("lowest", "Lowest charge"), ("start", "Starting the engine")),
    "case": (
        ("front", "Front axle"), ("rear", "Rear axle"), ("left", "Left wheels"), ("right", "Right wheels"), ("together", "Together"),
    ),
}  # fmt: skip


@require_GET
@vary_on_headers("HX-Request")
def build_working(request: ShopRequest, number: str, kind: str, name: str = "") -> HttpResponse:
    """Show the working of one figure; htmx gets it alone."""
    check_may(request.user, Action.SEE_BUILDS)
    build = build_named(number)
    design, assessment = assessed_design(build)
    try:
        working = explain(design, f"{kind}:{name}" if name else kind, assessment)
    except EngineeringError as error:
        raise NotHere("This figure has no working: there is nothing it could be computed from.") from error
    context = {
        "build": build,
        "working": printed_working(working, design.conventions.units),
        "beside": _beside(build.number, kind, name),
        "back": reverse("build-detail", args=[build.number]),
    }
    page = f"{_PAGE}#working" if request.htmx and not request.htmx.boosted else _PAGE
    return render(request, page, context)


def _beside(number: str, kind: str, name: str) -> list[tuple[str, str, bool]]:
    """The address and the word of each figure beside this one, and whether it is this one."""
    family, _, own = kind.partition("-")
    if not name:
        return []
    return [
        (reverse("row-working", args=[number, f"{family}-{other}", name]), words, other == own)
        for other, words in _BESIDE.get(family, ())
    ]
