"""
Which bay is planned for whom, and which is taken: bookings are the plan, occupancies the fact.

In each of the two nothing overlaps per bay place nor per vehicle; the database keeps that by exclusion constraints which
wait until the end of a service, so that two bookings can change places in one go. A fact is never refused because the
plan says something else: the board shows where they collide.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from django.db import IntegrityError, connection, transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from builds.errors import BadInput, BuildError, FieldConflict, GuardRefused, NotHere, Occupied, StaleRow, Taken
from builds.models import BayPlace, Booking, Build, LocationEvent, Occupancy, Person, Stage
from builds.permissions import Action, check_may
from builds.selectors.shop_time import day_and_time, shop_zone
from builds.services.actors import act_as
from builds.services.refusals import check_constraints_now, constraint_of, put_constraints_off

__all__ = [
    "BookingMove",
    "book",
    "cancel_booking",
    "enter_bay",
    "leave_bay",
    "move_booking",
    "move_bookings",
    "open_occupancy",
    "swap_bookings",
]

_BOOKING = ("builds_booking_one_per_place", "builds_booking_one_per_vehicle")
_OCCUPANCY = ("builds_occupancy_one_per_place", "builds_occupancy_one_per_vehicle")
_SHORTEST_STAY = timedelta(minutes=15)  # common practice: nobody drives a vehicle in and out for less
_OVER = (Stage.DELIVERED, Stage.CLOSED, Stage.CANCELLED)


@dataclass(frozen=True, slots=True, kw_only=True)
class BookingMove:
    """Where a booking is to go; ``row_version`` is the version the person saw."""

    booking: Booking
    place: BayPlace
    start: datetime
    end: datetime
    row_version: int


def book(
    *, build: Build, place: BayPlace, start: datetime, end: datetime, by: Person, at: datetime, purpose: str = ""
) -> Booking:
    """
    Plan a stay of the build's vehicle in a bay place.

    Raises
    ------
    BadInput
        If the end is not after the start, the stay is shorter than a quarter of an hour, or it is all over already.
    Taken
        If the place or the vehicle is booked in that time; says for whom or where, and until when.
    GuardRefused
        If the build is delivered, closed or cancelled.
    """
    check_may(by, Action.PLAN_BAYS)
    _check_span(start, end, at)
    if build.stage in _OVER:
        raise GuardRefused(f"Build {build.number} is {Stage(build.stage).label.lower()}.", missing=("open",))
    booking = Booking(
        build=build,
        vehicle_id=build.vehicle_id,
        place=place,
        during=_span(start, end),
        purpose=purpose.strip()[:80],
        by=by,
    )
    _write([booking], by)
    return booking


def move_booking(
    *, booking: Booking, place: BayPlace, start: datetime, end: datetime, row_version: int, by: Person, at: datetime
) -> Booking:
    """Give a booking another place or time. Raises BadInput, Taken, StaleRow."""
    move = BookingMove(booking=booking, place=place, start=start, end=end, row_version=row_version)
    return move_bookings(moves=[move], by=by, at=at)[0]


def swap_bookings(*, first: BookingMove, second: BookingMove, by: Person, at: datetime) -> tuple[Booking, ...]:
    """Let two bookings go where each is told, both or neither; they may take each other's place. Raises as a move."""
    return move_bookings(moves=[first, second], by=by, at=at)


def move_bookings(*, moves: Sequence[BookingMove], by: Person, at: datetime) -> tuple[Booking, ...]:
    """Move several bookings, all or none; only where they stand at the end must fit. Raises BadInput, Taken, StaleRow."""
    check_may(by, Action.PLAN_BAYS)
    for move in moves:
        _check_span(move.start, move.end, at)
    with transaction.atomic():
        _stand_in_line()
        bookings = [_moved(move) for move in moves]
        _write(bookings, by)
    return tuple(bookings)


def cancel_booking(*, booking: Booking, row_version: int, by: Person, at: datetime) -> None:
    """Take a booking out of the plan; history keeps it. Raises StaleRow."""
    check_may(by, Action.PLAN_BAYS)
    with transaction.atomic():
        act_as(by)
        fresh = _locked(booking)
        _check_version(fresh, None, row_version)
        fresh.delete()


def _locked(booking: Booking) -> Booking:
    fresh = (
        Booking.objects.select_for_update(of=("self",))
        .select_related("build", "place__bay")
        .filter(pk=booking.pk)
        .first()
    )
    if fresh is None:
        raise NotHere("This booking was taken out of the plan.")
    return fresh


def _moved(move: BookingMove) -> Booking:
    fresh = _locked(move.booking)
    _check_version(fresh, move, move.row_version)
    fresh.place, fresh.during = move.place, _span(move.start, move.end)
    fresh.row_version += 1
    return fresh


def _check_version(fresh: Booking, move: BookingMove | None, row_version: int) -> None:
    if fresh.row_version == row_version:
        return
    zone = shop_zone()
    theirs = {
        "place": str(fresh.place),
        "start": day_and_time(fresh.during.lower, zone),
        "end": day_and_time(fresh.during.upper, zone),
    }
    yours = theirs if move is None else {
        "place": str(move.place), "start": day_and_time(move.start, zone), "end": day_and_time(move.end, zone)
    }  # fmt: skip
    conflicts = tuple(
        FieldConflict(field=name, yours=yours[name], theirs=theirs[name])
        for name in theirs
        if yours[name] != theirs[name]
    )
    now = f"{theirs['place']}, {theirs['start']} to {theirs['end']}"
    raise StaleRow(
        f"Someone moved this booking while you had it open: it is in {now} now.",
        conflicts=conflicts,
        row_version=fresh.row_version,
    )


def _check_span(start: datetime, end: datetime, at: datetime) -> None:
    """A plan is of time still to come and long enough to be one; what already happened is a fact, and is recorded."""
    if end <= start:
        raise BadInput({"end": "A stay ends after it starts."})
    if end - start < _SHORTEST_STAY:
        minutes = _SHORTEST_STAY // timedelta(minutes=1)
        raise BadInput({"end": f"A stay lasts {minutes} minutes or more."})
    if end <= at:
        raise BadInput(
            {"end": f"This stay was over at {day_and_time(end, shop_zone())}. Book time that is still to come."}
        )


def _span(start: datetime, end: datetime | None) -> DateTimeTZRange:
    return DateTimeTZRange(start, end, "[)")


def _write(rows: Sequence[Any], by: Person) -> None:
    """Save rows of one kind and have their exclusion constraints checked here, where a refusal can be put in words."""
    names = _BOOKING if isinstance(rows[0], Booking) else _OCCUPANCY
    try:
        with transaction.atomic():
            act_as(by)
            _stand_in_line()
            put_constraints_off(*names)
            for row in rows:
                row.save()
            check_constraints_now(*names)
    except IntegrityError as error:
        raise _collision(error, rows) from error


def _stand_in_line() -> None:
    """One writer of the plan or the fact at a time: two that lock several stays in other orders would block each other."""
    with connection.cursor() as cursor:
        cursor.execute("select pg_advisory_xact_lock(hashtext('baywright-bays'))")


def _collision(error: IntegrityError, rows: Sequence[Any]) -> BuildError:
    """Say with whom or where the database found an overlap."""
    by_place = constraint_of(error).endswith("one_per_place")
    if not by_place and not constraint_of(error).endswith("one_per_vehicle"):
        raise error
    verb = "booked" if isinstance(rows[0], Booking) else "taken"
    for row in rows:
        other = _overlapping(row, rows, by_place)
        if other is not None:
            until = f" until {day_and_time(other.during.upper, shop_zone())}" if other.during.upper else ""
            who = f"{row.place} is {verb} for" if by_place else f"The vehicle of {row.build.number} is {verb} in"
            return Taken(f"{who} {other.build.number if by_place else other.place}{until}.")
    return Taken("Two of these stays would overlap." if len(rows) > 1 else "This stay overlaps another.")


def _overlapping(row: Any, rows: Sequence[Any], by_place: bool) -> Any:
    same = {"place": row.place} if by_place else {"vehicle_id": row.vehicle_id}
    others = type(row)._default_manager.exclude(pk__in=[item.pk for item in rows if item.pk])
    return others.select_related("build", "place__bay").filter(during__overlap=row.during, **same).first()


def enter_bay(
    *, build: Build, place: BayPlace, event_id: UUID, by: Person, at: datetime, has_left: str = ""
) -> Occupancy:
    """
    Record that the build's vehicle stands in a bay place from now on, whatever the plan says.

    It leaves the bay it stood in before, if any. A vehicle that stands there by the record has left when this one stands
    there: its stay ends in the same act, once the person has named its build in ``has_left``. The same ``event_id`` sent
    again answers with the same stay.

    Raises
    ------
    Occupied
        If another vehicle stands there by the record and ``has_left`` does not name its build.
    """
    check_may(by, Action.MOVE_VEHICLE)
    with transaction.atomic():
        act_as(by)
        before = LocationEvent.objects.filter(event_id=event_id).first()
        if before is not None:
            return _entered_before(before, build, place)
        standing = open_occupancy(build)
        if standing is not None and standing.place_id == place.pk:
            return standing
        if standing is not None:
            _end(standing, at, by)
        _let_leave(place, has_left, event_id, by, at)
        stay = Occupancy(build=build, vehicle_id=build.vehicle_id, place=place, during=_span(at, None), by=by)
        _write([stay], by)
        LocationEvent.objects.create(
            event_id=event_id, vehicle_id=build.vehicle_id, build=build, kind=LocationEvent.Kind.BAY,
            spot=str(place)[:80], bay_place=place, by=by, at=at,
        )  # fmt: skip
    return stay


def leave_bay(*, build: Build, to_kind: str, spot: str, event_id: UUID, by: Person, at: datetime) -> LocationEvent:
    """Record that the build's vehicle left its bay, and where it is now. Raises BadInput, or NotHere if it is in none."""
    check_may(by, Action.MOVE_VEHICLE)
    if to_kind not in LocationEvent.Kind.values or to_kind == LocationEvent.Kind.BAY:
        raise BadInput({"kind": "Say where it went: lot, sublet, customer or road."})
    if not spot.strip() or len(spot.strip()) > 80:
        raise BadInput({"spot": "Say where it stands now, in at most 80 letters."})
    with transaction.atomic():
        act_as(by)
        before = LocationEvent.objects.filter(event_id=event_id).first()
        if before is not None:
            if (before.build_id, before.kind) != (build.pk, to_kind):
                raise Taken("This entry's id already stands for another move.")
            return before
        standing = open_occupancy(build)
        if standing is None:
            raise NotHere(f"By the record, {build.number} stands in no bay.")
        _end(standing, at, by)
        return LocationEvent.objects.create(
            event_id=event_id, vehicle_id=build.vehicle_id, build=build, kind=to_kind, spot=spot.strip(), by=by, at=at
        )


def open_occupancy(build: Build) -> Occupancy | None:
    """Return the bay stay of the build's vehicle that has not ended, whichever of its builds that belongs to."""
    return (
        Occupancy.objects.select_related("build", "place__bay")
        .filter(vehicle_id=build.vehicle_id, during__upper_inf=True)
        .first()
    )


def _entered_before(before: LocationEvent, build: Build, place: BayPlace) -> Occupancy:
    stay = Occupancy.objects.filter(build=build, place=place, during__startswith=before.at).first()
    if stay is None or before.build_id != build.pk or before.bay_place_id != place.pk:
        raise Taken("This entry's id already stands for another move.")
    return stay


def _let_leave(place: BayPlace, has_left: str, event_id: UUID, by: Person, at: datetime) -> None:
    """End the stay that the record still has in a place; where that vehicle went, nobody said."""
    other = Occupancy.objects.select_related("build").filter(place=place, during__upper_inf=True).first()
    if other is None:
        return
    number = other.build.number
    if has_left != number:
        since = day_and_time(other.during.lower, shop_zone())
        raise Occupied(f"{number} is recorded in {place} since {since}. If it has left, say so with this one.", number)
    _end(other, at, by)
    LocationEvent.objects.create(
        event_id=uuid5(event_id, number), vehicle_id=other.vehicle_id, build=other.build, kind=LocationEvent.Kind.LOT,
        spot=f"Left {place}; nobody said where to"[:80], by=by, at=at,
    )  # fmt: skip


def _end(stay: Occupancy, at: datetime, by: Person) -> None:
    if at <= stay.during.lower:
        raise BadInput(
            {"at": f"It came into {stay.place} at {day_and_time(stay.during.lower, shop_zone())}, after this."}
        )
    stay.during = _span(stay.during.lower, at)
    _write([stay], by)
