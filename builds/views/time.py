"""The clock: on, off, one's own hours, and putting them right."""

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from builds.errors import BuildError, NotHere
from builds.forms.floor import ClockOnForm, TimeCorrectionForm
from builds.models import Person, TimeEntry
from builds.permissions import Action, check_may, may
from builds.selectors.shop_time import shop_zone
from builds.selectors.time_entries import entries_since, find_entry, hours_of, people_since
from builds.services import time_entries
from builds.views.acting import person_who_may
from builds.views.checklist import found_build, found_step
from builds.views.responses import add_errors
from builds.views.sent import sent_values
from builds.views.shop_clock import render_on_shop_clock

__all__ = ["clock_off", "clock_on", "time_correct", "time_list"]

_DAYS_SHOWN = 14


@require_POST
def clock_on(request: HttpRequest, number: str) -> HttpResponse:
    """Clock on at a step or an operation of a build."""
    person = person_who_may(request, Action.CLOCK_TIME)
    build = found_build(number)
    form = ClockOnForm(request.POST)
    if not form.is_valid():
        raise BuildError("The clock entry could not be read. Clock on again.")
    typed = form.cleaned_data
    step = found_step(number, typed["step"]) if typed["step"] else None
    time_entries.clock_on(
        build=build, step=step, operation_key=typed["operation_key"], event_id=typed["event_id"], by=person,
        at=timezone.now(), leave_other=typed["leave_other"],
    )  # fmt: skip
    return _back(request)


@require_POST
def clock_off(request: HttpRequest, pk: int) -> HttpResponse:
    """Clock off."""
    person = person_who_may(request, Action.CLOCK_TIME)
    entry = time_entries.clock_off(entry=_found(pk), by=person, at=timezone.now())
    messages.success(
        request, f"Clocked off: {time_entries.work_words(entry)}, {hours_of(entry, timezone.now()):.2f} h."
    )
    return _back(request)


@require_GET
def time_list(request: HttpRequest) -> HttpResponse:
    """Show one's own entries of the last two weeks; whoever may correct anyone's sees everyone's."""
    person = person_who_may(request, Action.CLOCK_TIME)
    now = timezone.now()
    people = people_since(now - timedelta(days=_DAYS_SHOWN)) if may(person, Action.CORRECT_TIME) else ()
    asked = request.GET.get("person", "")
    shown = next((item.person for item in people if str(item.person.pk) == asked), person)
    context = _hours(shown, now) | {
        "shown": shown,
        "people": [(item.person, item.running and time_entries.work_words(item.running)) for item in people],
    }
    return render_on_shop_clock(request, "builds/time_list.html", context)


@require_http_methods(["GET", "POST"])
def time_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Put the times of an entry right, with a reason."""
    entry = _found(pk)
    person = person_who_may(request, Action.CLOCK_TIME)
    check_may(person, Action.CORRECT_TIME, own=entry.person_id == person.pk)
    zone = shop_zone()
    form = TimeCorrectionForm(sent_values(request), zone=zone, initial=_shown_times(entry, zone))
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                time_entries.correct(
                    entry=entry, started_at=form.moment("started_at") or entry.started_at, by=person, at=timezone.now(),
                    ended_at=form.moment("ended_at"), reason=form.cleaned_data["reason"],
                )  # fmt: skip
            except BuildError as error:
                add_errors(form, error)
                status = error.status
            else:
                messages.success(request, "The times are corrected; history keeps the old ones.")
                return redirect("time")
    context = {"form": form, "entry": entry, "words": time_entries.work_words(entry)}
    return render_on_shop_clock(request, "builds/time_correct.html", context, status=status)


def _shown_times(entry: TimeEntry, zone: ZoneInfo) -> dict[str, datetime | None]:
    """The form shows the shop's clock, without a zone that a browser would turn into its own."""
    times = {"started_at": entry.started_at, "ended_at": entry.ended_at}
    return {name: moment and moment.astimezone(zone).replace(tzinfo=None) for name, moment in times.items()}


def _hours(person: Person, now: datetime) -> dict[str, Any]:
    zone = shop_zone()
    entries = [
        {"entry": entry, "words": time_entries.work_words(entry), "hours": hours_of(entry, now),
         "start": entry.started_at.astimezone(zone), "end": entry.ended_at and entry.ended_at.astimezone(zone)}
        for entry in entries_since(person, now - timedelta(days=_DAYS_SHOWN))
    ]  # fmt: skip
    return {"entries": entries, "total_h": sum(item["hours"] for item in entries), "days": _DAYS_SHOWN}


def _found(pk: int) -> TimeEntry:
    entry = find_entry(pk)
    if entry is None:
        raise NotHere("There is no such clock entry.")
    return entry


def _back(request: HttpRequest) -> HttpResponse:
    """Go back to the page the button stood on."""
    page = request.POST.get("back", "")
    if url_has_allowed_host_and_scheme(page, allowed_hosts=None) and page.startswith("/"):
        return redirect(page)
    return redirect("time")
