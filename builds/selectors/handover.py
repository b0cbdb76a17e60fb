"""What a person should know before a build is called delivered: that by the record its vehicle is still here."""

from collections.abc import Iterator
from dataclasses import dataclass

from builds.models import Build, CheckIn, LocationEvent, Occupancy

__all__ = ["HandoverCaution", "handover_cautions"]

_ON_SITE = (LocationEvent.Kind.BAY, LocationEvent.Kind.LOT)


@dataclass(frozen=True, slots=True, kw_only=True)
class HandoverCaution:
    """One thing that does not fit a delivered build; ``asks_check_out`` and ``asks_place`` say what puts it right."""

    words: str
    asks_check_out: bool = False
    asks_place: bool = False


def handover_cautions(build: Build) -> tuple[HandoverCaution, ...]:
    """Return what does not fit a delivered build; none of it holds the move back, for the vehicle may be gone all the same."""
    return tuple(_still_here(build))


def _still_here(build: Build) -> Iterator[HandoverCaution]:
    """By the newest events of the vehicle; it is out once it was checked out after it came."""
    stay = (
        Occupancy.objects.filter(vehicle_id=build.vehicle_id, during__upper_inf=True)
        .select_related("place__bay")
        .first()
    )
    check = CheckIn.objects.filter(vehicle_id=build.vehicle_id).order_by("-at", "-pk").first()
    where = LocationEvent.objects.filter(vehicle_id=build.vehicle_id).order_by("-at", "-pk").first()
    checked_in = check is not None and check.direction == CheckIn.Direction.IN
    place = str(stay.place) if stay else where.spot if where is not None and where.kind in _ON_SITE else ""
    if checked_in or place:
        where_words = f" ({place})" if place else ""
        mend = (
            "Check it out: odometer, marks and keys are then written down with who took it."
            if checked_in
            else "Nobody checked it in; say where it is now."
        )
        yield HandoverCaution(
            words=f"By the record the vehicle is still here{where_words}. {mend}",
            asks_check_out=checked_in,
            asks_place=not checked_in,
        )
