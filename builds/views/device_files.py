"""Writing down what was loaded into a programmable device, and that it was read back."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from builds.errors import BuildError
from builds.forms.functions import LoadingForm, ReadBackForm
from builds.models import Build, LoadedFile
from builds.permissions import Action
from builds.selectors.build_sheet import build_named
from builds.services.device_files import record_loading, record_read_back
from builds.views.acting import person_who_may
from builds.views.requests import ShopRequest
from builds.views.responses import add_errors

__all__ = ["file_load", "file_read_back"]


@require_http_methods(["GET", "HEAD", "POST"])
def file_load(request: ShopRequest, number: str) -> HttpResponse:
    """Write down that a file was loaded into a device of this build."""
    person = person_who_may(request, Action.WRITE_REGISTER)
    build = build_named(number)
    form = LoadingForm(build, request.POST if request.method == "POST" else None)

    def write(values: dict[str, Any]) -> None:
        record_loading(by=person, at=timezone.now(), **values)

    context = {
        "title": "Write a loading",
        "why": "The file is taken to be written from the schedule as it stands now; a later change makes it older.",
    }
    return _answer(request, build, form, write, context)


@require_http_methods(["GET", "HEAD", "POST"])
def file_read_back(request: ShopRequest, number: str, pk: int) -> HttpResponse:
    """Write down that a device was read back and holds what was loaded."""
    person = person_who_may(request, Action.WRITE_REGISTER)
    build = build_named(number)
    loading = get_object_or_404(LoadedFile, pk=pk, serial__build=build)
    form = ReadBackForm(request.POST if request.method == "POST" else None)

    def write(values: dict[str, Any]) -> None:
        record_read_back(loading=loading, by=person, at=timezone.now(), **values)

    context = {"title": "Write what was read back", "finding": f"{loading}, SHA-256 {loading.file_sha256}"}
    return _answer(request, build, form, write, context)


def _answer(
    request: ShopRequest,
    build: Build,
    form: forms.Form,
    write: Callable[[dict[str, Any]], None],
    context: dict[str, Any],
) -> HttpResponse:
    back = f"{reverse('function-detail', args=[build.number])}#loaded"
    status = 200
    if request.method == "POST":
        if form.is_valid():
            try:
                write(form.cleaned_data)
            except BuildError as error:
                add_errors(form, error)
            else:
                return redirect(back)
        status = 422
    context |= {"form": form, "back": back, "back_word": f"Functions of build {build.number}"}
    return render(request, "builds/form_page.html", context, status=status)
