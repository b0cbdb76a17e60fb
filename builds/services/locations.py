"""Where a vehicle is and who has its keys: every move is an event that is only ever added."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from builds.errors import BadInput, Taken
from builds.models import BayPlace, Build, CheckIn, KeyEvent, LocationEvent, Person
from builds.permissions import Action, check_may
from builds.services.actors import act_as
from builds.services.bays import enter_bay, leave_bay, open_occupancy

__all__ = ["hand_keys", "move_vehicle"]

_MOST_KEYS = 20


def move_vehicle(
    *,
    build: Build,
    kind: str,
    event_id: UUID,
    by: Person,
    at: datetime,
    spot: str = "",
    bay_place: BayPlace | None = None,
    has_left: str = "",
) -> LocationEvent:
    """
    Record where the build's vehicle is from now on; bays are entered and left as it moves.

    Parameters
    ----------
    build : Build
        Whose vehicle moved.
    kind : str
        One of LocationEvent.Kind.
    event_id : UUID
        Made by the page or the device, once per move.
    by, at : Person, datetime
        Who says so, and when it was.
    spot, bay_place : str, BayPlace or None
        Where it is: which bay for a bay, the spot in words for the rest.
    has_left : str
        The number of the build that the record still has in that bay, if the person says that it has left.

    Raises
    ------
    BadInput
        If it does not say where.
    Occupied
        If another vehicle stands in the bay place by the record and ``has_left`` does not name its build.
    Taken
        If the id stands for another move.
    """
    check_may(by, Action.MOVE_VEHICLE)
    faults = _faults(kind, spot, bay_place)
    if faults:
        raise BadInput(faults)
    with transaction.atomic():
        act_as(by)
        if bay_place is not None and kind == LocationEvent.Kind.BAY:
            enter_bay(build=build, place=bay_place, event_id=event_id, by=by, at=at, has_left=has_left)
            return LocationEvent.objects.filter(vehicle_id=build.vehicle_id).latest("at", "pk")
        if open_occupancy(build) is not None:
            return leave_bay(build=build, to_kind=kind, spot=spot, event_id=event_id, by=by, at=at)
        event, made = LocationEvent.objects.get_or_create(
            event_id=event_id,
            defaults={
                "vehicle_id": build.vehicle_id, "build": build, "kind": kind, "spot": spot.strip(), "by": by, "at": at
            },
        )  # fmt: skip
        if not made and (event.build_id, event.kind, event.spot) != (build.pk, kind, spot.strip()):
            raise Taken("This entry's id already stands for another move.")
    return event


def _faults(kind: str, spot: str, bay_place: BayPlace | None) -> dict[str, str]:
    if kind not in LocationEvent.Kind.values:
        return {"kind": "Say what sort of place it is: bay, lot, sublet, customer or road."}
    if kind == LocationEvent.Kind.BAY:
        return {} if bay_place is not None else {"bay_place": "Say which bay."}
    if not spot.strip():
        return {"spot": "Say where it stands: lot row, the paint shop's name, who drives it."}
    return {"spot": "Keep the place to 80 letters."} if len(spot.strip()) > 80 else {}


def hand_keys(
    *, build: Build, count: int, event_id: UUID, by: Person, at: datetime, hook: str = "", holder: str = ""
) -> KeyEvent:
    """
    Record how many keys there are and where: on a hook, or with someone.

    Raises
    ------
    BadInput
        If neither hook nor holder is named or both are, if no keys hang on a hook or another vehicle's do, or if the vehicle
        never came in.
    Taken
        If the id stands for another entry.
    """
    check_may(by, Action.MOVE_VEHICLE)
    hook, holder = hook.strip(), holder.strip()
    faults = {}
    if not hook and not holder:
        faults["hook"] = "Say where the keys are: on which hook, or who has them."
    if hook and holder:
        faults["holder"] = "Say one of the two: the keys hang on a hook, or someone has them."
    if len(hook) > 40:
        faults["hook"] = "Keep the hook to 40 letters."
    if len(holder) > 80:
        faults["holder"] = "Keep the name to 80 letters."
    if not 0 <= count <= _MOST_KEYS:
        faults["count"] = f"Count the keys: 0 to {_MOST_KEYS}."
    elif hook and not count:
        faults["count"] = "No keys hang on no hook: count them, or say who has them."
    if faults:
        raise BadInput(faults)
    with transaction.atomic():
        act_as(by)
        told = {"vehicle_id": build.vehicle_id, "build": build, "count": count, "hook": hook, "holder": holder}
        if not KeyEvent.objects.filter(event_id=event_id).exists():
            _check_keys(build, hook)
        event, made = KeyEvent.objects.get_or_create(event_id=event_id, defaults=told | {"by": by, "at": at})
        if not made and any(getattr(event, name) != value for name, value in told.items()):
            raise Taken("This entry's id already stands for another entry about keys.")
    return event


def _check_keys(build: Build, hook: str) -> None:
    """Raise BadInput where keys are spoken of that nobody handed over, or a hook that another vehicle's keys hang on."""
    if not CheckIn.objects.filter(vehicle_id=build.vehicle_id, direction=CheckIn.Direction.IN).exists():
        raise BadInput(
            {"count": f"The vehicle of {build.number} has not come in yet: its keys come with the check-in."}
        )
    if not hook:
        return
    newest = KeyEvent.objects.exclude(vehicle_id=build.vehicle_id).order_by("vehicle_id", "-at", "-pk")
    others = KeyEvent.objects.filter(pk__in=newest.distinct("vehicle_id").values("pk"), hook__iexact=hook, count__gt=0)
    other = others.select_related("build").first()
    if other is not None:
        raise BadInput(
            {
                "hook": f"The keys of {other.build.number} hang there by the record. Say first where those are, or take another hook."
            }
        )
