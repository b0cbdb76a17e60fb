"""One packet's frozen input with the look-ups its sections share."""

from dataclasses import dataclass
from functools import cached_property

from builds.documents.packet_input import PacketInput, StepPart, TickPart
from builds.documents.quantities import Quantities
from builds.engineering.assessment import Assessment, CircuitResult
from builds.engineering.design import Circuit, Design, PowerNode
from builds.engineering.load_readings import calculated_at_a
from builds.engineering.vocabulary import NodeKind

__all__ = ["Measured", "PacketContext"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A step that asks for a reading, with the newest one taken, if any was."""

    step: StepPart
    tick: TickPart | None

    @property
    def figure(self) -> str:
        """The reading as its instrument shows it, or nothing where nobody took it."""
        if self.tick is None or self.tick.reading is None:
            return ""
        return f"{self.tick.reading:.{self.step.reading_decimals}f}"


def calculated_beside(design: Design, measured: Measured) -> str:
    """The calculated current of a condition at the battery's volts of its reading; empty where nothing is to be compared."""
    tick, key = measured.tick, measured.step.key.removeprefix("load/")
    if tick is None or tick.reading is None or tick.reading_at_v is None or key == measured.step.key:
        return ""
    current_a = calculated_at_a(design, key, float(tick.reading_at_v))
    return "" if current_a is None else f"{current_a:.{measured.step.reading_decimals}f}"


@dataclass(frozen=True, kw_only=True)
class PacketContext:
    """What every section of one packet reads."""

    input: PacketInput
    design: Design

    @property
    def assessment(self) -> Assessment:
        """What the core said of the design at issue."""
        return self.input.assessment

    @cached_property
    def quantities(self) -> Quantities:
        """How figures are written."""
        shop = self.input.shop
        return Quantities(conventions=self.design.conventions, time_zone=shop.time_zone, currency=shop.currency)

    @cached_property
    def zone_names(self) -> dict[str, str]:
        """Zone names by key."""
        return {zone.key: zone.name for zone in self.design.platform.zones}

    @cached_property
    def nodes(self) -> dict[str, PowerNode]:
        """Nodes by key."""
        return {node.key: node for node in self.design.nodes}

    @cached_property
    def circuits_of(self) -> dict[str, list[Circuit]]:
        """Circuits by the panel they start on, by position."""
        found: dict[str, list[Circuit]] = {}
        for circuit in sorted(self.design.circuits, key=lambda item: (item.position, item.number)):
            found.setdefault(circuit.panel, []).append(circuit)
        return found

    @cached_property
    def circuit_results(self) -> dict[str, CircuitResult]:
        """Calculated figures by circuit number; a circuit that could not be computed is not in it."""
        return {result.number: result for result in self.assessment.circuits}

    @cached_property
    def measured(self) -> dict[str, Measured]:
        """Every step that asks for a reading, by its key."""
        return {
            step.key: Measured(step=step, tick=_newest_reading(step)) for step in self.input.steps if step.reading_unit
        }

    @cached_property
    def load_places(self) -> dict[str, str]:
        """Where a circuit's loads are, by circuit number: "Tailgate", "Locker 1, Locker 2"."""
        places: dict[str, dict[str, None]] = {}
        for load in self.design.loads:
            places.setdefault(load.circuit, {})[self.zone_names.get(load.zone, load.zone)] = None
        return {number: ", ".join(names) for number, names in places.items()}

    @property
    def disconnects(self) -> list[PowerNode]:
        """The main disconnects."""
        return [node for node in self.design.nodes if node.kind is NodeKind.DISCONNECT]

    @property
    def vehicle_name(self) -> str:
        """Customer and unit."""
        unit = self.design.vehicle.unit_number
        return f"{self.design.buyer.customer}, {unit}" if unit else self.design.buyer.customer

    def place(self, zone: str) -> str:
        """A zone's name, or its key where the platform has no such zone."""
        return self.zone_names.get(zone, zone)


def _newest_reading(step: StepPart) -> TickPart | None:
    return next((tick for tick in reversed(step.ticks) if tick.reading is not None), None)
