"""Made-up parts and stock."""

from decimal import Decimal
from itertools import count
from typing import Any
from uuid import uuid4

from builds.models import Person
from inventory.models import Part
from inventory.services import stock
from tests.factories.builds import AT

__all__ = ["make_part", "put_in_stock"]

_numbers = count(1)


def make_part(**more: Any) -> Part:
    """Return a catalogue part."""
    return Part.objects.create(
        number=more.pop("number", f"INV-{next(_numbers):04}"), description="Invented part", **more
    )


def put_in_stock(part: Part, quantity: int | str | Decimal, by: Person) -> None:
    """Take delivery of ``quantity``."""
    stock.receive(
        part=part, quantity=Decimal(quantity), unit_cost=Decimal(1), reference="delivery note", by=by, at=AT,
        event_id=uuid4(),
    )  # fmt: skip
