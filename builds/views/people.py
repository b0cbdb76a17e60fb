"""Who works in the shop: a manager adds people and lets them sign in or not; everyone changes their own password."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from builds.errors import BuildError
from builds.forms.people import PasswordForm, PersonForm
from builds.models import Person
from builds.permissions import Action, check_may
from builds.services import people as people_service
from builds.views.responses import add_errors
from builds.views.sent import sent_values

__all__ = ["people", "person_active", "person_add", "person_password"]


@require_GET
def people(request: HttpRequest) -> HttpResponse:
    """Show everyone who works here, and the form for one more."""
    check_may(request.user, Action.EDIT_PEOPLE)
    return _people(request, PersonForm())


@require_POST
def person_add(request: HttpRequest) -> HttpResponse:
    """Let someone sign in."""
    who = check_may(request.user, Action.EDIT_PEOPLE)
    form = PersonForm(request.POST)
    if form.is_valid():
        try:
            person = people_service.add_person(by=who, at=timezone.now(), **form.cleaned_data)
        except BuildError as error:
            add_errors(form, error)
        else:
            messages.success(request, f"{person} can sign in as {person.username}.")
            return redirect("people")
    return _people(request, form, status=422)


@require_POST
def person_active(request: HttpRequest, pk: int) -> HttpResponse:
    """Let someone sign in again, or no longer."""
    who = check_may(request.user, Action.EDIT_PEOPLE)
    person = get_object_or_404(Person, pk=pk)
    active = request.POST.get("active") == "yes"
    people_service.set_active(person=person, active=active, by=who)
    messages.success(request, f"{person} can sign in again." if active else f"{person} can no longer sign in.")
    return redirect("people")


@require_http_methods(["GET", "POST"])
def person_password(request: HttpRequest, pk: int) -> HttpResponse:
    """Give someone, or oneself, a new password."""
    person = get_object_or_404(Person, pk=pk)
    who = check_may(request.user, Action.EDIT_PEOPLE, own=person == request.user)
    form = PasswordForm(sent_values(request))
    if request.method == "POST" and form.is_valid():
        try:
            people_service.set_password(person=person, by=who, **form.cleaned_data)
        except BuildError as error:
            add_errors(form, error)
        else:
            if person == request.user:
                update_session_auth_hash(request, person)
            messages.success(request, f"{person} has a new password.")
            return redirect("home")
    return render(
        request, "builds/people_password.html", {"form": form, "person": person}, status=422 if form.errors else 200
    )


def _people(request: HttpRequest, form: PersonForm, *, status: int = 200) -> HttpResponse:
    everyone = Person.objects.order_by("-is_active", "short_name", "username")
    return render(request, "builds/people_list.html", {"everyone": everyone, "form": form}, status=status)
