"""
The stays of one bay place in one week: what stands there, what is planned, and what is wrong between the two.

A vehicle that stands where it is planned is one stay, drawn from when it came to when it is planned to leave. A plan that
the fact contradicts is a stay of its own, with the contradiction as words on it.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from builds.models import BayPlace, Booking, Occupancy
from builds.selectors.bay_builds import BoardBuild
from builds.selectors.half_days import SHIFT_END, quarter_of

__all__ = ["Stay", "stays_of_place"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """
    One bar of the board.

    ``column`` and ``span`` are quarters of a day, from 1. ``before`` and ``beyond`` say that it goes on outside the week.
    ``over_column`` is where the promise cuts it, ``None`` where it does not. ``kind`` is "in" for a vehicle that stands
    there, "was" for one that did, "planned" for the plan alone.
    """

    kind: str
    build: BoardBuild
    booking: Booking | None
    occupancy: Occupancy | None
    start: datetime
    end: datetime
    column: int
    span: int
    before: bool
    beyond: bool
    conflict: str
    over_column: int | None
    over_span: int

    @property
    def state(self) -> tuple[str, str]:
        """The name of its shape, and its words; a collision of plan and fact comes first."""
        if self.conflict:
            return "caution", self.conflict
        if self.kind == "was":
            return "done", "Was here"
        standing = self.build.standing
        if self.kind == "planned" and standing.state in ("on_time", "planned"):
            return "planned", "Planned"
        return standing.state, standing.words


def stays_of_place(
    place: BayPlace,
    *,
    bookings: Sequence[Booking],
    occupancies: Sequence[Occupancy],
    builds: Mapping[int, BoardBuild],
    monday: date,
    days: int,
    now: datetime,
) -> tuple[Stay, ...]:
    """
    Return what one row of the board shows, from left to right.

    Parameters
    ----------
    place : BayPlace
        The row.
    bookings, occupancies : sequence of Booking, Occupancy
        Plan and fact of the whole week, of every place: a vehicle may stand elsewhere than planned.
    builds : mapping of int to BoardBuild
        What the board says of each build.
    monday, days : date, int
        The first day shown and how many there are.
    now : datetime
        The present, in the shop's zone.
    """
    draw = _Drawer(monday=monday, days=days, now=now, builds=builds)
    here = [stay for stay in occupancies if stay.place_id == place.pk]
    planned = [stay for stay in bookings if stay.place_id == place.pk]
    joined = {stay.pk: _plan_of(stay, planned, now) for stay in here}
    used = {booking.pk for booking in joined.values() if booking}
    found = [draw.fact(stay, joined[stay.pk]) for stay in here]
    found += [draw.plan(booking, _conflict(booking, occupancies, now)) for booking in planned if booking.pk not in used]
    return tuple(sorted((stay for stay in found if stay.span > 0), key=lambda stay: (stay.column, stay.start)))


def _plan_of(stay: Occupancy, planned: Iterable[Booking], now: datetime) -> Booking | None:
    """Return the booking that a fact fulfils: the same build's, in the same place, at the same time."""
    end = stay.during.upper or now
    return next(
        (
            booking
            for booking in planned
            if booking.build_id == stay.build_id
            and booking.during.lower < max(end, stay.during.lower + timedelta(minutes=1))
            and booking.during.upper > stay.during.lower
        ),
        None,
    )


def _conflict(booking: Booking, occupancies: Iterable[Occupancy], now: datetime) -> str:
    """Say where the fact contradicts a plan whose time has come, or will if nothing moves; empty where it does not."""
    return next(_conflicts(booking, occupancies, now), "")


def _conflicts(booking: Booking, occupancies: Iterable[Occupancy], now: datetime) -> Iterator[str]:
    inside = [stay for stay in occupancies if stay.during.upper is None]
    begun = booking.during.lower <= now < booking.during.upper
    for stay in inside:
        if stay.vehicle_id == booking.vehicle_id and begun:
            yield f"Stands in {stay.place} instead"
        if stay.place_id == booking.place_id and stay.build_id != booking.build_id and begun:
            yield f"{stay.place} still holds {stay.build.number}"
    if begun:
        yield "Not in the bay yet"
    elif booking.during.upper <= now:
        yield "Did not come"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Drawer:
    """Turns stays into bars of one week."""

    monday: date
    days: int
    now: datetime
    builds: Mapping[int, BoardBuild]

    def fact(self, stay: Occupancy, booking: Booking | None) -> Stay:
        """A vehicle that stands there, or stood there; its bar goes on to the end of its plan."""
        inside = stay.during.upper is None
        end = stay.during.upper or max(self.now, booking.during.upper if booking else self.now)
        overstays = inside and booking is not None and booking.during.upper < self.now
        conflict = "Longer than planned" if overstays else "Not planned" if inside and booking is None else ""
        return self._stay(
            "in" if inside else "was", self.builds[stay.build_id], booking, stay, stay.during.lower, end, conflict
        )

    def plan(self, booking: Booking, conflict: str) -> Stay:
        """A stay that is planned and not, or not there, a fact."""
        build = self.builds[booking.build_id]
        return self._stay("planned", build, booking, None, booking.during.lower, booking.during.upper, conflict)

    def _stay(
        self, kind: str, build: BoardBuild, booking: Booking | None, occupancy: Occupancy | None, start: datetime,
        end: datetime, conflict: str,
    ) -> Stay:  # fmt: skip
        left, right = self._quarter(start), self._quarter(end)
        right = max(right, left + 1) if left < self.days * 4 else right
        cut = self._cut(kind, build, left, right)
        return Stay(
            kind=kind, build=build, booking=booking, occupancy=occupancy, start=start, end=end,
            column=left + 1, span=(right if cut is None else cut) - left,
            before=start.astimezone(self.now.tzinfo).date() < self.monday,
            beyond=cut is None and end.astimezone(self.now.tzinfo).date() > self.monday + timedelta(days=self.days - 1),
            conflict=conflict, over_column=None if cut is None else cut + 1, over_span=0 if cut is None else right - cut,
        )  # fmt: skip

    def _cut(self, kind: str, build: BoardBuild, left: int, right: int) -> int | None:
        """Where the promise cuts the bar: its day's end, if the bar goes on beyond it and began before."""
        promised = build.build.promised_on
        if promised is None or kind == "was":
            return None
        zone = self.now.tzinfo
        post = quarter_of(datetime.combine(promised, SHIFT_END, tzinfo=zone), self.monday, self.days)
        return post if left < post < right else None

    def _quarter(self, moment: datetime) -> int:
        return quarter_of(moment.astimezone(self.now.tzinfo), self.monday, self.days)
