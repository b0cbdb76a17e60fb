"""What the stores hold and what each job has of it."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q, Sum

from inventory.models import StockBalance, StockEntry
from inventory.rules import Balance

__all__ = ["JobStock", "balances", "issued_by_line", "job_stock"]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobStock:
    """What one job has of one part: kept for it, and already handed to it (less what came back)."""

    reserved: Decimal
    issued: Decimal


def balances(part_ids: Iterable[int]) -> dict[int, Balance]:
    """Return what there is of each part, in one question; parts without a movement are left out."""
    rows = StockBalance.objects.filter(part_id__in=list(part_ids))
    return {row.part_id: Balance(on_hand=row.on_hand, reserved=row.reserved) for row in rows}


def job_stock(job: str) -> dict[int, JobStock]:
    """Return what ``job`` has of each part it has ever touched, in one question."""
    issued = Q(kind__in=[StockEntry.Kind.ISSUE, StockEntry.Kind.RETURN])
    rows = (
        StockEntry.objects.filter(job=job)
        .values("part_id")
        .annotate(reserved=Sum("reserved_change"), issued=Sum("on_hand_change", filter=issued))
    )
    return {
        row["part_id"]: JobStock(reserved=row["reserved"] or Decimal(0), issued=-(row["issued"] or Decimal(0)))
        for row in rows
    }


def issued_by_line(job: str) -> dict[str, Decimal]:
    """Return what was handed to ``job`` for each line that was named with it, less what came back for it."""
    moved = StockEntry.objects.filter(job=job, kind__in=[StockEntry.Kind.ISSUE, StockEntry.Kind.RETURN])
    rows = moved.exclude(job_line="").values("job_line").annotate(change=Sum("on_hand_change"))
    return {row["job_line"]: -row["change"] for row in rows}
