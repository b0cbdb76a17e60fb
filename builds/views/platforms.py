"""Platform versions: those on file, what stands in one, and a new one written from it."""

from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from builds.engineering.vocabulary import UnitSystem
from builds.errors import BuildError
from builds.forms.platforms import LISTS, PlatformForm
from builds.models import PlatformVersion, Shop
from builds.permissions import Action, check_may, may
from builds.selectors.platform_inputs import platform_of
from builds.services.platforms import write_version
from builds.views.acting import person_who_may
from builds.views.responses import add_errors
from builds.views.sent import sent_values

__all__ = ["platform_copy", "platform_list"]


@require_GET
def platform_list(request: HttpRequest) -> HttpResponse:
    """Show every platform version with how many builds stand on it."""
    check_may(request.user, Action.SEE_BUILDS)
    rows = PlatformVersion.objects.annotate(
        build_count=Count("builds", distinct=True), zone_count=Count("zones", distinct=True),
        route_count=Count("routes", distinct=True), no_mount_count=Count("no_mount_zones", distinct=True),
    )  # fmt: skip
    context = {"platforms": rows[:500], "may_edit": may(request.user, Action.EDIT_PLATFORM)}
    return render(request, "builds/platform_list.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def platform_copy(request: HttpRequest, pk: int) -> HttpResponse:
    """Write a new version, started from one on file."""
    person = person_who_may(request, Action.EDIT_PLATFORM)
    source = get_object_or_404(PlatformVersion, pk=pk)
    units = UnitSystem(Shop.objects.values_list("units", flat=True).first() or UnitSystem.US)
    form = PlatformForm(platform_of(source), units, sent_values(request))
    if request.method == "POST" and form.is_valid():
        try:
            write_version(source=source, values=form.values(), by=person)
        except BuildError as error:
            add_errors(form, error)
        else:
            return redirect("platform-list")
    context = {
        "form": form,
        "title": "A new platform version",
        "word": "Write this version",
        "why": f"Started from {source}, which stays as it is, as do the builds that stand on it. Figures come from the "
        "maker's body-builder guide and the certification label; each list names its units under it.",
        "back": reverse("platform-list"),
        "back_word": "Platforms",
        "lists": list(LISTS),
    }
    return render(request, "builds/form_page.html", context, status=422 if form.errors else 200)
