"""Stock kept for a build: what its parts bill asks, less what it has, as far as there is any."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import uuid4

from django.db import transaction

from builds.engineering.vocabulary import SuppliedBy
from builds.models import Build, Person
from builds.services.actors import act_as
from inventory.models import Part
from inventory.rules import Balance
from inventory.selectors.stock import JobStock, balances, job_stock
from inventory.services import stock

__all__ = ["Shortage", "reserve_parts", "shortages"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortage:
    """A part the build still lacks."""

    part: Part
    missing: Decimal


def reserve_parts(*, build: Build, by: Person, at: datetime) -> tuple[Shortage, ...]:
    """
    Keep for ``build`` what its parts bill asks of the shop, let go what it no longer asks, and return what is short.

    A shortage refuses nothing: it shows on the job list and holds back work, not the quote.
    """
    with transaction.atomic():
        act_as(by)
        Build.objects.select_for_update().get(pk=build.pk)
        wanted = _wanted(build)
        has = job_stock(build.number)
        for part in sorted(set(wanted) | _parts_of(has), key=lambda item: item.number):
            _reserve_one(build, part, wanted.get(part, Decimal(0)), has.get(part.pk), by, at)
    return shortages(build)


def shortages(build: Build) -> tuple[Shortage, ...]:
    """Return what the parts bill asks beyond what is kept for, or handed to, the build."""
    has = job_stock(build.number)
    found = []
    for part, quantity in sorted(_wanted(build).items(), key=lambda item: item[0].number):
        own = has.get(part.pk)
        missing = quantity - (own.reserved + own.issued if own else Decimal(0))
        if missing > 0:
            found.append(Shortage(part=part, missing=missing))
    return tuple(found)


def _wanted(build: Build) -> dict[Part, Decimal]:
    wanted: dict[Part, Decimal] = {}
    for line in build.parts.filter(supplied_by=SuppliedBy.SHOP, removed=False).select_related("part"):
        wanted[line.part] = wanted.get(line.part, Decimal(0)) + line.quantity
    return wanted


def _parts_of(has: dict[int, JobStock]) -> set[Part]:
    return set(Part.objects.filter(pk__in=[pk for pk, own in has.items() if own.reserved > 0]))


def _reserve_one(build: Build, part: Part, quantity: Decimal, own: JobStock | None, by: Person, at: datetime) -> None:
    own = own or JobStock(reserved=Decimal(0), issued=Decimal(0))
    change = max(Decimal(0), quantity - own.issued) - own.reserved
    if change > 0:
        change = min(change, balances([part.pk]).get(part.pk, Balance()).available)
    if change > 0:
        stock.reserve(part=part, quantity=change, job=build.number, job_line="", by=by, at=at, event_id=uuid4())
    elif change < 0:
        stock.release(part=part, quantity=-change, job=build.number, job_line="", by=by, at=at, event_id=uuid4())
