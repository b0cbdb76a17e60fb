"""Looking parts up."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import F, Q, QuerySet
from django.db.models.functions import Coalesce

from inventory.models import Part, StockEntry

__all__ = ["PAGE_ROWS", "PartPage", "catalogue_values", "find_parts", "movements_of", "offered_parts"]

PAGE_ROWS = 50
_ZERO = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartPage:
    """One page of the parts that fit, with ``on_hand``, ``reserved`` and ``available`` on each."""

    rows: tuple[Part, ...]
    total: int
    page: int
    pages: int


def find_parts(*, words: str, low_only: bool, page: int, among: Q | None = None) -> PartPage:
    """
    Return the parts whose number or description holds every word, in order of number.

    ``among`` narrows the parts that are looked through; ``None`` is all of them.
    """
    parts = _with_balance(Part.objects.filter(among or Q()).select_related("supplier"))
    for word in words.split()[:8]:
        parts = parts.filter(
            Q(number__icontains=word) | Q(description__icontains=word) | Q(supplier__name__icontains=word)
        )
    if low_only:
        parts = parts.filter(Q(reorder_at__gt=0) & Q(available__lte=F("reorder_at")))
    total = parts.count()
    pages = max(1, -(-total // PAGE_ROWS))
    page = min(max(page, 1), pages)
    return PartPage(rows=tuple(parts[(page - 1) * PAGE_ROWS : page * PAGE_ROWS]), total=total, page=page, pages=pages)


def _with_balance(parts: QuerySet[Part]) -> QuerySet[Part]:
    with_balance: QuerySet[Part] = parts.annotate(
        on_hand=Coalesce(F("balance__on_hand"), _ZERO),
        reserved=Coalesce(F("balance__reserved"), _ZERO),
        available=Coalesce(F("balance__on_hand") - F("balance__reserved"), _ZERO),
    )
    return with_balance


def catalogue_values(number: str) -> dict[str, Any]:
    """
    Return what the catalogue knows of a part, by the names of a parts bill's fields; empty where it has no such number.

    A figure of zero is one that nobody wrote down, and is left out.
    """
    part = Part.objects.filter(number=number).first()
    if part is None:
        return {}
    figures = {name: float(getattr(part, name)) for name in ("unit_cost", "unit_price", "mass_kg")}
    words = {name: getattr(part, name) for name in ("description", "unit", "taxed", "serial_required", "programmable")}
    return words | {name: value for name, value in figures.items() if value}


def offered_parts(words: str, *, most: int = 12) -> tuple[Part, ...]:
    """Return a few parts whose number or description holds every word, in order of number."""
    parts = Part.objects.all()
    for word in words.split()[:8]:
        parts = parts.filter(Q(number__icontains=word) | Q(description__icontains=word))
    return tuple(parts[:most])


def movements_of(part: Part, *, most: int = 100) -> tuple[StockEntry, ...]:
    """Return the newest movements of a part."""
    return tuple(part.stock_entries.select_related("by").order_by("-at", "-pk")[:most])
