"""Writing in the registers of a build."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from builds.errors import BuildError, NotHere
from builds.forms.registers import REGISTER_FORMS, ReceiveForm, SealForm, SwapForm
from builds.models import BodyPenetration, Build, CustomerGear, SerialNumber
from builds.permissions import Action
from builds.selectors.build_sheet import build_named
from builds.services import registers
from builds.views.acting import person_who_may
from builds.views.responses import add_errors
from builds.views.shop_clock import render_on_shop_clock

__all__ = ["register_add", "register_receive", "register_seal", "register_swap"]

_WRITE: dict[str, Callable[..., Any]] = {
    "splice": registers.write_splice,
    "penetration": registers.write_penetration,
    "gear": registers.expect_gear,
    "removed": registers.write_removed_part,
}


@require_http_methods(["GET", "HEAD", "POST"])
def register_add(request: HttpRequest, number: str, register: str) -> HttpResponse:
    """Write an entry in a register."""
    person = person_who_may(request, Action.WRITE_REGISTER)
    build = build_named(number)
    if register not in REGISTER_FORMS:
        raise NotHere(f"There is no register called {register!r}.")

    def write(values: dict[str, Any]) -> None:
        if register == "serial":
            registers.record_serial(by=person, at=timezone.now(), **values)
        else:
            _WRITE[register](build=build, by=person, at=timezone.now(), **values)

    return _form_page(request, build, REGISTER_FORMS[register], write)


@require_http_methods(["GET", "HEAD", "POST"])
def register_seal(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Write down what seals a hole."""
    person = person_who_may(request, Action.WRITE_REGISTER)
    build = build_named(number)
    entry = get_object_or_404(BodyPenetration, pk=pk, build=build)

    def write(values: dict[str, Any]) -> None:
        registers.amend(entry=entry, values=values, row_version=_version(request, entry), by=person)

    return _form_page(request, build, SealForm, write, entry=entry, more=f"{entry.label}: {entry.place}")


@require_http_methods(["GET", "HEAD", "POST"])
def register_receive(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Write down that gear came."""
    person = person_who_may(request, Action.WRITE_REGISTER)
    build = build_named(number)
    entry = get_object_or_404(CustomerGear, pk=pk, build=build)

    def write(values: dict[str, Any]) -> None:
        registers.receive_gear(gear=entry, row_version=_version(request, entry), by=person, at=timezone.now(), **values)

    return _form_page(request, build, ReceiveForm, write, entry=entry, more=entry.description)


@require_http_methods(["GET", "HEAD", "POST"])
def register_swap(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Write the serial of the device that replaces another."""
    person = person_who_may(request, Action.WRITE_REGISTER)
    build = build_named(number)
    entry = get_object_or_404(SerialNumber, pk=pk, build=build)

    def write(values: dict[str, Any]) -> None:
        registers.swap_serial(old=entry, by=person, at=timezone.now(), **values)

    return _form_page(request, build, SwapForm, write, more=f"{entry.part_line.description}, {entry.serial}")


def _version(request: HttpRequest, entry: BodyPenetration | CustomerGear) -> int:
    sent = request.POST.get("row_version", "")
    return int(sent) if sent.isdecimal() and len(sent) < 10 else entry.row_version


def _form_page(
    request: HttpRequest, build: Build, form_class: Any, write: Callable[[dict[str, Any]], None],
    *, entry: Any = None, more: str = "",
) -> HttpResponse:  # fmt: skip
    """Show a register's form; a sent one is written, or comes back with words at its fields."""
    form = form_class(build, request.POST if request.method == "POST" else None)
    status = 200
    if request.method == "POST":
        if form.is_valid():
            try:
                write(form.cleaned_data)
            except BuildError as error:
                add_errors(form, error)
            else:
                return redirect(f"{reverse('build-detail', args=[build.number])}#registers")
        status = 422
    context = {
        "form": form,
        "title": form.title,
        "why": form.why,
        "finding": more,
        "hidden": {"row_version": entry.row_version} if entry is not None else {},
        "back": f"{reverse('build-detail', args=[build.number])}#registers",
        "back_word": f"Build {build.number}",
    }
    return render_on_shop_clock(request, "builds/form_page.html", context, status=status)
