"""Who works in the shop."""

from datetime import datetime

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from builds.errors import BadInput, GuardRefused, Taken
from builds.models import Person, Role
from builds.permissions import Action, check_may
from builds.services.actors import act_as

__all__ = ["add_first_manager", "add_person", "set_active", "set_password"]


def add_person(*, username: str, short_name: str, role: str, password: str, by: Person, at: datetime) -> Person:
    """Let someone sign in. Raises BadInput, or Taken where the name is in use."""
    check_may(by, Action.EDIT_PEOPLE)
    return _add(username, short_name, role, password, at, by)


def add_first_manager(*, username: str, short_name: str, password: str, at: datetime) -> Person:
    """Make the manager of a shop that has nobody yet. Raises GuardRefused where it has."""
    if Person.objects.exists():
        raise GuardRefused("There are people already; a manager adds the next one.", missing=("nobody-yet",))
    return _add(username, short_name, Role.MANAGER, password, at, None)


def set_active(*, person: Person, active: bool, by: Person) -> Person:
    """Let someone sign in again, or no longer; what they did stays under their name."""
    check_may(by, Action.EDIT_PEOPLE)
    if person == by and not active:
        raise BadInput({"active": "Another manager must do that, so that somebody can still sign in."})
    with transaction.atomic():
        act_as(by)
        person.is_active = active
        person.save(update_fields=["is_active"])
    return person


def set_password(*, person: Person, password: str, by: Person) -> Person:
    """Give someone a new password. Raises BadInput."""
    check_may(by, Action.EDIT_PEOPLE, own=person == by)
    _check_password(password, person)
    with transaction.atomic():
        act_as(by)
        person.set_password(password)
        person.save(update_fields=["password"])
    return person


def _add(username: str, short_name: str, role: str, password: str, at: datetime, by: Person | None) -> Person:
    fields = {}
    if not username.strip().replace("-", "").replace(".", "").isalnum():
        fields["username"] = "Use letters, digits, points and dashes."
    if not short_name.strip():
        fields["short_name"] = "Give the name as it is printed: M. Vale."
    if role not in Role.values:
        fields["role"] = "Choose what they do in the shop."
    if fields:
        raise BadInput(fields)
    person = Person(username=username.strip(), short_name=short_name.strip()[:40], role=role, date_joined=at)
    _check_password(password, person)
    person.set_password(password)
    try:
        with transaction.atomic():
            act_as(by)
            person.save()
    except IntegrityError as error:
        raise Taken("This name is in use.", fields={"username": "This name is in use."}) from error
    return person


def _check_password(password: str, person: Person) -> None:
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise BadInput({"password": " ".join(error.messages)}) from error
