"""Customers: who orders, and whose rules their builds follow."""

from collections.abc import Mapping
from datetime import datetime

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import IntegrityError, transaction

from builds.errors import BadInput, FieldConflict, StaleRow, Taken
from builds.models import BuyerProfile, Customer, Person
from builds.permissions import Action, check_may
from builds.services.actors import act_as

__all__ = ["add_customer", "change_customer"]

_FIELDS = ("name", "contact_name", "telephone", "email", "address")
_LENGTHS = {"name": 120, "contact_name": 120, "telephone": 40, "email": 254, "address": 1000}


def add_customer(
    *, values: Mapping[str, str], profile: BuyerProfile | None = None, by: Person, at: datetime, invented: bool = False
) -> Customer:
    """
    Write down a customer, with a profile of their own where none is given.

    Raises
    ------
    BadInput
        If the name is empty or a value cannot be taken.
    Taken
        If there is a customer of that name.
    """
    check_may(by, Action.EDIT_CUSTOMER)
    kept = _checked({name: values.get(name, "") for name in _FIELDS})
    _check_name_free(kept["name"])
    try:
        with transaction.atomic():
            act_as(by)
            profile = profile or BuyerProfile.objects.create(name=_free_profile_name(kept["name"]))
            return Customer.objects.create(**kept, profile=profile, invented=invented)
    except IntegrityError as error:
        raise _taken(kept["name"]) from error


def change_customer(
    *, customer: Customer, values: Mapping[str, str], profile: BuyerProfile | None = None, row_version: int, by: Person
) -> Customer:
    """Change what is known of a customer. Builds that are open keep their profile. Raises BadInput, StaleRow, Taken."""
    check_may(by, Action.EDIT_CUSTOMER)
    kept = _checked({name: value for name, value in values.items() if name in _FIELDS})
    try:
        with transaction.atomic():
            act_as(by)
            fresh = Customer.objects.select_for_update().get(pk=customer.pk)
            _check_version(fresh, kept, row_version)
            _check_name_free(kept.get("name", ""), but=fresh.pk)
            for name, value in kept.items():
                setattr(fresh, name, value)
            if profile is not None:
                fresh.profile = profile
            fresh.row_version += 1
            fresh.save()
    except IntegrityError as error:
        raise _taken(kept.get("name", "")) from error
    return fresh


def _check_name_free(name: str, *, but: int = 0) -> None:
    """Two customers whose names differ only in capitals would be taken for one another."""
    alike = Customer.objects.filter(name__iexact=name).exclude(pk=but).first()
    if alike is not None:
        raise _taken(alike.name)


def _check_version(fresh: Customer, values: Mapping[str, str], row_version: int) -> None:
    if fresh.row_version == row_version:
        return
    conflicts = tuple(
        FieldConflict(field=name, yours=value, theirs=str(getattr(fresh, name)))
        for name, value in values.items()
        if str(getattr(fresh, name)) != value
    )
    message = "Someone changed this customer while you had it open."
    raise StaleRow(message, conflicts=conflicts, row_version=fresh.row_version)


def _checked(values: Mapping[str, str]) -> dict[str, str]:
    kept = {name: value.strip() for name, value in values.items()}
    fields = {
        name: f"Use at most {_LENGTHS[name]} characters." for name, value in kept.items() if len(value) > _LENGTHS[name]
    }
    if "name" in kept and not kept["name"]:
        fields["name"] = "Write the customer's name."
    if kept.get("email"):
        try:
            validate_email(kept["email"])
        except ValidationError:
            fields["email"] = "This is not an address that mail can be sent to."
    if fields:
        raise BadInput(fields)
    return kept


def _free_profile_name(name: str) -> str:
    """Return the customer's name as a profile's, with a number where another profile has it."""
    taken = set(BuyerProfile.objects.filter(name__startswith=name).values_list("name", flat=True))
    if name not in taken:
        return name
    number = 2
    while f"{name[:110]} {number}" in taken:
        number += 1
    return f"{name[:110]} {number}"


def _taken(name: str) -> Taken:
    return Taken(f"There is a customer {name} already.", fields={"name": "There is a customer of this name already."})
