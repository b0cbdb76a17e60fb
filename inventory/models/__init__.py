"""The parts catalogue and the stock ledger."""

from inventory.models.part import Part, Supplier
from inventory.models.stock import StockBalance, StockEntry

__all__ = ["Part", "StockBalance", "StockEntry", "Supplier"]
