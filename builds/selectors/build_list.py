"""
The job list: the builds a person looks for, worst first, one page at a time.

One question of the database brings the whole page; a second counts, and only where one page does not hold them all. The
matches of vehicle, parts and gear are asked for the rows of the page alone.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, NamedTuple

from django.db.models import (
    BooleanField,
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
)  # fmt: skip
from django.db.models.expressions import RawSQL
from django.db.models.functions import Cast, Coalesce

from builds.engineering.vocabulary import SuppliedBy
from builds.models import Build, CustomerGear, PartsBillLine, Person, Revision, Shop, Stage
from builds.selectors.standing import AT_RISK_DAYS, BEFORE_WORK, DONE_STAGES, Standing, StandingInput, standing_of

__all__ = ["PAGE_ROWS", "BuildFilter", "BuildPage", "BuildRow", "MatchFlags", "list_builds", "match_flags", "shop_today"]

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
    hold_reason: str
    hold_who_acts: str
    hold_note: str
    blocking_count: int
    step_count: int
    step_done_count: int
    responsible: str | None
    today: date
    vehicle_here: bool
    parts_needed: bool
    parts_short: bool
    gear_needed: bool
    gear_short: bool
    released: bool


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
    vehicle_here: bool | None
    parts_here: bool | None
    gear_here: bool | None
    promised_on: date | None
    steps: str
    standing: Standing


@dataclass(frozen=True, slots=True)
class BuildPage:
    """One page of the list and how many builds there are in all."""

    rows: tuple[BuildRow, ...]
    total: int
    page: int
    pages: int


def list_builds(*, wanted: BuildFilter, person: Person, at: datetime) -> BuildPage:
    """Return one page of the builds that ``wanted`` asks for, worst first; a page beyond the last is the last."""
    found = _ordered(_filtered(wanted, person, at))
    page = max(wanted.page, 1)
    raw = _page_of(found, page)
    if page == 1 and len(raw) <= PAGE_ROWS:
        total = len(raw)
    else:
        total = _filtered(wanted, person, at).count()
        if not raw and total:
            page = _pages(total)
            raw = _page_of(found, page)
    rows = tuple(_row(_Columns(*values)) for values in raw[:PAGE_ROWS])
    return BuildPage(rows=rows, total=total, page=page, pages=_pages(total))


def shop_today(at: datetime) -> Cast:
    """Return the shop's calendar day at a moment, as an expression of the database."""
    zone = Coalesce(Subquery(Shop.objects.values("time_zone")[:1]), Value("UTC"))
    local = Func(zone, Value(at), function="timezone", output_field=DateTimeField())
    return Cast(local, DateField())


def _pages(total: int) -> int:
    return max(1, -(-total // PAGE_ROWS))


def _page_of(found: QuerySet[Build], page: int) -> list[Any]:
    """One row more than is shown tells that there is another page."""
    start = (page - 1) * PAGE_ROWS
    return list(found.values_list(*_COLUMNS)[start : start + PAGE_ROWS + 1])


def _filtered(wanted: BuildFilter, person: Person, at: datetime) -> QuerySet[Build]:
    builds = Build.objects.annotate(today=shop_today(at))
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
    for word in wanted.words.split()[:6]:
        builds = builds.filter(_has_word(word))
    return builds


def _has_word(word: str) -> Q:
    return (
        Q(number__istartswith=word)
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
    AT_RISK: _NEAR & ~Q(stage__in=DONE_STAGES) & Q(hold_reason="") & (Q(blocking_count__gt=0) | Q(stage__in=BEFORE_WORK)),
    ON_HOLD: ~Q(hold_reason="") & ~Q(stage__in=DONE_STAGES),
}


def _ordered(builds: QuerySet[Build]) -> QuerySet[Build]:
    """Worst first: late, then a blocking finding, then held, then by promise; done ones last."""
    rank = Case(
        When(stage__in=DONE_STAGES, then=Value(4)),
        When(_LATE, then=Value(0)),
        When(blocking_count__gt=0, then=Value(1)),
        When(~Q(hold_reason=""), then=Value(2)),
        default=Value(3),
        output_field=IntegerField(),
    )
    return builds.annotate(**_MATCHES).order_by(rank, F("promised_on").asc(nulls_last=True), "number")


_GEAR = CustomerGear.objects.filter(build=OuterRef("pk"))
_LINES = PartsBillLine.objects.filter(build=OuterRef("pk"), removed=False)

# The matches of builds.selectors.match as conditions of the database, so that one question brings a page; a test holds
# the two together. A vehicle is here for the build that its newest check-in belongs to.
_VEHICLE_HERE_SQL = """
coalesce((
  select direction = 'in' and build_id = builds_build.id from builds_checkin
  where vehicle_id = builds_build.vehicle_id order by at desc, id desc limit 1
), false)
"""
# What the shop's lines ask for, against what the ledger keeps or has issued for the job: a reservation and an issue
# count alike, a return counts back.
_PARTS_SHORT_SQL = """
exists (
  select from (
    select part_id, sum(quantity) as wanted from builds_partsbillline
    where build_id = builds_build.id and supplied_by = 'shop' and not removed group by part_id
  ) as need left join lateral (
    select sum(reserved_change - on_hand_change) as kept from inventory_stockentry
    where job = builds_build.number and part_id = need.part_id
  ) as has on true
  where coalesce(has.kept, 0) < need.wanted
)
"""
# Gear written down and not received, or a customer's line for which nothing is written down yet.
_GEAR_SHORT_SQL = """
exists (
  select from builds_customergear where build_id = builds_build.id and received_at is null
) or exists (
  select from builds_partsbillline as line
  where line.build_id = builds_build.id and line.supplied_by = 'customer' and not line.removed and not exists (
    select from builds_customergear as gear
    where gear.build_id = builds_build.id and gear.description = left(line.description, 120)
  )
)
"""


def _is(sql: str) -> RawSQL:
    return RawSQL(sql, [], output_field=BooleanField())  # noqa: S611  no value of a person's is in it


_MATCHES: dict[str, Any] = {
    "vehicle_here": _is(_VEHICLE_HERE_SQL),
    "parts_needed": Exists(_LINES.filter(supplied_by=SuppliedBy.SHOP)),
    "parts_short": _is(_PARTS_SHORT_SQL),
    "gear_needed": Exists(_GEAR) | Exists(_LINES.filter(supplied_by=SuppliedBy.CUSTOMER)),
    "gear_short": _is(_GEAR_SHORT_SQL),
    "released": Exists(Revision.objects.filter(build=OuterRef("pk"))),
}

@dataclass(frozen=True, slots=True)
class MatchFlags:
    """Whether vehicle, parts and gear of a build are here; None where nothing is needed."""

    vehicle: bool
    parts: bool | None
    gear: bool | None


def match_flags(build: Build) -> MatchFlags:
    """Return the matches of one build, in one question."""
    flags = Build.objects.filter(pk=build.pk).annotate(**_MATCHES)
    vehicle, parts, short, gear, gear_short = flags.values_list(
        "vehicle_here", "parts_needed", "parts_short", "gear_needed", "gear_short"
    ).get()
    return MatchFlags(vehicle, not short if parts else None, not gear_short if gear else None)


_COLUMNS = (
    "number", "title", "customer_id", "customer__name", "vehicle__unit_number", "stage", "promised_on", "hold_reason",
    "hold_who_acts", "hold_note", "blocking_count", "step_count", "step_done_count", "responsible__short_name", "today",
    "vehicle_here", "parts_needed", "parts_short", "gear_needed", "gear_short", "released",
)  # fmt: skip


def _row(columns: _Columns) -> BuildRow:
    parts_here = not columns.parts_short if columns.parts_needed else None
    gear_here = not columns.gear_short if columns.gear_needed else None
    standing = standing_of(
        StandingInput(
            stage=columns.stage, today=columns.today, promised_on=columns.promised_on, hold_reason=columns.hold_reason,
            hold_who_acts=columns.hold_who_acts, hold_note=columns.hold_note, blocking_count=columns.blocking_count,
            step_count=columns.step_count, step_done_count=columns.step_done_count,
            responsible=columns.responsible or "", vehicle_here=columns.vehicle_here, parts_here=parts_here,
            gear_here=gear_here, released=columns.released,
        )
    )  # fmt: skip
    return BuildRow(
        number=columns.number, title=columns.title, customer=columns.customer, buyer=columns.buyer, unit=columns.unit, stage=columns.stage,
        on_hold=bool(columns.hold_reason), vehicle_here=columns.vehicle_here, parts_here=parts_here, gear_here=gear_here,
        promised_on=columns.promised_on, standing=standing,
        steps=f"{columns.step_done_count} of {columns.step_count}" if columns.step_count else "",
    )  # fmt: skip
