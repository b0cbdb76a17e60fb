"""Which loads are on in an operating condition."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from builds.engineering.design import Design, OperatingCondition
from builds.engineering.functions.coupling import condition_setting, uses_by_rules
from builds.engineering.functions.reports import report_of
from builds.engineering.functions.words import setting_words
from builds.errors import BadInput, StaleRow
from builds.forms.design_rows import document_value
from builds.forms.fields import PercentField
from builds.models import Build
from builds.permissions import Action, check_may
from builds.selectors.build_sheet import build_named
from builds.selectors.engineering_inputs import design_of
from builds.selectors.flash_rows import flash_rows
from builds.selectors.sheet_findings import row_id
from builds.services import design_edits
from builds.services.assessments import assess_build
from builds.views.requests import ShopRequest
from builds.views.row_edits import part_of, version_of
from builds.views.sheet_pieces import may_edit_design

__all__ = ["condition_loads"]


@dataclass(slots=True)
class LoadChoice:
    """A load that may be on: whether it is, at which duty of its own, and what is wrong with what was typed."""

    key: str
    name: str
    circuit: str
    usual: str
    on: bool
    duty: str
    fault: str = ""


@require_http_methods(["GET", "HEAD", "POST"])
def condition_loads(request: ShopRequest, number: str, key: str) -> HttpResponse:
    """Show every load with whether it is on in a condition; keep what was changed."""
    check_may(request.user, Action.SEE_BUILDS)
    build = build_named(number)
    design = design_of(build)
    condition = part_of(design, "condition", key)
    said = ""
    if request.method == "POST":
        check_may(request.user, Action.EDIT_DESIGN)
        choices = _sent(request, design)
        if not any(choice.fault for choice in choices):
            try:
                _keep(request, build, key, choices)
            except StaleRow as error:
                said = f"{error.message} Look through the list again, then keep."
            except BadInput as error:
                said = error.message
            else:
                return redirect(f"{reverse('build-detail', args=[number])}#{row_id(f'condition:{key}')}")
    else:
        on = {use.load: use.duty_ratio for use in condition.uses}
        choices = [_choice(load, load.key in on, _shown(on.get(load.key))) for load in design.loads]
    faulty = bool(said) or any(choice.fault for choice in choices)
    context = {
        "build": build,
        "condition": condition,
        "flashes": flash_rows(design, condition),
        "groups": _groups(design, choices),
        "row_version": version_of(build, "condition", key),
        "said": said,
        "by_rules": _by_rules(design, condition),
        "may_edit": may_edit_design(request, build),
        "back": f"{reverse('build-detail', args=[number])}#{row_id(f'condition:{key}')}",
    }
    return render(request, "builds/condition_loads.html", context, status=422 if faulty else 200)


def _by_rules(design: Design, condition: OperatingCondition) -> str:
    """Say where the rules of the function schedule say what is on; empty where the condition sets no inputs."""
    compiled = report_of(design.function_schedule).compiled
    if compiled is None or not condition.input_settings:
        return ""
    lit = {use.load for use in uses_by_rules(design.function_schedule, condition)}
    names = [load.name for load in design.loads if load.key in lit]
    return f"{setting_words(condition_setting(compiled, condition))}: {', '.join(names) or 'nothing'}"


def _choice(load: Any, on: bool, duty: str, fault: str = "") -> LoadChoice:
    usual = "steady" if load.duty_ratio == 1 else f"{load.duty_ratio * 100:g} % lit"
    return LoadChoice(load.key, load.name, load.circuit, usual, on, duty, fault)


def _shown(ratio: float | None) -> str:
    return "" if ratio is None else PercentField(least=0.0001, most=1).shown(Decimal(repr(ratio)))


def _sent(request: ShopRequest, design: Design) -> list[LoadChoice]:
    on = set(request.POST.getlist("on"))
    return [_sent_choice(request, load, load.key in on) for load in design.loads]


def _sent_choice(request: ShopRequest, load: Any, on: bool) -> LoadChoice:
    duty = request.POST.get(f"duty-{load.key}", "").strip()
    fault = ""
    if on and duty:
        try:
            PercentField(least=0.0001, most=1, required=False).clean(duty)
        except ValidationError as error:
            fault = error.messages[0]
    return _choice(load, on, duty, fault)


def _keep(request: ShopRequest, build: Build, key: str, choices: list[LoadChoice]) -> None:
    field = PercentField(least=0.0001, most=1, required=False)
    uses = []
    for choice in choices:
        if choice.on:
            duty = document_value(field.clean(choice.duty))
            uses.append({"load": choice.key} | ({} if duty is None else {"duty_ratio": duty}))
    sent = request.POST.get("row_version", "")
    version = int(sent) if sent.isdecimal() and len(sent) < 10 else 0
    design_edits.edit_row(
        build=build, family="condition", key=key, values={"uses": uses}, row_version=version, by=request.user,
        at=timezone.now(),
    )  # fmt: skip
    assess_build(build)


def _groups(design: Design, choices: list[LoadChoice]) -> list[tuple[str, list[LoadChoice]]]:
    """Return the loads by panel, in the order of the panels."""
    panels = {circuit.number: circuit.panel for circuit in design.circuits}
    names = {node.key: node.name for node in design.nodes}
    groups: dict[str, list[LoadChoice]] = {}
    for choice in choices:
        groups.setdefault(panels.get(choice.circuit, ""), []).append(choice)
    return [(f"{panel} {names.get(panel, '')}".strip() or "No panel", found) for panel, found in sorted(groups.items())]
