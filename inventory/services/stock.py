"""
Movements of stock: each is one row of the ledger; what there is follows from the sum and can never go below zero.

``event_id`` is made by whoever asks, so that a movement sent twice happens once.
"""

from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.contrib.auth.models import AbstractUser
from django.db import IntegrityError, transaction
from django.db.models import Sum

from inventory.errors import NotEnoughStock, StockError
from inventory.models import Part, StockBalance, StockEntry
from inventory.rules import Balance

__all__ = ["balance_of", "count", "issue", "receive", "release", "reserve", "return_to_stock"]

Kind = StockEntry.Kind


def balance_of(part: Part) -> Balance:
    """Return what there is of a part now."""
    row = StockBalance.objects.filter(part=part).first()
    return Balance(on_hand=row.on_hand, reserved=row.reserved) if row else Balance()


def receive(
    *, part: Part, quantity: Decimal, unit_cost: Decimal | None, reference: str, by: AbstractUser, at: datetime,
    event_id: UUID,
) -> StockEntry:  # fmt: skip
    """Take delivery of ``quantity``."""
    _check_positive(quantity)
    return _move(part, Kind.RECEIVE, quantity, Decimal(0), by, at, event_id, unit_cost=unit_cost, reference=reference)


def count(
    *, part: Part, counted: Decimal, reference: str, by: AbstractUser, at: datetime, event_id: UUID
) -> StockEntry | None:
    """Set what is on hand to what was counted; returns ``None`` where the count agrees. Raises NotEnoughStock."""
    if counted < 0:
        raise StockError("A count is 0 or more.")
    with transaction.atomic():
        _lock(part)
        row = StockBalance.objects.filter(part=part).first()
        change = counted - (row.on_hand if row else Decimal(0))
        if change == 0:
            return None
        return _move(part, Kind.COUNT, change, Decimal(0), by, at, event_id, reference=reference)


def reserve(
    *, part: Part, quantity: Decimal, job: str, job_line: str, by: AbstractUser, at: datetime, event_id: UUID
) -> StockEntry:
    """Keep ``quantity`` for a job. Raises NotEnoughStock."""
    _check_positive(quantity)
    return _move(part, Kind.RESERVE, Decimal(0), quantity, by, at, event_id, job=job, job_line=job_line)


def release(
    *, part: Part, quantity: Decimal, job: str, job_line: str, by: AbstractUser, at: datetime, event_id: UUID
) -> StockEntry:
    """Let a reservation go. Raises NotEnoughStock where less is reserved."""
    _check_positive(quantity)
    with transaction.atomic():
        _check_kept_for(job, part, quantity, event_id)
        return _move(part, Kind.RELEASE, Decimal(0), -quantity, by, at, event_id, job=job, job_line=job_line)


def issue(
    *, part: Part, quantity: Decimal, job: str, job_line: str, by: AbstractUser, at: datetime, event_id: UUID
) -> StockEntry:
    """Hand reserved stock to a job. Raises NotEnoughStock."""
    _check_positive(quantity)
    with transaction.atomic():
        _check_kept_for(job, part, quantity, event_id)
        return _move(part, Kind.ISSUE, -quantity, -quantity, by, at, event_id, job=job, job_line=job_line)


def return_to_stock(
    *, part: Part, quantity: Decimal, job: str, job_line: str, by: AbstractUser, at: datetime, event_id: UUID
) -> StockEntry:
    """Take back what a job did not use."""
    _check_positive(quantity)
    return _move(part, Kind.RETURN, quantity, Decimal(0), by, at, event_id, job=job, job_line=job_line)


def _check_positive(quantity: Decimal) -> None:
    if not quantity.is_finite() or quantity <= 0:
        raise StockError("A quantity is above 0.")


def _check_kept_for(job: str, part: Part, quantity: Decimal, event_id: UUID) -> None:
    """Refuse to touch what is kept for another job; the part's lock keeps two of one job apart."""
    if StockEntry.objects.filter(event_id=event_id).exists():
        return
    _lock(part)
    kept = StockEntry.objects.filter(part=part, job=job).aggregate(sum=Sum("reserved_change"))["sum"] or Decimal(0)
    if kept < quantity:
        raise NotEnoughStock(f"{part.number}: {kept:f} reserved for job {job}, {quantity:f} asked.")


def _lock(part: Part) -> None:
    """Hold the part to the end of the transaction: the application may not lock a balance, which it may not write."""
    Part.objects.select_for_update(no_key=True).get(pk=part.pk)


def _move(
    part: Part,
    kind: str,
    on_hand: Decimal,
    reserved: Decimal,
    by: AbstractUser,
    at: datetime,
    event_id: UUID,
    **more: Any,
) -> StockEntry:
    try:
        with transaction.atomic():
            return StockEntry.objects.create(
                event_id=event_id, part=part, kind=kind, on_hand_change=on_hand, reserved_change=reserved, by_id=by.pk, at=at,
                **more,
            )  # fmt: skip
    except IntegrityError as error:
        return _explain(error, part, kind, on_hand, reserved, event_id)


def _explain(
    error: IntegrityError, part: Part, kind: str, on_hand: Decimal, reserved: Decimal, event_id: UUID
) -> StockEntry:
    """Tell a movement sent twice from one that stock does not allow; the database has refused both."""
    before = StockEntry.objects.filter(event_id=event_id).first()
    if before is not None:
        same = (before.part_id, before.kind, before.on_hand_change, before.reserved_change)
        if same == (part.pk, kind, on_hand, reserved):
            return before
        raise StockError("This movement was sent before with other figures.") from error
    now = balance_of(part)
    raise NotEnoughStock(
        f"{part.number}: {now.on_hand:f} on hand, {now.reserved:f} reserved, {now.available:f} available."
    ) from error
