"""What the vehicle's QR code opens: the as-built circuits, splices and holes, searched by whoever stands at the vehicle."""

from collections.abc import Iterable
from dataclasses import dataclass

from builds.documents.packet_context import PacketContext
from builds.documents.packet_input import PacketInput
from builds.documents.sections.panels import CircuitLine, panels_of
from builds.documents.sections.registers import HoleLine, SpliceLine, registers_of
from builds.documents.sections.use import LivePart, switching_of
from builds.engineering.design import Design

__all__ = ["FoundCircuit", "VehicleRecord", "vehicle_record"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundCircuit:
    """A circuit with its panel, and the splices made in it."""

    panel: str
    panel_name: str
    panel_place: str
    line: CircuitLine
    splices: tuple[SpliceLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleRecord:
    """The record as it was found for some words; without words, all of it."""

    words: str
    circuits: tuple[FoundCircuit, ...]
    splices: tuple[SpliceLine, ...]
    holes: tuple[HoleLine, ...]
    disconnects: tuple[tuple[str, str, str], ...]
    live: tuple[LivePart, ...]
    length_unit: str
    gauge_unit: str

    @property
    def found(self) -> int:
        """How many lines were found."""
        return len(self.circuits) + len(self.splices) + len(self.holes)


def vehicle_record(packet_input: PacketInput, design: Design, *, words: str = "") -> VehicleRecord:
    """Return the record; every word has to stand somewhere in a line, in capitals or not."""
    context = PacketContext(input=packet_input, design=design)
    registers = registers_of(context)
    wanted = words.casefold().split()
    switching = switching_of(context)
    loads: dict[str, list[str]] = {}
    for load in design.loads:
        loads.setdefault(load.circuit, []).append(load.name)
    return VehicleRecord(
        words=words,
        circuits=tuple(item for item in _circuits(context, registers.splices) if _has(wanted, _said(item, loads))),
        splices=tuple(item for item in registers.splices if _has(wanted, (item.circuit, item.place, item.method))),
        holes=tuple(item for item in registers.holes if _has(wanted, (item.label, item.place, item.sealed_with))),
        disconnects=switching.disconnects,
        live=switching.live,
        length_unit=context.quantities.length_unit,
        gauge_unit=context.quantities.gauge("").strip(),
    )


def _circuits(context: PacketContext, splices: Iterable[SpliceLine]) -> Iterable[FoundCircuit]:
    for page in panels_of(context, drawn=False):
        for line in page.circuits:
            yield FoundCircuit(
                panel=page.key,
                panel_name=page.name,
                panel_place=page.place,
                line=line,
                splices=tuple(splice for splice in splices if splice.circuit == line.number),
            )


def _said(item: FoundCircuit, loads: dict[str, list[str]]) -> tuple[str, ...]:
    line = item.line
    return (
        line.number, line.legend, item.panel, item.panel_name, f"{item.panel}-{line.position}", line.to, line.colour,
        f"{line.device} A", f"{line.device}A", line.returns, *loads.get(line.number, ()),
    )  # fmt: skip


def _has(wanted: list[str], said: tuple[str, ...]) -> bool:
    text = "\n".join(said).casefold()
    return all(word in text for word in wanted)
