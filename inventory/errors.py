"""What the stores refuse, with the words for it."""

from collections.abc import Mapping

__all__ = ["CatalogueFaults", "NotEnoughStock", "StalePart", "StockError"]


class StockError(Exception):
    """A movement or an edit that was not made; ``fields`` says which value and why, where it is one."""

    def __init__(self, message: str, *, fields: Mapping[str, str] | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.fields = dict(fields or {})


class NotEnoughStock(StockError):
    """The ledger would go below zero."""


class StalePart(StockError):
    """Someone else changed the part first; ``fields`` holds what stands there now."""


class CatalogueFaults(StockError):
    """A parts list with faults: each with its line, its column and words. Nothing of the list is taken."""

    def __init__(self, faults: tuple[tuple[int, str, str], ...]) -> None:
        super().__init__("; ".join(f"line {line}, {column}: {words}" for line, column, words in faults[:20]))
        self.faults = faults
