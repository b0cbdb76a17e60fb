"""The yard: where every vehicle and its keys are, and what was found on it when it came and went."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from builds.errors import BuildError, Occupied
from builds.forms.yard import CheckInForm, KeysForm, MoveForm
from builds.models import Build, LocationEvent, Person
from builds.permissions import Action, may
from builds.selectors import yard as read
from builds.selectors.match import match_of
from builds.services.arrivals import receive_vehicle, send_off
from builds.services.check_ins import photo_ids
from builds.services.locations import hand_keys, move_vehicle
from builds.views.acting import person_who_may
from builds.views.checklist import found_build
from builds.views.responses import add_errors
from builds.views.sent import sent_files, sent_values
from builds.views.shop_clock import render_on_shop_clock

__all__ = ["check_in", "keys_hand", "vehicle_move", "yard", "yard_vehicle"]


@require_GET
def yard(request: HttpRequest) -> HttpResponse:
    """Show every vehicle on site, and the builds that wait for theirs."""
    person = person_who_may(request, Action.SEE_BAYS)
    words = request.GET.get("q", "")[:80]
    context = {
        "rows": read.yard_rows(words),
        "expected": read.expected_builds(),
        "q": words,
        "may_check_in": may(person, Action.CHECK_IN_VEHICLE),
    }
    return render_on_shop_clock(request, "builds/yard.html", context)


@require_GET
def yard_vehicle(request: HttpRequest, number: str) -> HttpResponse:
    """Show where the vehicle of a build is and was, with its keys and its check-in beside its check-out."""
    person = person_who_may(request, Action.SEE_BAYS)
    return _vehicle_page(request, found_build(number), person)


@require_POST
def vehicle_move(request: HttpRequest, number: str) -> HttpResponse:
    """Say where a vehicle is now."""
    person = person_who_may(request, Action.MOVE_VEHICLE)
    build = found_build(number)
    places = read.bay_places(build)
    form = MoveForm(request.POST, places=places)

    def move(typed: dict[str, Any]) -> str:
        try:
            event = move_vehicle(build=build, by=person, at=timezone.now(), **typed)
        except Occupied as error:
            form.asks_left = error.number
            raise
        other = places.get(typed["bay_place"], "") if event.kind == LocationEvent.Kind.BAY else ""
        left = f" {other} was recorded there; it has left." if other else ""
        return f"{build.number}: {event.spot}.{left}"

    return _take(request, build, person, form, move, "move_form")


@require_POST
def keys_hand(request: HttpRequest, number: str) -> HttpResponse:
    """Say where a vehicle's keys are now."""
    person = person_who_may(request, Action.MOVE_VEHICLE)
    build = found_build(number)
    form = KeysForm(request.POST)

    def hand(typed: dict[str, Any]) -> str:
        return f"{build.number}: {read.keys_words(hand_keys(build=build, by=person, at=timezone.now(), **typed))}."

    return _take(request, build, person, form, hand, "keys_form")


@require_http_methods(["GET", "POST"])
def check_in(request: HttpRequest, number: str) -> HttpResponse:
    """Check a vehicle in; one that is in for this build is checked out, with the same list beside what was found then."""
    person = person_who_may(request, Action.CHECK_IN_VEHICLE)
    build = found_build(number)
    leaving = read.vehicle_of(build).row.checked_in
    form = CheckInForm(sent_values(request), sent_files(request), build=build, leaving=leaving)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                said = _check(build, form, person)
            except BuildError as error:
                add_errors(form, error)
                status = error.status
            else:
                messages.success(request, said)
                return redirect("yard-vehicle", number=build.number)
    came, _ = read.checks_of(build, photo_ids)
    context = {
        "build": build,
        "form": form,
        "leaving": leaving,
        "came": came if leaving else None,
        "odometer": read.odometer_words(came.entry.odometer_km, build.units) if came else "",
    }
    return render_on_shop_clock(request, "builds/check_in.html", context, status=status)


def _check(build: Build, form: CheckInForm, person: Person) -> str:
    sent: dict[str, Any] = {
        "build": build, "condition": form.condition(), "photos": form.contents(), "by": person, "at": timezone.now(),
        "event_id": form.cleaned_data["event_id"],
    }  # fmt: skip
    if form.leaving:
        send_off(taken_by=form.cleaned_data["taken_by"], key_count=form.cleaned_data["key_count"], **sent)
        return f"{build.number} is checked out."
    receive_vehicle(spot=form.cleaned_data["spot"], keys=form.keys(), **sent)
    return f"{build.number} is checked in."


def _take(
    request: HttpRequest, build: Build, person: Person, form: Form, work: Callable[[dict[str, Any]], str], name: str
) -> HttpResponse:
    status = 422
    if form.is_valid():
        try:
            said = work(form.cleaned_data)
        except BuildError as error:
            add_errors(form, error)
            status = error.status
        else:
            messages.success(request, said)
            return _back(request, build)
    return _vehicle_page(request, build, person, status=status, **{name: form})


def _back(request: HttpRequest, build: Build) -> HttpResponse:
    page = request.POST.get("back", "")
    if page.startswith("/") and url_has_allowed_host_and_scheme(page, allowed_hosts=None):
        return redirect(page)
    return redirect("yard-vehicle", number=build.number)


def _vehicle_page(
    request: HttpRequest, build: Build, person: Person, *, status: int = 200, **forms: Form
) -> HttpResponse:
    known = read.vehicle_of(build)
    came, left = read.checks_of(build, photo_ids)
    keys = known.row.keys
    context = {
        "build": build,
        "vehicle": known,
        "key_lines": [(event, read.keys_words(event)) for event in known.keys],
        "match": match_of(build),
        "came": came,
        "left": left,
        "odometers": [read.odometer_words(c.entry.odometer_km, build.units) if c else "" for c in (came, left)],
        "move_form": MoveForm(places=read.bay_places(build)),
        "keys_form": KeysForm(initial={"count": keys.count if keys else 1, "hook": keys.hook if keys else ""}),
        "may_move": may(person, Action.MOVE_VEHICLE),
        "may_check_in": may(person, Action.CHECK_IN_VEHICLE),
        "is_in": known.row.checked_in,
    } | forms
    return render_on_shop_clock(request, "builds/yard_vehicle.html", context, status=status)
