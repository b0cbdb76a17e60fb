"""Where every vehicle is and who has its keys: the two questions asked most in a day, answered in words."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any
from uuid import UUID

from builds.engineering.vocabulary import UnitSystem
from builds.models import (
    BayPlace,
    Build,
    CheckIn,
    KeyEvent,
    LocationEvent,
    Occupancy,
    Photo,
    Stage,
    StoredFile,
    Vehicle,
)

__all__ = [
    "KM_PER_MILE",
    "Check",
    "YardRow",
    "YardVehicle",
    "bay_places",
    "checks_of",
    "expected_builds",
    "keys_words",
    "odometer_words",
    "vehicle_of",
    "yard_rows",
]

_OVER = (Stage.CLOSED, Stage.CANCELLED)
_EXPECTED = (Stage.APPROVED, Stage.IN_WORK, Stage.FINAL_CHECK)
_ON_SITE = (LocationEvent.Kind.BAY, LocationEvent.Kind.LOT)


KM_PER_MILE = Decimal("1.609344")  # exact: the international mile of 1959


def odometer_words(odometer_km: Decimal, units: str) -> str:
    """Return an odometer as a build's units show it, in miles or kilometres to a tenth."""
    if units == UnitSystem.US:
        return f"{(odometer_km / KM_PER_MILE).quantize(Decimal('0.1'), ROUND_HALF_UP):,} mi"
    return f"{odometer_km.quantize(Decimal('0.1')):,} km"


@dataclass(frozen=True, slots=True, kw_only=True)
class YardRow:
    """One vehicle: where it is by the newest event, since when, and its keys."""

    vehicle: Vehicle
    build: Build
    check: CheckIn | None
    location: LocationEvent | None
    keys: KeyEvent | None

    @property
    def checked_in(self) -> bool:
        """Whether it was checked in and not out again."""
        return self.check is not None and self.check.direction == CheckIn.Direction.IN

    @property
    def where(self) -> str:
        """The place, in words; a place outside the shop says so."""
        if self.location is None:
            return "Nobody wrote down where it stands"
        prefix = {
            LocationEvent.Kind.SUBLET: "Away: ",
            LocationEvent.Kind.CUSTOMER: "With ",
            LocationEvent.Kind.ROAD: "On the road: ",
        }
        return f"{prefix.get(LocationEvent.Kind(self.location.kind), '')}{self.location.spot}"

    @property
    def keys_words(self) -> str:
        """Where the keys are, in words."""
        return keys_words(self.keys)


def keys_words(event: KeyEvent | None) -> str:
    """Return how many keys there are and where, in words."""
    if event is None:
        return "Nobody wrote down where the keys are"
    count = f"{event.count} key{'' if event.count == 1 else 's'}"
    place = f"on {'' if event.hook.casefold().startswith('hook') else 'hook '}{event.hook}" if event.hook else ""
    held = f"with {event.holder}" if event.holder else ""
    return f"{count} {' '.join(part for part in (place, held) if part)}"


def yard_rows(words: str = "") -> tuple[YardRow, ...]:
    """
    Return every vehicle on site, by where it is; five questions, however many there are.

    On site is what was checked in and not out, and what was put in a bay or on the lot without anyone checking it in.
    ``words`` keeps those whose build number, unit, VIN or place holds them.
    """
    checks = _newest(CheckIn)
    locations = _newest(LocationEvent)
    keys = _newest(KeyEvent)
    inside = {pk for pk, check in checks.items() if check.direction == CheckIn.Direction.IN}
    unwritten = {pk for pk, event in locations.items() if event.kind in _ON_SITE and pk not in checks}
    vehicles = Vehicle.objects.filter(pk__in=inside | unwritten).select_related("customer")
    builds = _builds([vehicle.pk for vehicle in vehicles])
    rows = [_row(vehicle, builds, checks, locations, keys) for vehicle in vehicles]
    return tuple(
        sorted((row for row in rows if row and _has(row, words)), key=lambda row: (row.where, row.build.number))
    )


def _newest(kind: type[CheckIn] | type[LocationEvent] | type[KeyEvent]) -> dict[int, Any]:
    events = kind._default_manager.order_by("vehicle_id", "-at", "-pk").distinct("vehicle_id")
    return {event.vehicle_id: event for event in events.select_related("build__customer", "by")}


def _builds(vehicles: Iterable[int]) -> dict[int, Build]:
    """The newest build of each vehicle that is not over."""
    builds = (
        Build.objects.filter(vehicle__in=list(vehicles)).exclude(stage__in=_OVER).select_related("customer", "vehicle")
    )
    return {build.vehicle_id: build for build in builds.order_by("opened_at")}


def _row(
    vehicle: Vehicle, builds: dict[int, Build], checks: dict[int, Any], locations: dict[int, Any], keys: dict[int, Any]
) -> YardRow | None:
    check, location = checks.get(vehicle.pk), locations.get(vehicle.pk)
    told = check if check is not None and check.direction == CheckIn.Direction.IN else location
    build = told.build if told is not None else builds.get(vehicle.pk)
    if build is None:
        return None
    return YardRow(vehicle=vehicle, build=build, check=check, location=location, keys=keys.get(vehicle.pk))


def _has(row: YardRow, words: str) -> bool:
    text = f"{row.build.number} {row.vehicle.unit_number} {row.vehicle.vin} {row.where} {row.build.customer.name}"
    return all(word in text.casefold() for word in words.casefold().split())


def expected_builds() -> Sequence[Build]:
    """Return builds that wait for their vehicle, the earliest promise first."""
    here = {pk for pk, check in _newest(CheckIn).items() if check.direction == CheckIn.Direction.IN}
    builds = Build.objects.filter(stage__in=_EXPECTED).exclude(vehicle__in=here)
    return list(builds.select_related("customer", "vehicle").order_by("promised_on", "number"))


def bay_places(build: Build) -> dict[BayPlace, str]:
    """Return every bay place with the number of the other build that the record has in it, empty where it has none."""
    inside = Occupancy.objects.filter(during__upper_inf=True).exclude(vehicle_id=build.vehicle_id)
    numbers = dict(inside.values_list("place_id", "build__number"))
    places = BayPlace.objects.select_related("bay").order_by("bay__line", "number")
    return {place: numbers.get(place.pk, "") for place in places}


@dataclass(frozen=True, slots=True, kw_only=True)
class YardVehicle:
    """Everything the yard knows of one build's vehicle."""

    row: YardRow
    locations: Sequence[LocationEvent]
    keys: Sequence[KeyEvent]


def vehicle_of(build: Build) -> YardVehicle:
    """Return where the vehicle of a build is and was, the newest first."""
    locations = list(
        LocationEvent.objects.filter(vehicle_id=build.vehicle_id)
        .select_related("by", "build")
        .order_by("-at", "-pk")[:30]
    )
    keys = list(KeyEvent.objects.filter(vehicle_id=build.vehicle_id).select_related("by").order_by("-at", "-pk")[:30])
    check = (
        CheckIn.objects.filter(vehicle_id=build.vehicle_id).select_related("by", "build").order_by("-at", "-pk").first()
    )
    row = YardRow(
        vehicle=build.vehicle, build=build, check=check, location=locations[0] if locations else None,
        keys=keys[0] if keys else None,
    )  # fmt: skip
    return YardVehicle(row=row, locations=locations, keys=keys)


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A check-in or check-out with its photos."""

    entry: CheckIn
    photos: Sequence[StoredFile]


def checks_of(build: Build, photo_ids_of: Callable[[CheckIn], Iterable[UUID]]) -> tuple[Check | None, Check | None]:
    """Return the newest check-in of a build and the check-out that followed it, for the two to stand side by side."""
    checks = list(build.check_ins.select_related("by").order_by("-at", "-pk"))
    came = next((check for check in checks if check.direction == CheckIn.Direction.IN), None)
    left = next((c for c in checks if c.direction == CheckIn.Direction.OUT and came and c.at >= came.at), None)
    return (
        _with_photos(came, photo_ids_of) if came else None,
        _with_photos(left, photo_ids_of) if left else None,
    )


def _with_photos(check: CheckIn, photo_ids_of: Callable[[CheckIn], Iterable[UUID]]) -> Check:
    photos = Photo.objects.filter(event_id__in=photo_ids_of(check)).select_related("file").order_by("pk")
    return Check(entry=check, photos=[photo.file for photo in photos])
