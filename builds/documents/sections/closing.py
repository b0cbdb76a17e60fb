"""Warranty, cautions with whom each defers to, and the index of what is printed on the wires."""

from dataclasses import dataclass

from builds.documents.cautions import CAUTIONS, Caution
from builds.documents.packet_context import PacketContext
from builds.engineering.buyer_rules import rule_number

__all__ = ["Closing", "IndexLine", "closing_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexLine:
    """A legend and where it leads."""

    legend: str
    number: str
    position: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Closing:
    """Section 12."""

    warranty_months: str
    shop_name: str
    shop_address: tuple[str, ...]
    shop_telephone: str
    starts: str
    cautions: tuple[Caution, ...]
    index: tuple[IndexLine, ...]


def closing_of(context: PacketContext) -> Closing:
    """Return the last section."""
    shop = context.input.shop
    circuits = sorted(context.design.circuits, key=lambda item: (item.legend, item.number))
    return Closing(
        warranty_months=f"{rule_number(context.design.buyer, 'warranty-months'):g}",
        shop_name=shop.name,
        shop_address=tuple(line for line in shop.address.splitlines() if line.strip()),
        shop_telephone=shop.telephone,
        starts="the day the packet is signed",
        cautions=CAUTIONS,
        index=tuple(
            IndexLine(
                legend=item.legend or "no legend", number=item.number, position=f"{item.panel}-{item.position:02d}"
            )
            for item in circuits
        ),
    )
