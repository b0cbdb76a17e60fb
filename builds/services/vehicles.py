"""Vehicles by their VIN; a check digit that does not fit is kept only with a reason."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction

from builds.engineering.units import kilograms_kg
from builds.engineering.vin import read_vin, years_named
from builds.errors import BadInput, FieldConflict, StaleRow, Taken
from builds.models import Customer, Person, PlatformVersion, Stage, Vehicle
from builds.permissions import Action, check_may
from builds.services.actors import act_as

__all__ = ["add_vehicle", "change_vehicle", "take_over", "vin_faults", "year_of_vin"]

_DONE = (Stage.DELIVERED, Stage.CLOSED, Stage.CANCELLED)
_LIGHT_VEHICLE_KG = kilograms_kg(10_000)  # from there up position 7 of a VIN does not tell the cycle of its year
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
    if kept["model_year"] is None:
        kept["model_year"] = year_of_vin(kept["vin"], platform)
    try:
        with transaction.atomic():
            act_as(by)
            return Vehicle.objects.create(customer=customer, platform=platform, **kept)
    except IntegrityError as error:
        raise _taken(kept["vin"]) from error


def year_of_vin(vin: str, platform: PlatformVersion) -> int | None:
    """Return the model year that a number tells; where it can be either of two, the one the platform is for."""
    reading = read_vin(vin, heavy=platform.gvwr_kg > _LIGHT_VEHICLE_KG) if vin else None
    years = reading.model_years if reading and reading.fits else ()
    if len(years) > 1:
        years = tuple(year for year in years if year in years_named(f"{platform.name} {platform.version}"))
    return years[0] if len(years) == 1 else None


def take_over(*, vehicle: Vehicle, customer: Customer, values: Mapping[str, Any], by: Person) -> Vehicle:
    """
    Write down that a vehicle on file now belongs to another customer.

    Its earlier builds, their packets and registers stay with it and with whoever ordered them. ``values`` are what is known
    of it now; a unit number or year left empty stays as it was.

    Raises
    ------
    Taken
        If a build of the former owner's is still open with it.
    BadInput
        If a value cannot be taken.
    """
    check_may(by, Action.OPEN_BUILD)
    kept = _checked(values)
    with transaction.atomic():
        act_as(by)
        fresh = Vehicle.objects.select_for_update(of=("self",)).select_related("customer").get(pk=vehicle.pk)
        still = fresh.builds.exclude(stage__in=_DONE).exclude(customer=customer).order_by("number").first()
        if still is not None:
            words = f"Build {still.number} of {still.customer} is still open with this vehicle. Deliver, close or cancel it first."
            raise Taken(words, fields={"vin": words})
        fresh.customer, fresh.sold_before = customer, True
        fresh.unit_number = kept["unit_number"] or fresh.unit_number
        fresh.model_year = kept["model_year"] or fresh.model_year
        fresh.row_version += 1
        fresh.save()
    return fresh


def change_vehicle(*, vehicle: Vehicle, values: Mapping[str, Any], row_version: int, by: Person) -> Vehicle:
    """Change what is known of a vehicle. Raises BadInput, StaleRow, Taken."""
    check_may(by, Action.OPEN_BUILD)
    kept = _checked(values)
    try:
        with transaction.atomic():
            act_as(by)
            fresh = Vehicle.objects.select_for_update().get(pk=vehicle.pk)
            _check_version(fresh, kept, row_version)
            if kept["model_year"] is None:
                kept["model_year"] = year_of_vin(kept["vin"], fresh.platform)
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
