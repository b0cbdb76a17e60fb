"""What the stores refuse, with the words for it."""

__all__ = ["NotEnoughStock", "StockError"]


class StockError(Exception):
    """A movement that was not made."""

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message


class NotEnoughStock(StockError):
    """The ledger would go below zero."""
