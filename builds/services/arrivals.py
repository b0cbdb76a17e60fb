"""A vehicle comes into the shop or leaves it: its condition, its place and its keys in one go, all of it or nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID, uuid5

from django.db import transaction

from builds.models import Build, CheckIn, LocationEvent, Person
from builds.services.check_ins import Condition, record
from builds.services.locations import hand_keys, move_vehicle

__all__ = ["Keys", "receive_vehicle", "send_off"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Keys:
    """How many keys there are, and on which hook or with whom."""

    count: int
    hook: str = ""
    holder: str = ""


def receive_vehicle(
    *,
    build: Build,
    condition: Condition,
    spot: str,
    keys: Keys,
    event_id: UUID,
    by: Person,
    at: datetime,
    photos: Sequence[bytes] = (),
) -> CheckIn:
    """
    Check a vehicle in, and say where it stands and where its keys are.

    The same ``event_id`` sent again changes nothing. Raises what check-in, move and keys raise.
    """
    with transaction.atomic():
        entry = record(
            build=build,
            direction=CheckIn.Direction.IN,
            condition=condition,
            photos=photos,
            event_id=event_id,
            by=by,
            at=at,
        )
        _place(entry, LocationEvent.Kind.LOT, spot, keys)
    return entry


def send_off(
    *,
    build: Build,
    condition: Condition,
    taken_by: str,
    key_count: int,
    event_id: UUID,
    by: Person,
    at: datetime,
    photos: Sequence[bytes] = (),
) -> CheckIn:
    """Check a vehicle out into the hands of ``taken_by``, with its keys; it leaves its bay, if it stands in one."""
    with transaction.atomic():
        entry = record(
            build=build,
            direction=CheckIn.Direction.OUT,
            condition=condition,
            photos=photos,
            event_id=event_id,
            by=by,
            at=at,
        )
        _place(entry, LocationEvent.Kind.CUSTOMER, taken_by, Keys(count=key_count, holder=taken_by))
    return entry


def _place(entry: CheckIn, kind: str, spot: str, keys: Keys) -> None:
    """The events that belong to a check-in carry ids derived from its own, so that they too arrive once."""
    move_vehicle(
        build=entry.build, kind=kind, spot=spot, event_id=uuid5(entry.event_id, "place"), by=entry.by, at=entry.at
    )
    hand_keys(
        build=entry.build, count=keys.count, hook=keys.hook, holder=keys.holder, event_id=uuid5(entry.event_id, "keys"),
        by=entry.by, at=entry.at,
    )  # fmt: skip
