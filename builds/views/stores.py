"""The stores: what there is of each part, what is short, deliveries, counts and parts lists."""

from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from builds.engineering.assessing.words import count_of
from builds.engineering.units import pounds_lb
from builds.engineering.vocabulary import UnitSystem
from builds.forms.stores import CountForm, PartFilterForm, PartListForm, ReceiveForm
from builds.models import Shop
from builds.permissions import Action, check_may, may
from builds.selectors.stores import short_lines, stores_parts
from builds.views.shop_clock import render_on_shop_clock
from inventory.errors import CatalogueFaults, StockError
from inventory.models import Part
from inventory.selectors.catalogue import find_parts, movements_of
from inventory.services import stock
from inventory.services.part_list import COLUMNS, take_part_list

__all__ = ["part_count", "part_detail", "part_list_upload", "part_receive", "stores"]


@require_GET
def stores(request: HttpRequest) -> HttpResponse:
    """Show the parts that fit a search, and what builds lack."""
    check_may(request.user, Action.SEE_STORES)
    return _stores(request, PartListForm())


@require_POST
def part_list_upload(request: HttpRequest) -> HttpResponse:
    """Take a parts list into the catalogue, or say every fault of it."""
    who = check_may(request.user, Action.EDIT_CATALOGUE)
    form = PartListForm(request.POST, request.FILES)
    faults: tuple[tuple[int, str, str], ...] = ()
    if form.is_valid():
        try:
            taken = take_part_list(content=form.cleaned_data["file"].read(), by=who)
        except CatalogueFaults as error:
            faults = error.faults
            form.add_error(
                "file", f"{len(faults)} fault{'s' if len(faults) != 1 else ''} in the list; nothing was taken."
            )
        else:
            messages.success(
                request, f"{count_of(taken.added, 'part', 'parts')} added, {taken.changed or 'none'} changed."
            )
            return redirect("stores")
    return _stores(request, form, faults=faults, status=422)


@require_GET
def part_detail(request: HttpRequest, number: str) -> HttpResponse:
    """Show one part: what there is of it and how it came to that."""
    check_may(request.user, Action.SEE_STORES)
    return _part(request, get_object_or_404(Part, number=number))


@require_POST
def part_receive(request: HttpRequest, number: str) -> HttpResponse:
    """Take delivery of a part."""
    who = check_may(request.user, Action.MOVE_STOCK)
    part = get_object_or_404(Part, number=number)
    form = ReceiveForm(request.POST)

    def receive(values: dict[str, Any]) -> str:
        stock.receive(part=part, by=who, at=timezone.now(), **values)
        return f"{values['quantity']:f} taken in."

    return _move(request, part, form, receive, receive_form=form)


@require_POST
def part_count(request: HttpRequest, number: str) -> HttpResponse:
    """Set what is on hand to what was counted."""
    who = check_may(request.user, Action.MOVE_STOCK)
    part = get_object_or_404(Part, number=number)
    form = CountForm(request.POST)

    def count(values: dict[str, Any]) -> str:
        entry = stock.count(part=part, by=who, at=timezone.now(), **values)
        return "The count agrees." if entry is None else f"On hand set to {values['counted']:f}."

    return _move(request, part, form, count, count_form=form)


def _move(
    request: HttpRequest, part: Part, form: forms.Form, move: Callable[[dict[str, Any]], str], **forms_shown: forms.Form
) -> HttpResponse:
    if form.is_valid():
        try:
            messages.success(request, move(form.cleaned_data))
        except StockError as error:
            form.add_error(None, error.message)
        else:
            return redirect("part-detail", number=part.number)
    return _part(request, part, status=422, **forms_shown)


def _part(
    request: HttpRequest, part: Part, *, receive_form: forms.Form | None = None, count_form: forms.Form | None = None,
    status: int = 200,
) -> HttpResponse:  # fmt: skip
    context = {
        "part": part,
        "balance": stock.balance_of(part),
        "movements": movements_of(part),
        "mass": _mass_words(float(part.mass_kg)),
        "currency": shop.currency if (shop := Shop.objects.first()) else "",
        "receive_form": receive_form or ReceiveForm(initial={"event_id": uuid4()}),
        "count_form": count_form or CountForm(initial={"event_id": uuid4()}),
        "may_move": may(request.user, Action.MOVE_STOCK),
    }
    return render_on_shop_clock(request, "builds/stores_part.html", context, status=status)


def _mass_words(mass_kg: float) -> str:
    """A mass in the shop's own unit, with the kilograms that the catalogue keeps beside pounds."""
    if not mass_kg:
        return "not known"
    shop = Shop.objects.first()
    kilograms = f"{mass_kg:g} kg"
    return f"{pounds_lb(mass_kg):.2f} lb ({kilograms})" if shop is None or shop.units == UnitSystem.US else kilograms


def _stores(
    request: HttpRequest, form: PartListForm, *, faults: tuple[tuple[int, str, str], ...] = (), status: int = 200
) -> HttpResponse:
    wanted = PartFilterForm(request.GET)
    wanted.is_valid()
    words = wanted.cleaned_data.get("q") or ""
    ticked = {name: "on" for name in ("low", "others") if wanted.cleaned_data.get(name)}
    page = find_parts(
        words=words, low_only="low" in ticked, page=wanted.cleaned_data.get("page") or 1,
        among=None if "others" in ticked else stores_parts(),
    )  # fmt: skip

    def address(number: int) -> str:
        return "?" + urlencode({"q": words, **ticked, "page": number})

    context = {
        "words": words,
        "low": "low" in ticked,
        "others": "others" in ticked,
        "page": page,
        "earlier": address(page.page - 1) if page.page > 1 else "",
        "later": address(page.page + 1) if page.page < page.pages else "",
        "short": short_lines(),
        "list_form": form,
        "faults": faults,
        "columns": ", ".join(COLUMNS),
        "may_edit": may(request.user, Action.EDIT_CATALOGUE),
    }
    return render(request, "builds/stores_list.html", context, status=status)
