"""Editing a function schedule: the whole text with its faults, one rule as a form, any other statement as a line."""

import re
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from builds.engineering.functions.faults import LanguageFault
from builds.engineering.functions.reports import report_of
from builds.engineering.functions.rewriting import statement_texts
from builds.errors import NotHere, StaleRow
from builds.forms.functions import RuleForm, StatementForm
from builds.models import Build, Person
from builds.permissions import Action
from builds.selectors.build_sheet import build_named, read_sheet
from builds.services.assessments import assess_build
from builds.services.function_rows import schedule_row
from builds.services.function_schedules import ScheduleRefused, edit_statement, replace_schedule
from builds.views.acting import person_who_may
from builds.views.functions import page_context
from builds.views.requests import ShopRequest

__all__ = ["function_statement", "function_text"]

_FIELD_OF_FAULT = {
    "name-twice": "key",
    "target-unfit": "targets",
    "name-unknown": "targets",
    "pattern-unknown": "pattern",
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
    """Edit one statement: a rule field by field, any other as its line; "rule:new" and "statement:new" add one."""
    person = person_who_may(request, Action.EDIT_DESIGN)
    build = build_named(number)
    text = _text(build)
    own = "" if subject.endswith(":new") else subject
    if own and own not in statement_texts(text):
        raise NotHere("This statement is no longer in the schedule.")
    form = _form(request, text, subject, own)
    status = 200
    if request.method == "POST":
        if "remove" in request.POST:
            return _sent(request, build, person, own, "", form)
        if form.is_valid():
            statement = form.statement() if isinstance(form, RuleForm) else form.cleaned_data["statement"]
            return _sent(request, build, person, own, statement, form)
        status = 422
    return _statement_page(request, build, form, own, status=status)


def _form(request: ShopRequest, text: str, subject: str, own: str) -> RuleForm | StatementForm:
    data = request.POST if request.method == "POST" else None
    if subject.startswith("rule:"):
        compiled = report_of(text).compiled
        if compiled is None:
            raise NotHere("The schedule has faults. Mend them in its text first.")
        rule = next((rule for rule in compiled.schedule.rules if own == f"rule:{rule.key}"), None)
        initial = RuleForm.values_of(rule) if rule else {"priority": 40, "fail": "does not apply"}
        return RuleForm(compiled.schedule, data, initial=initial)
    initial = {"statement": statement_texts(text)[own][1] if own else request.GET.get("statement", "")}
    return StatementForm(data, initial=initial)


def _sent(
    request: ShopRequest, build: Build, person: Person, own: str, statement: str, form: RuleForm | StatementForm
) -> HttpResponse:
    try:
        edit_statement(
            build=build, subject=own, statement=statement, row_version=_version(request), by=person, at=timezone.now()
        )
    except ScheduleRefused as error:
        form.is_valid()
        _put_faults(form, error.faults)
        return _statement_page(request, build, form, own, status=error.status)
    except StaleRow as error:
        form.is_valid()
        form.add_error(None, f"{error.message} Look at it again, then keep.")
        return _statement_page(request, build, form, own, status=error.status)
    return _kept(request, build)


def _put_faults(form: forms.Form, faults: tuple[LanguageFault, ...]) -> None:
    for fault in faults:
        field = _FIELD_OF_FAULT.get(fault.name, "condition") if isinstance(form, RuleForm) else "statement"
        place = (
            ""
            if isinstance(form, RuleForm)
            else f"Line {fault.place.line} of the schedule, column {fault.place.column}: "
        )
        form.add_error(field, place + fault.message)


def _statement_page(
    request: ShopRequest, build: Build, form: RuleForm | StatementForm, own: str, *, status: int = 200
) -> HttpResponse:
    row = schedule_row(build)
    context = {
        "build": build,
        "form": form,
        "title": own.replace(":", " ", 1).capitalize()
        if own
        else ("Add a rule" if isinstance(form, RuleForm) else "Add a statement"),
        "removable": bool(own),
        "row_version": row.row_version if row else 0,
        "back": f"{reverse('function-detail', args=[build.number])}#rules",
    }
    return render(request, "builds/function_statement.html", context, status=status)
