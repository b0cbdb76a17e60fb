"""The parts catalogue: parts come into it from the desk, or from a build document that names a new one."""

from decimal import Decimal
from typing import Protocol

from inventory.models import Part

__all__ = ["CataloguePart", "ensure_part", "ensure_parts"]


class CataloguePart(Protocol):
    """What a parts bill says of a part."""

    @property
    def part_number(self) -> str: ...
    @property
    def description(self) -> str: ...
    @property
    def unit(self) -> str: ...
    @property
    def unit_cost(self) -> float: ...
    @property
    def unit_price(self) -> float: ...
    @property
    def taxed(self) -> bool: ...
    @property
    def mass_kg(self) -> float: ...
    @property
    def serial_required(self) -> bool: ...
    @property
    def programmable(self) -> bool: ...


def ensure_part(part: CataloguePart) -> Part:
    """Return the catalogue's part of this number, put in as the parts bill says it if it is not there yet."""
    found, _ = Part.objects.get_or_create(number=part.part_number, defaults=_columns(part))
    return found


def ensure_parts(parts: tuple[CataloguePart, ...]) -> dict[str, Part]:
    """Return catalogue parts by number for a whole parts bill, in two statements however long it is."""
    first = {part.part_number: part for part in reversed(parts)}
    Part.objects.bulk_create(
        [Part(number=number, **_columns(part)) for number, part in sorted(first.items())], ignore_conflicts=True
    )
    return {part.number: part for part in Part.objects.filter(number__in=first)}


def _columns(part: CataloguePart) -> dict[str, object]:
    return {
        "description": part.description,
        "unit": part.unit,
        "unit_cost": Decimal(repr(part.unit_cost)),
        "unit_price": Decimal(repr(part.unit_price)),
        "taxed": part.taxed,
        "mass_kg": Decimal(repr(part.mass_kg)),
        "serial_required": part.serial_required,
        "programmable": part.programmable,
    }
