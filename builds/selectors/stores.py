"""What is short, and for which build."""

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Exists, OuterRef, Q, Sum

from builds.engineering.vocabulary import SuppliedBy
from builds.models import PartsBillLine, Stage
from inventory.models import Part, StockEntry

__all__ = ["ShortLine", "short_lines", "stores_parts"]

_ASKING = (Stage.QUOTED, Stage.APPROVED, Stage.IN_WORK, Stage.FINAL_CHECK)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortLine:
    """A part that a build asks for and does not have."""

    part: Part
    build: str
    wanted: Decimal
    missing: Decimal


def stores_parts() -> Q:
    """
    Return which parts are the stores' own.

    Left out is what only ever stood on a parts bill as the customer's own, transferred or taken off, and of which nothing
    was ever taken in: it has a number, and no shelf.
    """
    lines = PartsBillLine.objects.filter(part=OuterRef("pk"))
    sold = lines.filter(supplied_by=SuppliedBy.SHOP, removed=False)
    return ~Q(Exists(lines)) | Q(Exists(sold)) | Q(Exists(StockEntry.objects.filter(part=OuterRef("pk"))))


def short_lines() -> tuple[ShortLine, ...]:
    """Return what builds from quote to final check lack, by part and build, in four questions however many there are."""
    asked = (
        PartsBillLine.objects.filter(supplied_by=SuppliedBy.SHOP, removed=False, build__stage__in=_ASKING)
        .values("part_id", "build__number")
        .annotate(wanted=Sum("quantity"))
        .order_by("part__number", "build__number")
    )
    has = {
        (row["part_id"], row["job"]): row["has"]
        for row in StockEntry.objects.exclude(job="").values("part_id", "job").annotate(has=Sum("reserved_change"))
    }
    issued = {
        (row["part_id"], row["job"]): -row["out"]
        for row in StockEntry.objects.filter(kind__in=["issue", "return"])
        .values("part_id", "job")
        .annotate(out=Sum("on_hand_change"))
    }
    parts = Part.objects.select_related("supplier").in_bulk([row["part_id"] for row in asked])
    short = []
    for row in asked:
        key = (row["part_id"], row["build__number"])
        missing = row["wanted"] - has.get(key, Decimal(0)) - issued.get(key, Decimal(0))
        if missing > 0:
            short.append(ShortLine(part=parts[key[0]], build=key[1], wanted=row["wanted"], missing=missing))
    return tuple(short)
