"""
Whether vehicle, parts and the customer's gear have come together, for one build or for a whole board.

Each of the three is here, missing, or not needed; work on the vehicle waits until none is missing. Four questions are
asked of the database, however many builds there are.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Q, Sum

from builds.engineering.vocabulary import SuppliedBy
from builds.models import Build, CheckIn, CustomerGear, PartsBillLine
from inventory.models import StockEntry

__all__ = ["AwaitedGear", "Match", "ShortPart", "match_of", "matches_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortPart:
    """A shop part that the stores neither keep for the build nor have handed to it."""

    number: str
    missing: Decimal
    unit: str = "each"

    @property
    def words(self) -> str:
        """How many of what: "2 × TP-BAR-1", or "6.4 m of TP-WIRE-14" of what is measured."""
        amount = f"{self.missing.normalize():f}"
        return f"{amount} × {self.number}" if self.unit == "each" else f"{amount} {self.unit} of {self.number}"


@dataclass(frozen=True, slots=True, kw_only=True)
class AwaitedGear:
    """Something the customer still owes."""

    description: str
    due_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """True is here, False is missing, None is not needed; the rest says what is missing."""

    vehicle: bool
    parts: bool | None
    gear: bool | None
    short_parts: tuple[ShortPart, ...] = ()
    awaited_gear: tuple[AwaitedGear, ...] = ()

    @property
    def complete(self) -> bool:
        """Whether nothing is missing."""
        return self.vehicle and self.parts is not False and self.gear is not False

    @property
    def words(self) -> tuple[str, ...]:
        """One sentence for each thing missing; empty when the match is complete."""
        vehicle = () if self.vehicle else ("The vehicle is not checked in.",)
        return (*vehicle, *self._parts_words(), *self._gear_words())

    def _parts_words(self) -> tuple[str, ...]:
        if not self.short_parts:
            return ()
        first = self.short_parts[0]
        more = f" and {len(self.short_parts) - 1} more" if len(self.short_parts) > 1 else ""
        return (f"Stores: {first.words}{more} short.",)

    def _gear_words(self) -> tuple[str, ...]:
        if not self.awaited_gear:
            return ()
        first = self.awaited_gear[0]
        due = f", due {first.due_on:%a %-d %b}" if first.due_on else ""
        more = f" and {len(self.awaited_gear) - 1} more" if len(self.awaited_gear) > 1 else ""
        return (f"Buyer: send {first.description}{due}{more}.",)


def match_of(build: Build) -> Match:
    """Return the match of one build."""
    return matches_of([build])[build.pk]


def matches_of(builds: Iterable[Build]) -> dict[int, Match]:
    """Return the match of each build by its primary key."""
    builds = list(builds)
    here = _checked_in(builds)
    lines = _parts_bills(builds)
    has = _job_stock(builds)
    gear = _gear(builds)
    return {build.pk: _match(build, here, lines[build.pk], has[build.number], gear[build.pk]) for build in builds}


def _match(
    build: Build, here: set[int], lines: list[PartsBillLine], has: dict[int, Decimal], gear: list[CustomerGear]
) -> Match:
    shop = [line for line in lines if line.supplied_by == SuppliedBy.SHOP]
    brought = [line for line in lines if line.supplied_by == SuppliedBy.CUSTOMER]
    short = _short_parts(shop, has)
    awaited = _awaited_gear(brought, gear)
    return Match(
        vehicle=build.pk in here,
        parts=not short if shop else None,
        gear=not awaited if brought or gear else None,
        short_parts=short,
        awaited_gear=awaited,
    )


def _short_parts(lines: list[PartsBillLine], has: dict[int, Decimal]) -> tuple[ShortPart, ...]:
    wanted: dict[int, Decimal] = defaultdict(Decimal)
    parts = {}
    for line in lines:
        wanted[line.part_id] += line.quantity
        parts[line.part_id] = line.part
    missing = {part: quantity - has.get(part, Decimal(0)) for part, quantity in wanted.items()}
    return tuple(
        ShortPart(number=parts[part].number, missing=quantity, unit=parts[part].unit)
        for part, quantity in missing.items()
        if quantity > 0
    )


def _awaited_gear(lines: list[PartsBillLine], gear: list[CustomerGear]) -> tuple[AwaitedGear, ...]:
    """Gear written down and not received, then lines of the parts bill for which nothing is written down yet."""
    known = {item.description for item in gear}
    written = [AwaitedGear(description=g.description, due_on=g.due_on) for g in gear if g.received_at is None]
    unwritten = [AwaitedGear(description=line.description) for line in lines if line.description[:120] not in known]
    return (*written, *unwritten)


def _checked_in(builds: list[Build]) -> set[int]:
    """A vehicle is here for the build that its newest check-in or check-out belongs to, if that was a check-in."""
    newest = (
        CheckIn.objects.filter(vehicle__in=[build.vehicle_id for build in builds])
        .order_by("vehicle", "-at", "-pk")
        .distinct("vehicle")
        .values_list("build_id", "direction")
    )
    return {build_id for build_id, direction in newest if direction == CheckIn.Direction.IN}


def _parts_bills(builds: list[Build]) -> dict[int, list[PartsBillLine]]:
    found: dict[int, list[PartsBillLine]] = defaultdict(list)
    for line in PartsBillLine.objects.filter(build__in=builds, removed=False).select_related("part"):
        found[line.build_id].append(line)
    return found


def _job_stock(builds: list[Build]) -> dict[str, dict[int, Decimal]]:
    """What each job has of each part: kept for it or handed to it, less what came back."""
    moved = Q(kind__in=[StockEntry.Kind.ISSUE, StockEntry.Kind.RETURN])
    rows = (
        StockEntry.objects.filter(job__in=[build.number for build in builds])
        .values("job", "part_id")
        .annotate(reserved=Sum("reserved_change"), moved=Sum("on_hand_change", filter=moved))
    )
    found: dict[str, dict[int, Decimal]] = defaultdict(dict)
    for row in rows:
        found[row["job"]][row["part_id"]] = (row["reserved"] or Decimal(0)) - (row["moved"] or Decimal(0))
    return found


def _gear(builds: list[Build]) -> dict[int, list[CustomerGear]]:
    found: dict[int, list[CustomerGear]] = defaultdict(list)
    for item in CustomerGear.objects.filter(build__in=builds):
        found[item.build_id].append(item)
    return found
