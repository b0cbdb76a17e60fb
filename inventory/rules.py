"""The arithmetic of stock, without a database."""

from dataclasses import dataclass
from decimal import Decimal

__all__ = ["Balance", "shortage"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """What there is of a part; reserved is never more than on hand."""

    on_hand: Decimal = Decimal(0)
    reserved: Decimal = Decimal(0)

    @property
    def available(self) -> Decimal:
        """What can still be promised to a job."""
        return self.on_hand - self.reserved


def shortage(*, wanted: Decimal, reserved: Decimal, available: Decimal) -> Decimal:
    """Return how much is missing of ``wanted`` after what is reserved for it and what could be; at least 0."""
    return max(Decimal(0), wanted - reserved - available)
