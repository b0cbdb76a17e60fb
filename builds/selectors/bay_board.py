"""
The bay board: one week, bays as rows, what is planned beside what is so, and where the two collide.

Everything a board says is put together here from a fixed number of questions, however many bays and builds there are.
"""

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from builds.models import Bay, BayPlace, Booking, Build, Occupancy, Stage
from builds.selectors.bay_builds import BoardBuild, board_builds
from builds.selectors.bay_stays import Stay, stays_of_place
from builds.selectors.half_days import WORKING_DAYS, quarter_of
from builds.selectors.shop_time import at_local, shop_zone
from builds.selectors.standing import DONE_STAGES

__all__ = [
    "BayBoard",
    "BayRow",
    "BoardDay",
    "WaitingBuild",
    "bay_board",
    "bookable_builds",
    "coming_bookings",
    "find_booking",
    "week_of",
]

_WAITING = (Stage.APPROVED, Stage.IN_WORK, Stage.FINAL_CHECK)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardDay:
    """One column."""

    day: date
    is_today: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BayRow:
    """One place of a bay with the stays of the week."""

    place: BayPlace
    bay: Bay
    stays: tuple[Stay, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingBuild:
    """A build that could be worked on and stands in no bay; ``booking`` is its next stay in the plan, if any."""

    build: BoardBuild
    booking: Booking | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BayBoard:
    """A week of the bays; ``now_quarter`` is where the present stands, ``None`` in another week."""

    monday: date
    days: tuple[BoardDay, ...]
    now: datetime
    now_quarter: int | None
    rows: tuple[BayRow, ...]
    waiting: tuple[WaitingBuild, ...]
    late: tuple[BoardBuild, ...]
    zone: ZoneInfo

    @property
    def last_day(self) -> date:
        """The day of the last column."""
        return self.days[-1].day

    @property
    def shown(self) -> tuple[BoardBuild, ...]:
        """Every build on the board or waiting, once each."""
        builds = [stay.build for row in self.rows for stay in row.stays] + [item.build for item in self.waiting]
        return tuple({item.build.pk: item for item in builds}.values())

    def count(self, state: str) -> int:
        """How many builds shown stand in ``state``."""
        return sum(1 for item in self.shown if item.standing.state == state)


_WEEK = re.compile(r"(20\d\d)-W(\d\d)", re.ASCII)


def week_of(text: str, today: date) -> date:
    """Return the Monday of a week written as "2026-W50"; anything else means the week of ``today``."""
    written = _WEEK.fullmatch(text)
    try:
        return date.fromisocalendar(int(written[1]), int(written[2]), 1) if written else _monday(today)
    except ValueError:
        return _monday(today)


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def bay_board(*, week: str, now: datetime) -> BayBoard:
    """Return the board of a week, or of the present one."""
    zone = shop_zone()
    local_now = now.astimezone(zone)
    monday = week_of(week, local_now.date())
    bookings, occupancies = _stays(monday, zone)
    days = WORKING_DAYS + _works_on_sunday(monday, bookings, occupancies, zone)
    builds = _builds(bookings, occupancies, now, zone)
    frame = _Frame(monday=monday, days=days, now=local_now, zone=zone)
    rows = tuple(_row(place, bookings, occupancies, builds, frame) for place in _places())
    waiting = _waiting(builds, now)
    return BayBoard(
        monday=monday,
        days=tuple(_day(monday + timedelta(days=number), local_now) for number in range(days)),
        now=local_now,
        now_quarter=quarter_of(local_now, monday, days) if monday <= local_now.date() < monday + timedelta(days=days) else None,
        rows=rows,
        waiting=waiting,
        late=tuple(item for state in ("late", "at_risk") for item in builds.values() if item.standing.state == state),
        zone=zone,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    """What a board is drawn in."""

    monday: date
    days: int
    now: datetime
    zone: ZoneInfo


def _places() -> Iterable[BayPlace]:
    return BayPlace.objects.select_related("bay").order_by("bay__line", "number")


def _stays(monday: date, zone: ZoneInfo) -> tuple[list[Booking], list[Occupancy]]:
    """Plan and fact that reach into the week, in two questions."""
    week = (at_local(monday, time.min, zone), at_local(monday + timedelta(days=7), time.min, zone))
    related = ("build__customer", "build__vehicle", "build__responsible", "place__bay")
    return (
        list(Booking.objects.filter(during__overlap=week).select_related(*related)),
        list(Occupancy.objects.filter(during__overlap=week).select_related(*related)),
    )


def _works_on_sunday(monday: date, bookings: list[Booking], occupancies: list[Occupancy], zone: ZoneInfo) -> bool:
    """Whether a seventh column is needed: a stay that begins or ends on the Sunday."""
    sunday = monday + timedelta(days=6)
    stays: list[Booking | Occupancy] = [*bookings, *occupancies]
    edges = [edge for stay in stays for edge in (stay.during.lower, stay.during.upper) if edge]
    return any(edge.astimezone(zone).date() == sunday for edge in edges)


def _builds(
    bookings: list[Booking], occupancies: list[Occupancy], now: datetime, zone: ZoneInfo
) -> dict[int, BoardBuild]:
    """Every build on the board, and every one that could stand in a bay, with its state and its reasons."""
    stays: list[Booking | Occupancy] = [*bookings, *occupancies]
    on_board = {stay.build_id: stay.build for stay in stays}
    able = Build.objects.filter(stage__in=_WAITING).select_related("customer", "vehicle", "responsible")
    return board_builds({**{build.pk: build for build in able}, **on_board}, now=now, zone=zone)


def _row(
    place: BayPlace, bookings: list[Booking], occupancies: list[Occupancy], builds: dict[int, BoardBuild], frame: _Frame
) -> BayRow:
    stays = stays_of_place(
        place,
        bookings=bookings,
        occupancies=occupancies,
        builds=builds,
        monday=frame.monday,
        days=frame.days,
        now=frame.now,
    )
    return BayRow(place=place, bay=place.bay, stays=stays)


def _day(day: date, now: datetime) -> BoardDay:
    return BoardDay(day=day, is_today=day == now.date())


def _waiting(builds: dict[int, BoardBuild], now: datetime) -> tuple[WaitingBuild, ...]:
    """Builds that stand in no bay now, the earliest promise first."""
    able = [item for item in builds.values() if item.build.stage in _WAITING]
    inside = set(Occupancy.objects.filter(during__upper_inf=True).values_list("vehicle_id", flat=True))
    ahead: dict[int, Booking] = defaultdict()
    coming = Booking.objects.filter(build__in=[item.build.pk for item in able], during__endswith__gt=now)
    for booking in coming.select_related("place__bay").order_by("during"):
        ahead.setdefault(booking.build_id, booking)
    found = [
        WaitingBuild(build=item, booking=ahead.get(item.build.pk))
        for item in able
        if item.build.vehicle_id not in inside
    ]
    return tuple(sorted(found, key=lambda item: (item.build.build.promised_on or date.max, item.build.build.number)))


def find_booking(pk: int) -> Booking | None:
    """Return a booking with its build and its bay, or nothing."""
    return Booking.objects.select_related("build__customer", "build__vehicle", "place__bay").filter(pk=pk).first()


def coming_bookings(now: datetime) -> QuerySet[Booking]:
    """Return the bookings that are not over, in time order."""
    return (
        Booking.objects.filter(during__endswith__gt=now)
        .select_related("build__customer", "place__bay")
        .order_by("during", "pk")
    )


def bookable_builds() -> QuerySet[Build]:
    """Return the builds that may still be given a bay."""
    return Build.objects.exclude(stage__in=DONE_STAGES).select_related("customer").order_by("number")
