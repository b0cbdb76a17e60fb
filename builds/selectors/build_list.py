"""
The job list: the builds a person looks for, worst first, one page at a time.

One question of the database brings the whole page. The plain list, which is opened all day, is read off two indexes that
hold its order, by a function whose plan the database keeps (``config/database/job_list.sql``); a search sorts what it
finds. A test holds the two orders together.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, NamedTuple

from django.db import connection
from django.db.models import (
    Case,
    DateField,
    DateTimeField,
    Exists,
    F,
    Func,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.functions import Cast, Coalesce

from builds.models import Booking, Build, Person, Revision, Shop, Stage
from builds.selectors.packet_signed import packet_signed
from builds.selectors.standing import (
    AT_RISK_DAYS,
    BEFORE_WORK,
    DONE_STAGES,
    PLANNED_STAGES,
    Standing,
    StandingInput,
    standing_of,
)

__all__ = ["PAGE_ROWS", "BuildFilter", "BuildPage", "BuildRow", "list_builds"]

PAGE_ROWS = 20
OPEN = "open"
ALL = "all"
LATE, AT_RISK, ON_HOLD = "late", "at_risk", "on_hold"


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildFilter:
    """What a person looks for; empty fields ask for nothing."""

    words: str = ""
    stage: str = OPEN
    state: str = ""
    mine: bool = False
    customer: int | None = None
    page: int = 1


class _Columns(NamedTuple):
    """The columns of one row as the database gives them, in the order of ``_COLUMNS``."""

    number: str
    title: str
    customer: int
    buyer: str
    unit: str
    stage: str
    promised_on: date | None
    plan_ends_on: date | None
    hold_reason: str
    hold_who_acts: str
    hold_note: str
    blocking_count: int
    step_count: int
    step_done_count: int
    responsible: str | None
    today: date
    vehicle_here: bool | None
    parts_here: bool | None
    gear_here: bool | None
    released: bool
    signed: bool


@dataclass(frozen=True, slots=True)
class BuildRow:
    """One build of the list as it is shown."""

    number: str
    title: str
    customer: int
    buyer: str
    unit: str
    stage: str
    on_hold: bool
    vehicle_here: bool
    parts_here: bool | None
    gear_here: bool | None
    promised_on: date | None
    steps: str
    standing: Standing


@dataclass(frozen=True, slots=True)
class BuildPage:
    """One page of the list; ``more`` says that another follows."""

    rows: tuple[BuildRow, ...]
    page: int
    more: bool


def list_builds(*, wanted: BuildFilter, person: Person, at: datetime) -> BuildPage:
    """Return one page of the builds that ``wanted`` asks for, worst first; a page beyond the last is the first."""
    page = max(wanted.page, 1)
    raw = _rows_of(wanted, person, at, page)
    if not raw and page > 1:
        page, raw = 1, _rows_of(wanted, person, at, 1)
    rows = tuple(_row(_Columns(*values)) for values in raw[:PAGE_ROWS])
    return BuildPage(rows=rows, page=page, more=len(raw) > PAGE_ROWS)


def _rows_of(wanted: BuildFilter, person: Person, at: datetime, page: int) -> list[tuple[Any, ...]]:
    """Return the rows of a page and one more, which tells that there is another page."""
    start = (page - 1) * PAGE_ROWS
    plain = (wanted.words, wanted.stage, wanted.state, wanted.mine, wanted.customer) == ("", OPEN, "", False, None)
    if plain:
        return _plain_rows(at, start)
    return list(_sorted_rows(wanted, person, at)[start : start + PAGE_ROWS + 1])


def _plain_rows(at: datetime, start: int) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute("select * from baywright_job_list(%s, %s, %s)", [at, PAGE_ROWS + 1, start])
        return list(cursor.fetchall())


def _shop_today(at: datetime) -> Cast:
    """Return the shop's calendar day at a moment, as an expression of the database."""
    return _shop_day(Value(at))


def _plan_ends_on() -> Cast:
    """Return the shop's calendar day on which the last planned stay of a build ends; null where none is planned."""
    stays = Booking.objects.filter(build=OuterRef("pk")).order_by("-during__endswith").values("during__endswith")
    return _shop_day(Subquery(stays[:1], output_field=DateTimeField()))


def _shop_day(moment: Value | Subquery) -> Cast:
    zone = Coalesce(Subquery(Shop.objects.values("time_zone")[:1]), Value("UTC"))
    local = Func(zone, moment, function="timezone", output_field=DateTimeField())
    return Cast(local, DateField())


def _sorted_rows(wanted: BuildFilter, person: Person, at: datetime) -> QuerySet[Any]:
    """Worst first: late, then a blocking finding, then held, then by promise; delivered and done ones last."""
    rank = Case(
        When(stage__in=DONE_STAGES, then=Value(4)),
        When(_LATE, then=Value(0)),
        When(blocking_count__gt=0, then=Value(1)),
        When(~Q(hold_reason=""), then=Value(2)),
        default=Value(3),
        output_field=IntegerField(),
    )
    found = _filtered(wanted, person, at).annotate(
        released=Exists(Revision.objects.filter(build=OuterRef("pk"))), signed=packet_signed()
    )
    return found.order_by(rank, F("promised_on").asc(nulls_last=True), "number").values_list(*_COLUMNS)


def _filtered(wanted: BuildFilter, person: Person, at: datetime) -> QuerySet[Build]:
    builds = Build.objects.annotate(today=_shop_today(at), plan_ends_on=_plan_ends_on())
    if wanted.stage in Stage.values:
        builds = builds.filter(stage=wanted.stage)
    elif wanted.stage != ALL:
        builds = builds.exclude(stage__in=(Stage.CLOSED, Stage.CANCELLED))
    if wanted.state in _STATES:
        builds = builds.filter(_STATES[wanted.state])
    if wanted.mine:
        builds = builds.filter(responsible=person)
    if wanted.customer is not None:
        builds = builds.filter(customer=wanted.customer)
    for word in wanted.words.translate(_HYPHENS).split()[:6]:
        builds = builds.filter(_has_word(word))
    return builds


_HYPHENS = dict.fromkeys((0x2010, 0x2011, 0x2012, 0x2013, 0x2212), "-")  # as texts that were set for print have them
_AROUND_NUMBER = "#-.,;:"


def _has_word(word: str) -> Q:
    number = word.strip(_AROUND_NUMBER) or word
    return (
        Q(number__istartswith=number)
        | Q(title__icontains=word)
        | Q(purchase_order__icontains=word)
        | Q(customer__name__icontains=word)
        | Q(vehicle__unit_number__icontains=word)
        | Q(vehicle__vin__icontains=word)
    )


_LATE = Q(promised_on__lt=F("today")) & ~Q(stage__in=DONE_STAGES)
_NEAR = Q(promised_on__gte=F("today"), promised_on__lte=F("today") + timedelta(days=AT_RISK_DAYS))
_STATES = {
    LATE: _LATE,
    AT_RISK: (
        (_NEAR & (Q(blocking_count__gt=0) | Q(stage__in=BEFORE_WORK)))
        | (Q(promised_on__gte=F("today"), plan_ends_on__gt=F("promised_on")) & Q(stage__in=PLANNED_STAGES))
    )
    & ~Q(stage__in=DONE_STAGES)
    & Q(hold_reason=""),
    ON_HOLD: ~Q(hold_reason="") & ~Q(stage__in=DONE_STAGES),
}


_COLUMNS = (
    "number", "title", "customer_id", "customer__name", "vehicle__unit_number", "stage", "promised_on", "plan_ends_on", "hold_reason",
    "hold_who_acts", "hold_note", "blocking_count", "step_count", "step_done_count", "responsible__short_name", "today",
    "match__vehicle_here", "match__parts_here", "match__gear_here", "released", "signed",
)  # fmt: skip


def _row(columns: _Columns) -> BuildRow:
    standing = standing_of(
        StandingInput(
            stage=columns.stage, today=columns.today, promised_on=columns.promised_on, plan_ends_on=columns.plan_ends_on, hold_reason=columns.hold_reason,
            hold_who_acts=columns.hold_who_acts, hold_note=columns.hold_note, blocking_count=columns.blocking_count,
            step_count=columns.step_count, step_done_count=columns.step_done_count,
            responsible=columns.responsible or "", vehicle_here=bool(columns.vehicle_here), parts_here=columns.parts_here,
            gear_here=columns.gear_here, released=columns.released, signed=columns.signed,
        )
    )  # fmt: skip
    return BuildRow(
        number=columns.number, title=columns.title, customer=columns.customer, buyer=columns.buyer, unit=columns.unit, stage=columns.stage,
        on_hold=bool(columns.hold_reason), vehicle_here=bool(columns.vehicle_here), parts_here=columns.parts_here, gear_here=columns.gear_here,
        promised_on=columns.promised_on, standing=standing,
        steps=f"{columns.step_done_count} of {columns.step_count}" if columns.step_count else "",
    )  # fmt: skip
