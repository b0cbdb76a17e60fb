"""The bay board: a week of plan and fact, and the plan changed by dragging, by keys or by a plain form."""

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from builds.errors import BuildError, NotHere
from builds.forms.yard import BookingForm, SwapForm
from builds.models import BayPlace, Booking
from builds.permissions import Action, may
from builds.selectors.bay_board import BayBoard, bay_board, bookable_builds, coming_bookings, find_booking
from builds.selectors.half_days import SHIFT_END, SHIFT_START, moved_end, moved_start
from builds.selectors.shop_time import day_and_time, shop_zone
from builds.services import bays
from builds.services.bays import BookingMove
from builds.views.acting import person_who_may
from builds.views.responses import add_errors
from builds.views.sent import sent_values
from builds.views.shop_clock import render_on_shop_clock

__all__ = ["board", "booking_cancel", "booking_move", "booking_new", "booking_shift", "booking_swap"]


@require_GET
def board(request: HttpRequest) -> HttpResponse:
    """Show a week of the bays; ``?wall`` shows the bays alone, to be read from across the shop."""
    person_who_may(request, Action.SEE_BAYS)
    return _board_page(request, request.GET.get("week", ""))


@require_POST
def booking_shift(request: HttpRequest, pk: int) -> HttpResponse:
    """Move a booking by half days and to another bay, as it was dragged or moved by keys on the board."""
    person = person_who_may(request, Action.PLAN_BAYS)
    booking = _found(pk)
    week = request.POST.get("week", "")[:8]
    try:
        move = _shifted(booking, request)
        bays.move_bookings(moves=[move], by=person, at=timezone.now())
    except BuildError as error:
        messages.error(request, error.message)
        return _board_page(request, week, status=error.status)
    zone = shop_zone()
    messages.success(
        request,
        f"{booking.build.number}: {move.place}, {day_and_time(move.start, zone)} to {day_and_time(move.end, zone)}.",
    )
    return redirect(f"{reverse('bay-board')}?week={week}" if week else "bay-board")


def _shifted(booking: Booking, request: HttpRequest) -> BookingMove:
    """Read how far a booking was moved: half days at both ends, half days at its end alone, and which bay."""
    move, stretch = _half_days(request, "half_days"), _half_days(request, "stretch")
    place = BayPlace.objects.select_related("bay").filter(pk=_whole(request, "place")).first()
    if place is None:
        raise NotHere("This bay is not there any more.")
    zone = shop_zone()
    start, end = booking.during.lower, booking.during.upper
    if move:
        start = moved_start(start, move, zone)
    if move or stretch:
        end = moved_end(end, move + stretch, zone)
    return BookingMove(booking=booking, place=place, start=start, end=end, row_version=_whole(request, "row_version"))


def _half_days(request: HttpRequest, name: str) -> int:
    text = request.POST.get(name, "0")
    if not text.removeprefix("-").isdecimal() or len(text) > 4:
        raise NotHere("This move could not be read. Read the board again.")
    return int(text)


def _whole(request: HttpRequest, name: str) -> int:
    text = request.POST.get(name, "")
    if not text.isdecimal() or len(text) > 18:
        raise NotHere("This move could not be read. Read the board again.")
    return int(text)


@require_http_methods(["GET", "POST"])
def booking_new(request: HttpRequest) -> HttpResponse:
    """Book a stay."""
    person = person_who_may(request, Action.PLAN_BAYS)
    zone = shop_zone()
    form = BookingForm(sent_values(request), zone=zone, builds=bookable_builds(), initial=_first_times(request, zone))
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            typed = form.cleaned_data
            try:
                booking = bays.book(
                    build=typed["build"], place=typed["place"], start=form.moment("start"), end=form.moment("end"),
                    purpose=typed["purpose"], by=person, at=timezone.now(),
                )  # fmt: skip
            except BuildError as error:
                add_errors(form, error)
                status = error.status
            else:
                messages.success(request, f"{booking.build.number} is booked in {booking.place}.")
                return redirect(f"{reverse('bay-board')}?week={week_words(booking.during.lower, zone)}")
    return render_on_shop_clock(request, "builds/booking_form.html", {"form": form}, status=status)


@require_http_methods(["GET", "POST"])
def booking_move(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a booking with its form, and give it another bay or time."""
    person = person_who_may(request, Action.PLAN_BAYS if request.method == "POST" else Action.SEE_BAYS)
    booking, zone = _found(pk), shop_zone()
    form = BookingForm(
        sent_values(request), zone=zone, builds=bookable_builds(), booking=booking, initial=_shown(booking, zone)
    )
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            typed = form.cleaned_data
            try:
                bays.move_booking(
                    booking=booking, place=typed["place"], start=form.moment("start"), end=form.moment("end"),
                    row_version=typed["row_version"] or 0, by=person, at=timezone.now(),
                )  # fmt: skip
            except BuildError as error:
                add_errors(form, error)
                status = error.status
            else:
                messages.success(request, f"{booking.build.number} is moved.")
                return redirect(f"{reverse('bay-board')}?week={week_words(form.moment('start'), zone)}")
    return _booking_page(request, booking, form=form, status=status)


@require_POST
def booking_swap(request: HttpRequest, pk: int) -> HttpResponse:
    """Let two bookings change bays, each keeping its time."""
    person = person_who_may(request, Action.PLAN_BAYS)
    booking = _found(pk)
    form = SwapForm(request.POST, others=coming_bookings(timezone.now()).exclude(pk=pk))
    status = 422
    if form.is_valid():
        other = form.cleaned_data["other"]
        try:
            bays.swap_bookings(
                first=_to_place(booking, other.place, form.cleaned_data["row_version"]),
                second=_to_place(other, booking.place, other.row_version), by=person, at=timezone.now(),
            )  # fmt: skip
        except BuildError as error:
            add_errors(form, error)
            status = error.status
        else:
            messages.success(request, f"{booking.build.number} and {other.build.number} changed bays.")
            return redirect(f"{reverse('bay-board')}?week={week_words(booking.during.lower, shop_zone())}")
    return _booking_page(request, booking, swap_form=form, status=status)


@require_POST
def booking_cancel(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a booking out of the plan."""
    person = person_who_may(request, Action.PLAN_BAYS)
    booking = _found(pk)
    bays.cancel_booking(booking=booking, row_version=_whole(request, "row_version"), by=person, at=timezone.now())
    messages.success(request, f"The stay of {booking.build.number} in {booking.place} is out of the plan.")
    return redirect(f"{reverse('bay-board')}?week={week_words(booking.during.lower, shop_zone())}")


def week_words(moment: datetime, zone: ZoneInfo) -> str:
    """Return the week of a moment as "2026-W50"."""
    return f"{moment.astimezone(zone):%G-W%V}"


def _to_place(booking: Booking, place: BayPlace, row_version: int) -> BookingMove:
    return BookingMove(
        booking=booking, place=place, start=booking.during.lower, end=booking.during.upper, row_version=row_version
    )


def _found(pk: int) -> Booking:
    booking = find_booking(pk)
    if booking is None:
        raise NotHere("This booking was taken out of the plan.")
    return booking


def _shown(booking: Booking, zone: ZoneInfo) -> dict[str, Any]:
    """The form shows the shop's clock, without a zone that a browser would turn into its own."""
    return {
        "place": booking.place_id,
        "start": booking.during.lower.astimezone(zone).replace(tzinfo=None),
        "end": booking.during.upper.astimezone(zone).replace(tzinfo=None),
        "row_version": booking.row_version,
    }


def _first_times(request: HttpRequest, zone: ZoneInfo) -> dict[str, Any]:
    """A new stay begins tomorrow morning and takes two days, until someone says otherwise."""
    tomorrow = moved_start(timezone.now() + timedelta(days=1), 0, zone).astimezone(zone)
    start = tomorrow.replace(tzinfo=None, hour=SHIFT_START.hour)
    return {
        "build": request.GET.get("build", "")[:12],
        "start": start,
        "end": (start + timedelta(days=1)).replace(hour=SHIFT_END.hour),
    }


def _booking_page(request: HttpRequest, booking: Booking, *, status: int = 200, **forms: Any) -> HttpResponse:
    zone = shop_zone()
    others = coming_bookings(timezone.now()).exclude(pk=booking.pk)
    context = {
        "booking": booking,
        "may_plan": may(request.user, Action.PLAN_BAYS),
        "form": BookingForm(zone=zone, builds=bookable_builds(), booking=booking, initial=_shown(booking, zone)),
        "swap_form": SwapForm(others=others, initial={"row_version": booking.row_version}),
        "start": day_and_time(booking.during.lower, zone),
        "end": day_and_time(booking.during.upper, zone),
    } | forms
    return render_on_shop_clock(request, "builds/booking_form.html", context, status=status)


_COUNTED = (("late", "late"), ("at_risk", "at risk"), ("waiting", "waiting"), ("on_time", "on time"))


def _counts(shown: BayBoard) -> list[tuple[str, str]]:
    counted = ((state, shown.count(state), words) for state, words in _COUNTED)
    return [(state, f"{number} {words}") for state, number, words in counted if number]


def _board_page(request: HttpRequest, week: str, *, status: int = 200) -> HttpResponse:
    now = timezone.now()
    shown = bay_board(week=week, now=now)
    context = {
        "board": shown,
        "week": f"{shown.monday:%G-W%V}",
        "week_number": f"{shown.monday:%V}".lstrip("0"),
        "earlier": f"{shown.monday - timedelta(days=7):%G-W%V}",
        "later": f"{shown.monday + timedelta(days=7):%G-W%V}",
        "wall": "wall" in request.GET,
        "may_plan": may(request.user, Action.PLAN_BAYS),
        "may_move": may(request.user, Action.MOVE_VEHICLE),
        "counts": _counts(shown),
    }
    template = "builds/bay_wall.html" if context["wall"] else "builds/bay_board.html"
    return render_on_shop_clock(request, template, context, status=status)
