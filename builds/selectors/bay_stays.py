"""
The stays of one bay place in one week: what stands there, what is planned, and what is wrong between the two.

A vehicle that stands where it is planned is one stay, drawn from when it came to when it is planned to leave. A plan that
the fact contradicts is a stay of its own, with the contradiction as words on it.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from builds.models import BayPlace, Booking, Occupancy
from builds.selectors.bay_builds import BoardBuild
from builds.selectors.half_days import SHIFT_END, quarter_of

__all__ = ["Stay", "stays_of_place"]


_WORDS_NEED = 6  # quarters of a day that a number, a state and a name take up


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """
    One bar of the board.

    ``column`` and ``span`` are quarters of a day, from 1. ``before`` and ``beyond`` say that it goes on outside the week.
    ``over_column`` is where the promise cuts it, ``None`` where it does not. ``kind`` is "in" for a vehicle that stands
    there, "was" for one that did, "planned" for the plan alone. ``fact_span`` is how far the fact reaches into the bar.
    ``reach`` is what the bar and its words take up, in columns; ``line`` is the line of the row, from 1, on which it meets
    no other.
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
    fact_span: int
    reach: tuple[int, int]
    line: int = 1

    @property
    def narrow(self) -> str:
        """Whether its words stand beside the bar, which is too short for them: "right", "left" or an empty text."""
        if self.reach == (self.column, self.column + self.span + self.over_span):
            return ""
        return "left" if self.reach[0] < self.column else "right"

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
    found = [draw.fact(stay, joined[stay.pk]) for stay in here]
    for booking in planned:
        done = [stay for stay in here if joined[stay.pk] == booking]
        if not _is_told(booking, done, now):
            found.append(draw.plan(booking, done, _conflict(booking, done, occupancies, now)))
    return _on_lines(sorted((stay for stay in found if stay.span > 0), key=lambda stay: (stay.column, stay.start)))


def _on_lines(stays: Iterable[Stay]) -> tuple[Stay, ...]:
    """Put each stay on the first line of the row where it meets no other: a row grows where plan and fact collide."""
    lines: list[list[Stay]] = []
    placed = []
    for stay in stays:
        free = next((line for line in lines if not any(_meet(stay, other) for other in line)), None)
        if free is None:
            free = []
            lines.append(free)
        free.append(stay)
        placed.append(replace(stay, line=next(n for n, line in enumerate(lines) if line is free) + 1))
    return tuple(placed)


def _meet(one: Stay, other: Stay) -> bool:
    return one.reach[0] < other.reach[1] and other.reach[0] < one.reach[1]


def _reach(column: int, span: int, columns: int) -> tuple[int, int]:
    """A short bar's words run on beside it: to the right, or to the left where the week ends."""
    if span >= _WORDS_NEED:
        return column, column + span
    return (
        (column, column + _WORDS_NEED)
        if column + _WORDS_NEED <= columns + 1
        else (column + span - _WORDS_NEED, column + span)
    )


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


def _is_told(booking: Booking, done: Sequence[Occupancy], now: datetime) -> bool:
    """Whether the facts tell all there is of a plan: the vehicle stands there, or did and the time is over."""
    return bool(done) and (booking.during.upper <= now or any(stay.during.upper is None for stay in done))


def _conflict(booking: Booking, done: Sequence[Occupancy], occupancies: Iterable[Occupancy], now: datetime) -> str:
    """Say where the fact contradicts a plan whose time has come; empty where it does not."""
    return next(_conflicts(booking, done, occupancies, now), "")


def _conflicts(
    booking: Booking, done: Sequence[Occupancy], occupancies: Iterable[Occupancy], now: datetime
) -> Iterator[str]:
    inside = [stay for stay in occupancies if stay.during.upper is None]
    begun = booking.during.lower <= now < booking.during.upper
    for stay in inside:
        if stay.vehicle_id == booking.vehicle_id and begun:
            yield f"Stands in {stay.place} instead"
        if stay.place_id == booking.place_id and stay.build_id != booking.build_id and begun:
            yield f"{stay.place} still holds {stay.build.number}"
    if begun:
        yield "Left, not back yet" if done else "Not in the bay yet"
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

    def plan(self, booking: Booking, done: Sequence[Occupancy], conflict: str) -> Stay:
        """A stay that is planned and not, or no longer, a fact; what was a fact before is not drawn twice."""
        start = max([booking.during.lower, *(stay.during.upper for stay in done)])
        return self._stay(
            "planned", self.builds[booking.build_id], booking, None, start, booking.during.upper, conflict
        )

    def _stay(
        self, kind: str, build: BoardBuild, booking: Booking | None, occupancy: Occupancy | None, start: datetime,
        end: datetime, conflict: str,
    ) -> Stay:  # fmt: skip
        left, right = self._start_quarter(start, is_fact=occupancy is not None), self._quarter(end)
        ends_before = end.astimezone(self.now.tzinfo).date() < self.monday
        right = max(right, left + 1) if left < self.days * 4 and not ends_before else right
        cut = self._cut(kind, build, left, right)
        until = right if cut is None else cut
        to_come = kind == "planned" or self.now.date() < self.monday
        fact = 0 if to_come else max(1, min(until, self._quarter(self.now if kind == "in" else end)) - left)
        return Stay(
            kind=kind, build=build, booking=booking, occupancy=occupancy, start=start, end=end,
            column=left + 1, span=until - left,
            before=start.astimezone(self.now.tzinfo).date() < self.monday,
            beyond=cut is None and end.astimezone(self.now.tzinfo).date() > self.monday + timedelta(days=self.days - 1),
            conflict=conflict, over_column=None if cut is None else cut + 1, over_span=0 if cut is None else right - cut, fact_span=fact,
            reach=_reach(left + 1, right - left, self.days * 4),
        )  # fmt: skip

    def _cut(self, kind: str, build: BoardBuild, left: int, right: int) -> int | None:
        """Where the promise cuts the bar: its day's end, if the bar goes on beyond it and began before."""
        promised = build.build.promised_on
        if promised is None or kind == "was":
            return None
        zone = self.now.tzinfo
        post = quarter_of(datetime.combine(promised, SHIFT_END, tzinfo=zone), self.monday, self.days)
        return post if left < post < right else None

    def _start_quarter(self, moment: datetime, *, is_fact: bool) -> int:
        """A stay that begins in a day's last minutes begins on that day; a plan for after the shift, on the next."""
        local = moment.astimezone(self.now.tzinfo)
        quarter, day = self._quarter(moment), (local.date() - self.monday).days
        if 0 <= day < self.days and (is_fact or local.time() < SHIFT_END):
            return min(quarter, day * 4 + 3)
        return quarter

    def _quarter(self, moment: datetime) -> int:
        return quarter_of(moment.astimezone(self.now.tzinfo), self.monday, self.days)
