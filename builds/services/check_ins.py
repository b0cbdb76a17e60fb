"""
A vehicle comes in and goes out: what was found on it, in the same words both times.

The two lists side by side are what settles an argument about a scratch. Photos of a check-in carry ids derived from its
own, so that they belong to it for ever and arrive once.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID, uuid5

from django.db import IntegrityError, transaction

from builds.errors import BadInput, GuardRefused, Taken
from builds.models import Build, CheckIn, Person, Photo
from builds.permissions import Action, check_may
from builds.selectors.shop_time import day_and_time, shop_zone
from builds.selectors.yard import odometer_words
from builds.services.actors import act_as
from builds.services.photos import add_photo

__all__ = ["MOST_PHOTOS", "Condition", "photo_ids", "record"]

MOST_PHOTOS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """How a vehicle was found; ``fuel_ratio`` is of a full tank or battery, 0 to 1."""

    odometer_km: Decimal
    fuel_ratio: Decimal
    warning_lamps: str = ""
    stored_faults: str = ""
    damage: str = ""
    loose_property: str = ""
    plate: str = ""


def record(
    *,
    build: Build,
    direction: str,
    condition: Condition,
    event_id: UUID,
    by: Person,
    at: datetime,
    photos: Sequence[bytes] = (),
) -> CheckIn:
    """
    Check a build's vehicle in or out, with its photos; all of it or nothing is kept.

    The same ``event_id`` sent again answers with the check-in it made first.

    Raises
    ------
    BadInput
        If a figure cannot be, or a photo cannot be read.
    GuardRefused
        If it is in already, or was never checked in.
    Taken
        If ``event_id`` already stands for another check-in.
    """
    check_may(by, Action.CHECK_IN_VEHICLE)
    with transaction.atomic():
        act_as(by)
        Build.objects.select_for_update(no_key=True).get(pk=build.pk)
        before = CheckIn.objects.filter(event_id=event_id).first()
        if before is not None:
            return _sent_before(before, build, direction)
        newest = CheckIn.objects.filter(vehicle_id=build.vehicle_id).select_related("build").last()
        _check_direction(build, direction, newest)
        faults = _faults(condition, newest, build.units) | _photo_faults(photos)
        if faults:
            raise BadInput(faults)
        entry = _insert(build, direction, condition, event_id, by, at)
        for photo_id, content in zip(photo_ids(entry), photos, strict=False):
            add_photo(
                build=build, kind=Photo.Kind.CHECK_IN, content=content, event_id=photo_id, by=by, at=at,
                caption=f"Check-{direction}",
            )  # fmt: skip
    return entry


def photo_ids(entry: CheckIn) -> tuple[UUID, ...]:
    """Return the ids that the photos of a check-in have, in their order, as many as there can be."""
    return tuple(uuid5(entry.event_id, f"photo {number}") for number in range(1, MOST_PHOTOS + 1))


def _insert(build: Build, direction: str, condition: Condition, event_id: UUID, by: Person, at: datetime) -> CheckIn:
    try:
        with transaction.atomic():
            return CheckIn.objects.create(
                event_id=event_id, build=build, vehicle_id=build.vehicle_id, direction=direction,
                odometer_km=condition.odometer_km, fuel_ratio=condition.fuel_ratio,
                warning_lamps=condition.warning_lamps.strip(), stored_faults=condition.stored_faults.strip(),
                damage=condition.damage.strip(), loose_property=condition.loose_property.strip(),
                plate=condition.plate.strip(), by=by, at=at,
            )  # fmt: skip
    except IntegrityError as error:
        raise Taken("This entry's id already stands for another check-in. Enter it again.") from error


def _sent_before(before: CheckIn, build: Build, direction: str) -> CheckIn:
    if (before.build_id, before.direction) != (build.pk, direction):
        raise Taken("This entry's id already stands for another check-in. Enter it again.")
    return before


def _check_direction(build: Build, direction: str, newest: CheckIn | None) -> None:
    if direction not in CheckIn.Direction.values:
        raise BadInput({"direction": "Say whether it comes in or goes out."})
    is_in = newest is not None and newest.direction == CheckIn.Direction.IN
    if direction == CheckIn.Direction.IN and newest is not None and is_in:
        since = day_and_time(newest.at, shop_zone())
        raise GuardRefused(f"It is checked in for {newest.build.number} since {since}.", missing=("vehicle-out",))
    if direction == CheckIn.Direction.OUT and (newest is None or not is_in or newest.build_id != build.pk):
        raise GuardRefused("It is not checked in for this build, so it cannot be checked out.", missing=("vehicle-in",))


def _faults(condition: Condition, newest: CheckIn | None, units: str) -> dict[str, str]:
    faults = {}
    odometer = condition.odometer_km
    if not odometer.is_finite() or not 0 <= odometer < 10**8 or odometer != round(odometer, 1):
        faults["odometer"] = "Write the odometer as it stands, 0 or more, to a tenth at most."
    elif newest is not None and odometer < newest.odometer_km:
        faults["odometer"] = f"It stood at {odometer_words(newest.odometer_km, units)} last time. Read it again."
    fuel = condition.fuel_ratio
    if not fuel.is_finite() or not 0 <= fuel <= 1 or fuel != round(fuel, 3):
        faults["fuel"] = "Say how full it is, from 0 to 100 %."
    for name, longest in (("warning_lamps", 200), ("stored_faults", 200), ("plate", 20)):
        if len(getattr(condition, name).strip()) > longest:
            faults[name] = f"Keep this to {longest} letters."
    return faults


def _photo_faults(photos: Sequence[bytes]) -> dict[str, str]:
    return {"photos": f"Send at most {MOST_PHOTOS} photos."} if len(photos) > MOST_PHOTOS else {}
