"""Vehicles by their VIN; a check digit that does not fit is kept only with a reason."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction

from builds.engineering.vin import read_vin
from builds.errors import BadInput, FieldConflict, StaleRow, Taken
from builds.models import Customer, Person, PlatformVersion, Vehicle
from builds.permissions import Action, check_may
from builds.services.actors import act_as

__all__ = ["add_vehicle", "change_vehicle", "vin_faults"]

_OLDEST_YEAR, _NEWEST_YEAR = 1900, 2100


def add_vehicle(
    *, customer: Customer, platform: PlatformVersion, values: Mapping[str, Any], by: Person, at: datetime
) -> Vehicle:
    """
    Write down a vehicle: ``vin``, ``vin_exception``, ``unit_number``, ``model_year``, ``sold_before``.

    Raises
    ------
    BadInput
        If the VIN has characters or a length that no VIN has, or a check digit that does not fit and no reason.
    Taken
        If the VIN is another vehicle's.
    """
    check_may(by, Action.OPEN_BUILD)
    kept = _checked(values)
    try:
        with transaction.atomic():
            act_as(by)
            return Vehicle.objects.create(customer=customer, platform=platform, **kept)
    except IntegrityError as error:
        raise _taken(kept["vin"]) from error


def change_vehicle(*, vehicle: Vehicle, values: Mapping[str, Any], row_version: int, by: Person) -> Vehicle:
    """Change what is known of a vehicle. Raises BadInput, StaleRow, Taken."""
    check_may(by, Action.OPEN_BUILD)
    kept = _checked(values)
    try:
        with transaction.atomic():
            act_as(by)
            fresh = Vehicle.objects.select_for_update().get(pk=vehicle.pk)
            _check_version(fresh, kept, row_version)
            for name, value in kept.items():
                setattr(fresh, name, value)
            fresh.row_version += 1
            fresh.save()
    except IntegrityError as error:
        raise _taken(kept["vin"]) from error
    return fresh


def vin_faults(vin: str, vin_exception: str = "") -> dict[str, str]:
    """Return what keeps a VIN from being taken, by field; an empty one may follow later."""
    if not vin:
        return {}
    reading = read_vin(vin)
    for message in reading.messages:
        if message.code in ("vin-length", "vin-characters"):
            return {"vin": message.text}
        if message.code == "vin-check-digit" and len(vin_exception.strip()) < 5:  # a dot is not a reason
            return {"vin": message.text, "vin_exception": "Say why this number is kept, or correct it."}
    return {}


def _checked(values: Mapping[str, Any]) -> dict[str, Any]:
    vin = "".join(str(values.get("vin", "")).split()).upper()
    kept: dict[str, Any] = {
        "vin": vin,
        "vin_exception": str(values.get("vin_exception", "")).strip()[:200],
        "unit_number": str(values.get("unit_number", "")).strip()[:40],
        "model_year": values.get("model_year"),
        "sold_before": bool(values.get("sold_before")),
    }
    fields = vin_faults(vin, kept["vin_exception"])
    year = kept["model_year"]
    if year is not None and not _OLDEST_YEAR <= year <= _NEWEST_YEAR:
        fields["model_year"] = f"Write a year from {_OLDEST_YEAR} to {_NEWEST_YEAR}."
    if fields:
        raise BadInput(fields)
    if read_vin(vin).fits:
        kept["vin_exception"] = ""
    return kept


def _check_version(fresh: Vehicle, values: Mapping[str, Any], row_version: int) -> None:
    if fresh.row_version == row_version:
        return
    conflicts = tuple(
        FieldConflict(field=name, yours=str(value), theirs=str(getattr(fresh, name)))
        for name, value in values.items()
        if getattr(fresh, name) != value
    )
    message = "Someone changed this vehicle while you had it open."
    raise StaleRow(message, conflicts=conflicts, row_version=fresh.row_version)


def _taken(vin: str) -> Taken:
    known = Vehicle.objects.filter(vin=vin).select_related("customer").first()
    owner = f": {known.unit_number or 'a vehicle'} of {known.customer}" if known else ""
    return Taken(f"This VIN is on file already{owner}.", fields={"vin": f"This VIN is on file already{owner}."})
