"""The work and the parts of a build."""

from dataclasses import dataclass

from builds.engineering.ranges import check_count, check_key, check_within
from builds.engineering.vocabulary import Phase, Place, SuppliedBy

__all__ = ["Operation", "PartsBillLine"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """A piece of work: standard hours each, how many, how many people at once, and what must come first."""

    key: str
    name: str
    place: Place
    phase: Phase
    skill: str
    standard_h: float
    quantity: int = 1
    crew: int = 1
    after: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("standard_h", self.standard_h, 0.0, 1000.0)
        check_count("quantity", self.quantity, least=1)
        check_count("crew", self.crew, least=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsBillLine:
    """
    A part on this build: how many, where it goes, who brings it, what it costs and weighs each. Removed is negative.

    ``installed_by`` names the operation that installs it, where the design says: its step takes it out of the stores.
    ``programmable`` is a device that does nothing before a file is loaded into it.
    """

    key: str
    part_number: str
    description: str
    quantity: float
    unit: str = "each"
    zone: str = ""
    installed_by: str = ""
    supplied_by: SuppliedBy = SuppliedBy.SHOP
    unit_cost: float = 0.0
    unit_price: float = 0.0
    taxed: bool = True
    mass_kg: float = 0.0
    serial_required: bool = False
    programmable: bool = False
    removed: bool = False

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_within("quantity", self.quantity, 0.001, 100_000.0)
        check_within("unit_cost", self.unit_cost, 0.0, 10_000_000.0)
        check_within("unit_price", self.unit_price, 0.0, 10_000_000.0)
        check_within("mass_kg", self.mass_kg, 0.0, 20_000.0)
