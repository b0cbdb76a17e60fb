"""Opening a job, and correcting what is known of one."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods
from django.views.decorators.vary import vary_on_headers

from builds.engineering.vin import VinReading, read_vin, years_named
from builds.errors import BuildError, DocumentRefused
from builds.forms.build_open import STARTS, DocumentForm, FactsForm, JobForm
from builds.models import Person, PlatformVersion, Vehicle
from builds.permissions import Action, check_may
from builds.selectors.build_sheet import build_named
from builds.services.build_documents import import_build
from builds.services.build_facts import change_facts
from builds.services.job_opening import open_job
from builds.views.acting import person_who_may
from builds.views.responses import add_errors
from builds.views.sent import sent_files, sent_values

_LONGEST_KEY = 9

__all__ = ["build_facts", "build_open", "vehicles_of_customer", "vin_check"]


@require_http_methods(["GET", "HEAD", "POST"])
def build_open(request: HttpRequest) -> HttpResponse:
    """Open a job: empty, from another build, or from a build document."""
    person = person_who_may(request, Action.OPEN_BUILD)
    start = request.GET.get("start", "empty")
    if start == "document":
        return _open_from_document(request, person)
    start = "build" if start == "build" else "empty"
    initial = {"source": request.GET.get("source", ""), "customer": request.GET.get("customer", "")}
    form = JobForm(start, person, sent_values(request), initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            build = open_job(facts=form.facts(), by=person, at=timezone.now())
        except BuildError as error:
            _at_fields(form, error)
        else:
            messages.success(request, f"Build {build.number} is open.")
            return redirect(build)
    return _page(request, form, start)


def _at_fields(form: JobForm, error: BuildError) -> None:
    """A new customer's name is asked for under another name on this page."""
    fields = {("new_customer" if name == "name" else name): words for name, words in error.fields.items()}
    add_errors(form, BuildError(error.message, fields=fields))


def _open_from_document(request: HttpRequest, person: Person) -> HttpResponse:
    form = DocumentForm(sent_values(request), sent_files(request))
    faults: dict[str, str] = {}
    if request.method == "POST" and form.is_valid():
        try:
            build = import_build(
                text=form.cleaned_data["document"],
                number=form.cleaned_data["number"] or None,
                by=person,
                at=timezone.now(),
            )
        except DocumentRefused as error:
            faults = error.fields
            form.add_error("document", "This document has faults; nothing of it was taken. They are listed below.")
        except BuildError as error:
            add_errors(form, error)
        else:
            messages.success(request, f"Build {build.number} is open.")
            return redirect(build)
    return _page(request, form, "document", faults)


def _page(
    request: HttpRequest, form: JobForm | DocumentForm, start: str, faults: dict[str, str] | None = None
) -> HttpResponse:
    context = {"form": form, "start": start, "starts": STARTS, "faults": faults or {}}
    return render(request, "builds/build_open.html", context, status=422 if form.errors else 200)


@require_GET
def vin_check(request: HttpRequest) -> HttpResponse:
    """Say what is to be said of a VIN as it is typed."""
    check_may(request.user, Action.OPEN_BUILD)
    typed = request.GET.get("vin", "")[:40]
    reading = read_vin(typed) if typed.strip() else None
    known = (
        Vehicle.objects.filter(vin=reading.vin).select_related("customer").first() if reading and reading.vin else None
    )
    context = {
        "reading": reading,
        "known": known,
        "keepable": _keepable(reading),
        "platform_year": _platform_year(request, reading),
        "take_over": request.GET.get("take_over") == "on",
        "same_customer": known is not None and str(known.customer_id) == request.GET.get("customer", ""),
        "kept_reason": request.GET.get("vin_exception", "")[:200],
    }
    return render(request, "builds/build_open.html#vin_says", context)


def _platform_year(request: HttpRequest, reading: VinReading | None) -> str:
    """The years the chosen platform is for, where the number tells another."""
    chosen = request.GET.get("platform", "")
    if reading is None or not reading.fits or not chosen.isdecimal() or len(chosen) > _LONGEST_KEY:
        return ""
    platform = PlatformVersion.objects.filter(pk=int(chosen)).first()
    years = years_named(f"{platform.name} {platform.version}") if platform else ()
    return ", ".join(map(str, years)) if years and not set(years) & set(reading.model_years) else ""


def _keepable(reading: object) -> bool:
    """Whether a number may be kept with a reason: only its check digit does not fit."""
    codes = {message.code for message in getattr(reading, "messages", ())}
    return "vin-check-digit" in codes


@require_GET
def vehicles_of_customer(request: HttpRequest) -> HttpResponse:
    """Offer the vehicles of the customer that was chosen."""
    person = person_who_may(request, Action.OPEN_BUILD)
    form = JobForm("empty", person, initial={"customer": request.GET.get("customer", "")})
    return render(request, "builds/build_open.html#vehicle_choice", {"form": form})


@require_http_methods(["GET", "HEAD", "POST"])
@vary_on_headers("HX-Request")
def build_facts(request: HttpRequest, number: str) -> HttpResponse:
    """Correct what is known of a build and its vehicle."""
    person = person_who_may(request, Action.EDIT_DESIGN)
    build = build_named(number)
    vehicle = build.vehicle
    names = ("vin", "vin_exception", "unit_number", "model_year", "sold_before")
    initial = {name: getattr(vehicle, name) for name in names} | {
        name: getattr(build, name) for name in ("title", "purchase_order", "promised_on", "units", "responsible")
    }
    people = Person.objects.filter(is_active=True).order_by("short_name", "username")
    form = FactsForm(people, sent_values(request), initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            change_facts(
                build=build, values=form.values(), row_version=_number(request, "row_version"),
                vehicle_version=_number(request, "vehicle_version"), by=person, at=timezone.now(),
            )  # fmt: skip
        except BuildError as error:
            add_errors(form, BuildError(error.message, fields=error.fields if error.status == 422 else {}))
        else:
            return redirect(f"{reverse('build-detail', args=[number])}#vehicle-and-buyer")
    context = {
        "form": form,
        "title": f"Facts of build {number}",
        "word": "Keep",
        "hidden": {"row_version": build.row_version, "vehicle_version": vehicle.row_version},
        "back": f"{reverse('build-detail', args=[number])}#vehicle-and-buyer",
        "back_word": f"Build {number}",
    }
    return render(request, "builds/form_page.html", context, status=422 if form.errors else 200)


def _number(request: HttpRequest, name: str) -> int:
    text = request.POST.get(name, "")
    return int(text) if text.isdecimal() and len(text) < 10 else 0
