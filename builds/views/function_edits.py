"""Editing a function schedule: the whole text with its faults, one statement field by field or as its line."""

import re
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from builds.engineering.functions.faults import LanguageFault
from builds.engineering.functions.reports import report_of
from builds.engineering.functions.rewriting import as_typed, statement_texts
from builds.errors import NotHere, StaleRow
from builds.forms.function_groups import GivenForm, SetForm
from builds.forms.function_parts import ChannelForm, ClaimForm, HeadForm, InputForm
from builds.forms.function_patterns import PatternForm, changed_rows
from builds.forms.functions import RuleForm, StatementForm
from builds.models import Build, Person
from builds.permissions import Action
from builds.selectors.build_sheet import build_named, read_sheet
from builds.selectors.pattern_figures import limit_rows, pattern_figures
from builds.services.assessments import assess_build
from builds.services.function_rows import schedule_row
from builds.services.function_schedules import ScheduleRefused, edit_statement, replace_schedule
from builds.views.acting import person_who_may
from builds.views.functions import page_context
from builds.views.requests import ShopRequest

__all__ = ["function_statement", "function_text"]

FieldForm = RuleForm | InputForm | ChannelForm | HeadForm | ClaimForm | PatternForm | SetForm | GivenForm
_FORMS: dict[str, Any] = {
    "rule": RuleForm, "input": InputForm, "channel": ChannelForm, "head": HeadForm, "claim": ClaimForm,
    "pattern": PatternForm, "set": SetForm, "given": GivenForm,
}  # fmt: skip
_ADD = {
    "rule": "Add a rule", "input": "Add an input", "channel": "Add an output", "head": "Add a head", "claim": "Add a claim",
    "pattern": "Add a pattern", "set": "Add a set", "given": "Add a given",
}  # fmt: skip
_NEW: dict[str, dict[str, Any]] = {
    "rule": {"priority": 40, "fail": "does not apply"},
    "channel": {"facing": "none", "level": "none", "colour": "none", "job": "other"},
    "head": {"dims_by": "pulse-width"},
    "claim": {"kind": "never"},
    "pattern": {"steps": [{"shows": "on"}, {"shows": "off"}]},
}
_FIELD_OF_FAULT = {
    "name-twice": "key",
    "target-unfit": "targets",
    "name-unknown": "targets",
    "pattern-unknown": "pattern",
    "channel-in-two-heads": "channels",
    "head-too-rich": "colours",
}


@require_http_methods(["GET", "HEAD", "POST"])
def function_text(request: ShopRequest, number: str) -> HttpResponse:
    """Show the text of the schedule; keep a sent one, or answer with its faults at line and column."""
    person = person_who_may(request, Action.EDIT_DESIGN)
    build = build_named(number)
    row = schedule_row(build)
    text, version = (row.text, row.row_version) if row else ("", 0)
    faults: tuple[LanguageFault, ...] = report_of(text).faults
    said, status = "", 200
    if request.method == "POST":
        text, version = request.POST.get("text", ""), _version(request)
        try:
            replace_schedule(build=build, text=text, row_version=version, by=person, at=timezone.now())
        except ScheduleRefused as error:
            faults, status = error.faults, error.status
        except StaleRow as error:
            said, version, status = error.message, error.row_version, error.status
        else:
            return _kept(request, build)
    context = page_context(request, read_sheet(build)) | {
        "text": text.replace("\r\n", "\n"),
        "row_version": version,
        "faults": [_shown_fault(text, fault) for fault in faults],
        "said": said,
    }
    return render(request, "builds/function_text.html", context, status=status)


def _shown_fault(text: str, fault: LanguageFault) -> dict[str, Any]:
    lines = text.replace("\r\n", "\n").split("\n")
    line = lines[fault.place.line - 1] if 0 < fault.place.line <= len(lines) else ""
    at = max(0, fault.place.column - 1)
    found = re.match(r"[\w-]+|.", line[at:])
    word = found[0] if found else "⏎"
    return {
        "name": fault.name, "message": fault.message, "line": fault.place.line, "column": fault.place.column,
        "before": line[max(0, at - 40) : at], "found": word, "after": line[at + len(word) : at + 40],
    }  # fmt: skip


def _version(request: ShopRequest) -> int:
    sent = request.POST.get("row_version", "")
    return int(sent) if sent.isdecimal() and len(sent) < 10 else 0


def _kept(request: ShopRequest, build: Build, anchor: str = "rules") -> HttpResponse:
    assess_build(build)
    blocking = sum(1 for finding in report_of(_text(build)).findings if finding.id == "claim-refuted")
    words = "The function schedule is kept."
    if blocking:
        words += f" {blocking} claim{'' if blocking == 1 else 's'} of it {'does' if blocking == 1 else 'do'} not hold."
    messages.success(request, words)
    return redirect(f"{reverse('function-detail', args=[build.number])}#{anchor}")


def _text(build: Build) -> str:
    row = schedule_row(build)
    return row.text if row else ""


@require_http_methods(["GET", "HEAD", "POST"])
def function_statement(request: ShopRequest, number: str, subject: str) -> HttpResponse:
    """Edit one statement, field by field where its family has fields, else as its line; "rule:new" and the like add one."""
    person = person_who_may(request, Action.EDIT_DESIGN)
    build = build_named(number)
    text = _text(build)
    own = "" if subject.endswith(":new") else subject
    if own and own not in statement_texts(text):
        raise NotHere("This statement is no longer in the schedule.")
    form = _form(request, text, subject, own)
    page = _Page(request, build, person, form, subject, own)
    if request.method == "POST":
        if "rows" in request.POST and isinstance(form, PatternForm):
            return _steps_answer(request, form)
        if "remove" in request.POST:
            return _sent(page, "")
        if form.is_valid():
            statement = form.cleaned_data["statement"] if isinstance(form, StatementForm) else form.statement()
            return _sent(page, statement if isinstance(form, StatementForm) else as_typed(text, own, statement))
        return _statement_page(page, status=422)
    return _statement_page(page)


@dataclass(frozen=True, slots=True)
class _Page:
    """What is asked of one statement: by whom, with which form; ``own`` is its subject, empty for a new one."""

    request: ShopRequest
    build: Build
    person: Person
    form: FieldForm | StatementForm
    subject: str
    own: str


def _form(request: ShopRequest, text: str, subject: str, own: str) -> FieldForm | StatementForm:
    data = request.POST if request.method == "POST" else None
    family, _, key = subject.partition(":")
    kind = _FORMS.get(family)
    if kind is None or request.GET.get("as") == "line":
        initial = {"statement": statement_texts(text)[own][1] if own else request.GET.get("statement", "")}
        return StatementForm(data, initial=initial)
    compiled = report_of(text).compiled
    if compiled is None:
        raise NotHere("The schedule has faults. Mend them in its text first.")
    parts = getattr(compiled.schedule, f"{family}s")
    part = next((part for part in parts if own and part.key == key), None)
    return kind(compiled.schedule, data, initial=kind.values_of(part) if part else _NEW.get(family, {}))


def _steps_answer(request: ShopRequest, form: PatternForm) -> HttpResponse:
    """Answer a step that is added, moved or taken out with all of them, anything else with the figures; nothing is kept."""
    rows, focus, said = changed_rows(form.rows, request.POST["rows"])
    changed = form.with_rows(rows, focus)
    context = _pattern_context(changed) | {"form": changed, "focus": focus, "said": said}
    partial = "figures" if request.POST["rows"] == "figures" else "pattern"
    return render(request, f"builds/_partials/function_pattern.html#{partial}", context)


def _pattern_context(form: PatternForm) -> dict[str, Any]:
    pattern = form.shown_pattern()
    return {"pattern": True, "shown": pattern and pattern_figures(pattern), "limits": limit_rows()}


def _sent(page: _Page, statement: str) -> HttpResponse:
    form = page.form
    try:
        edit_statement(
            build=page.build, subject=page.own, statement=statement, row_version=_version(page.request), by=page.person,
            at=timezone.now(),
        )  # fmt: skip
    except ScheduleRefused as error:
        form.is_valid()
        _put_faults(page, statement, error.faults)
        return _statement_page(page, status=error.status)
    except StaleRow as error:
        form.is_valid()
        form.add_error(None, f"{error.message} Look at it again, then keep.")
        return _statement_page(page, status=error.status)
    return _kept(page.request, page.build)


def _put_faults(page: _Page, statement: str, faults: tuple[LanguageFault, ...]) -> None:
    """Each fault at the field it is about; one of another statement, or of the line, with its line and column."""
    own = {page.own, f"{page.subject.partition(':')[0]}:{page.form.cleaned_data.get('key', '')}"}
    for fault in faults:
        if isinstance(page.form, StatementForm) or not statement:
            field = "statement" if isinstance(page.form, StatementForm) and statement else None
            said = f"Line {fault.place.line} of the schedule, column {fault.place.column}: {fault.message}"
        elif fault.subject and fault.subject not in own:
            field = None
            said = f"Line {fault.place.line} of the schedule, column {fault.place.column}, {fault.subject.replace(':', ' ', 1)}: {fault.message}"
        else:
            field = _FIELD_OF_FAULT.get(fault.name)
            field, said = field if field in page.form.fields else None, fault.message
        page.form.add_error(field, said)


def _statement_page(page: _Page, *, status: int = 200) -> HttpResponse:
    row, family = schedule_row(page.build), page.subject.partition(":")[0]
    context = {
        "build": page.build,
        "form": page.form,
        "title": page.own.replace(":", " ", 1).capitalize() if page.own else _ADD.get(family, "Add a line"),
        "removable": bool(page.own),
        "as_line": bool(page.own) and not isinstance(page.form, StatementForm),
        "row_version": row.row_version if row else 0,
        "picks": isinstance(page.form, SetForm),
        "back": f"{reverse('function-detail', args=[page.build.number])}#rules",
    }
    if isinstance(page.form, PatternForm):
        context |= _pattern_context(page.form)
    return render(page.request, "builds/function_statement.html", context, status=status)
