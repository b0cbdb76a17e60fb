"""The registers of a build on one page for a phone: what is fitted, joined, drilled, brought and taken off."""

from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from builds.errors import BuildError, NotHere
from builds.forms.floor_registers import AMEND_FORMS, NEW_FORMS
from builds.models import Build, Person
from builds.permissions import Action, may
from builds.selectors.registers import Registers, registers_of
from builds.services import registers
from builds.views.acting import person_who_may
from builds.views.checklist import floor_context, found_build
from builds.views.responses import add_errors
from builds.views.shop_clock import render_on_shop_clock

__all__ = ["floor_register_amend", "floor_register_write", "floor_registers"]

# What a form about an entry shows of it, to begin with.
_SHOWN = frozenset({"row_version", "sealed_with", "kept_at", "disposition"})
_RELATED = {"serial": "serials", "penetration": "penetrations", "gear": "gear", "removed": "removed_parts"}


@require_GET
def floor_registers(request: HttpRequest, number: str) -> HttpResponse:
    """Show every register of a build."""
    person = person_who_may(request, Action.SEE_BUILDS)
    return _page(request, found_build(number), person)


@require_POST
def floor_register_write(request: HttpRequest, number: str, register: str) -> HttpResponse:
    """Write a new entry."""
    person = person_who_may(request, Action.WRITE_REGISTER)
    build = found_build(number)
    form = _sent_form(NEW_FORMS, build, register, register, request)
    return _answer(request, build, person, form, register, 0, lambda at: _WRITE[register](build, form, person, at))


@require_POST
def floor_register_amend(request: HttpRequest, number: str, register: str, pk: int) -> HttpResponse:
    """Add to an entry: a swap, a seal, gear that came, where a part lies now."""
    person = person_who_may(request, Action.WRITE_REGISTER)
    build = found_build(number)
    form = _sent_form(AMEND_FORMS, build, register, f"{register}-{pk}", request)
    entry = getattr(build, _RELATED[register]).filter(pk=pk).first()
    if entry is None:
        raise NotHere(f"Build {build.number} has no such entry.")
    return _answer(request, build, person, form, register, pk, lambda at: _CHANGE[register](entry, form, person, at))


def _sent_form(
    kinds: dict[str, type[forms.Form]], build: Build, register: str, place: str, request: HttpRequest
) -> forms.Form:
    if register not in kinds:
        raise NotHere("There is no such register.")
    return _form(kinds[register], build, place, request.POST, request.FILES)


def _form(kind: type[forms.Form], build: Build, place: str, *sent: Any, **more: Any) -> forms.Form:
    """Several copies of one form stand on the page: the ids of their fields say which is which."""
    return kind(build, *sent, auto_id=f"{place}-%s", **more)  # type: ignore[arg-type,misc]


def _answer(
    request: HttpRequest, build: Build, person: Person, form: forms.Form, register: str, pk: int,
    work: Callable[[datetime], str],
) -> HttpResponse:  # fmt: skip
    status = 422
    if form.is_valid():
        try:
            said = work(timezone.now())
        except BuildError as error:
            add_errors(form, error)
            status = error.status
        else:
            messages.success(request, said)
            return redirect("floor-registers", number=build.number)
    return _page(request, build, person, came_back=(register, pk, form), status=status)


def _page(
    request: HttpRequest, build: Build, person: Person, *, came_back: tuple[str, int, forms.Form] | None = None,
    status: int = 200,
) -> HttpResponse:  # fmt: skip
    """Render the page; a form that came back stands in its place, opened, the others are fresh."""
    kept = registers_of(build)
    opened = {} if came_back is None else {_place(*came_back[:2]): came_back[2]}
    context = floor_context(request, build) | {
        "registers": kept,
        "forms": _forms(build, kept) | opened if may(person, Action.WRITE_REGISTER) else {},
        "opened": next(iter(opened), ""),
        "may_write": may(person, Action.WRITE_REGISTER),
    }
    return render_on_shop_clock(request, "builds/floor_registers.html", context, status=status)


def _place(register: str, pk: int) -> str:
    return f"{register}-{pk}" if pk else register


def _forms(build: Build, kept: Registers) -> dict[str, forms.Form]:
    """A fresh form for a new entry of each register, and one for each entry that may be added to."""
    made = {name: _form(kind, build, name) for name, kind in NEW_FORMS.items()}
    for register, entry in _amendable(kept):
        place = _place(register, entry.pk)
        initial = {name: value for name, value in vars(entry).items() if name in _SHOWN}
        made[place] = _form(AMEND_FORMS[register], build, place, initial=initial)
    return made


def _amendable(kept: Registers) -> Iterator[tuple[str, Any]]:
    yield from (("serial", entry) for line in kept.serials for entry in line.fitted)
    yield from (("penetration", entry) for entry in kept.penetrations)
    yield from (("gear", entry) for entry in kept.gear if entry.received_at is None)
    yield from (("removed", entry) for entry in kept.removed_parts)


def _write_serial(build: Build, form: forms.Form, by: Person, at: datetime) -> str:
    return f"Serial {registers.record_serial(by=by, at=at, **form.cleaned_data)} written."


def _write_splice(build: Build, form: forms.Form, by: Person, at: datetime) -> str:
    return f"Splice written: {registers.write_splice(build=build, by=by, at=at, **form.cleaned_data)}."


def _write_penetration(build: Build, form: Any, by: Person, at: datetime) -> str:
    typed = form.cleaned_data
    entry = registers.write_penetration(
        build=build, label=typed["label"], place=typed["place"], diameter_mm=typed["diameter_mm"],
        sealed_with=typed["sealed_with"], photo=form.new_photo(), by=by, at=at,
    )  # fmt: skip
    return f"Hole written: {entry}."


def _write_gear(build: Build, form: forms.Form, by: Person, at: datetime) -> str:
    return f"Expected from the customer: {registers.expect_gear(build=build, by=by, at=at, **form.cleaned_data)}."


def _write_removed(build: Build, form: forms.Form, by: Person, at: datetime) -> str:
    return f"Taken off: {registers.write_removed_part(build=build, by=by, at=at, **form.cleaned_data)}."


def _swap(entry: Any, form: forms.Form, by: Person, at: datetime) -> str:
    return f"{entry} swapped for {registers.swap_serial(old=entry, by=by, at=at, **form.cleaned_data)}; both stay."


def _seal(entry: Any, form: Any, by: Person, at: datetime) -> str:
    typed = form.cleaned_data
    registers.seal_penetration(
        penetration=entry, sealed_with=typed["sealed_with"], row_version=typed["row_version"], photo=form.new_photo(),
        by=by, at=at,
    )  # fmt: skip
    return f"{entry.label} sealed with {entry.sealed_with}."


def _receive(entry: Any, form: Any, by: Person, at: datetime) -> str:
    typed = form.cleaned_data
    registers.receive_gear(
        gear=entry, condition=typed["condition"], row_version=typed["row_version"], photo=form.new_photo(), by=by, at=at
    )
    return f"{entry} is here."


def _settle(entry: Any, form: forms.Form, by: Person, at: datetime) -> str:
    typed = dict(form.cleaned_data)
    registers.amend(entry=entry, row_version=typed.pop("row_version"), values=typed, by=by)
    return f"{entry}: {entry.disposition}."


_WRITE: dict[str, Callable[[Build, Any, Person, datetime], str]] = {
    "serial": _write_serial,
    "splice": _write_splice,
    "penetration": _write_penetration,
    "gear": _write_gear,
    "removed": _write_removed,
}
_CHANGE: dict[str, Callable[[Any, Any, Person, datetime], str]] = {
    "serial": _swap,
    "penetration": _seal,
    "gear": _receive,
    "removed": _settle,
}
