"""Findings about the parts bill: lines whose price or mass nobody wrote down."""

from collections.abc import Iterator

from builds.engineering.assessing.words import of_part
from builds.engineering.catalogue import found
from builds.engineering.design import Design
from builds.engineering.findings import Finding
from builds.engineering.vocabulary import SuppliedBy

__all__ = ["part_findings"]


def part_findings(design: Design) -> Iterator[Finding]:
    """
    Yield the findings about lines of the parts bill.

    What is not the shop's to sell needs no price, nor does anything in a design that says nothing of money: no price and no
    hours. What has no place on the vehicle needs no mass: a permit, a drawing.
    """
    sold = [line for line in design.parts if line.supplied_by is SuppliedBy.SHOP and not line.removed]
    if design.operations or any(line.unit_price for line in sold):
        for line in sold:
            if line.unit_price == 0.0:
                yield found("part-without-price", f"part:{line.key}", part=of_part(line))
    for line in design.parts:
        if line.zone and line.mass_kg == 0.0:
            yield found("part-without-mass", f"part:{line.key}", part=of_part(line))
