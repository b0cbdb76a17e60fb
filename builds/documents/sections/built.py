"""What was built with its serials, what the customer brought, what was taken off."""

from collections.abc import Iterable
from dataclasses import dataclass

from builds.documents.packet_context import PacketContext
from builds.engineering.design import PartsBillLine
from builds.engineering.functions.form import schedule_digest
from builds.engineering.functions.reports import report_of
from builds.engineering.vocabulary import SuppliedBy

__all__ = ["Built", "GearLine", "LoadedLine", "PartGroup", "PartLine", "built_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLine:
    """A part as fitted."""

    key: str
    quantity: str
    part_number: str
    description: str
    place: str
    mass: str
    serials: tuple[str, ...]
    serial_gap: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartGroup:
    """Parts of one place on the vehicle."""

    place: str
    lines: tuple[PartLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GearLine:
    """Gear the customer brought, as received."""

    description: str
    due: str
    received: str
    condition: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedLine:
    """What a programmable device holds; ``is_older`` where the functions changed after the file was written."""

    device: str
    file: str
    sha256: str
    firmware: str
    loaded: str
    read_back: str
    is_older: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """Sections 2 and 3."""

    groups: tuple[PartGroup, ...]
    part_count: int
    added_mass: str
    removed: tuple[PartLine, ...]
    taken_off: tuple[tuple[str, str, str], ...]
    supplied: tuple[PartLine, ...]
    transferred: tuple[PartLine, ...]
    gear: tuple[GearLine, ...]
    loaded: tuple[LoadedLine, ...]
    serials_recorded: int
    serials_asked: int


def built_of(context: PacketContext) -> Built:
    """Return what was built, supplied and taken off."""
    fitted = [part for part in context.design.parts if not part.removed]
    ours = [part for part in fitted if part.supplied_by is SuppliedBy.SHOP]
    return Built(
        groups=tuple(_groups(context, ours)),
        part_count=len(ours),
        added_mass=context.quantities.mass(context.assessment.weight.added_kg),
        removed=tuple(_line(context, part) for part in context.design.parts if part.removed),
        taken_off=tuple((part.description, part.kept_at, part.disposition) for part in context.input.removed),
        supplied=tuple(_line(context, part) for part in fitted if part.supplied_by is SuppliedBy.CUSTOMER),
        transferred=tuple(_line(context, part) for part in fitted if part.supplied_by is SuppliedBy.TRANSFERRED),
        gear=tuple(_gear(context)),
        loaded=tuple(_loaded(context)),
        serials_recorded=sum(
            min(_fitted(context, part), int(part.quantity)) for part in fitted if part.serial_required
        ),
        serials_asked=sum(int(part.quantity) for part in fitted if part.serial_required),
    )


def _loaded(context: PacketContext) -> Iterable[LoadedLine]:
    compiled = report_of(context.design.function_schedule).compiled
    digest = schedule_digest(compiled.schedule) if compiled is not None else ""
    for item in context.input.loaded_files:
        read_back = ""
        if item.read_back_at is not None:
            read_back = f"{item.read_back_by}, {context.quantities.day(item.read_back_at)}"
        yield LoadedLine(
            device=f"{item.device} {item.serial}",
            file=f"{item.file_name}, version {item.file_version}",
            sha256=item.file_sha256,
            firmware=item.firmware,
            loaded=f"{item.loaded_by}, {context.quantities.day(item.loaded_at)}",
            read_back=read_back,
            is_older=item.schedule_sha256 != digest,
        )


def _groups(context: PacketContext, parts: Iterable[PartsBillLine]) -> Iterable[PartGroup]:
    by_place: dict[str, list[PartsBillLine]] = {}
    for part in parts:
        by_place.setdefault(part.zone, []).append(part)
    order = [zone.key for zone in context.design.platform.zones if zone.key in by_place]
    order += [zone for zone in by_place if zone not in order]
    for zone in order:
        place = context.place(zone) or "No single place"
        yield PartGroup(place=place, lines=tuple(_line(context, part) for part in by_place[zone]))


def _line(context: PacketContext, part: PartsBillLine) -> PartLine:
    serials = tuple(
        f"{item.serial} (replaced by {item.replaced_by})" if item.replaced_by else item.serial
        for item in context.input.serials
        if item.part == part.key
    )
    quantity = f"{part.quantity:g}" if part.unit == "each" else f"{part.quantity:g} {part.unit}"
    return PartLine(
        key=part.key,
        quantity=quantity,
        part_number=part.part_number,
        description=part.description,
        place=context.place(part.zone),
        mass=context.quantities.light_mass(part.mass_kg * part.quantity) if part.mass_kg else "",
        serials=serials,
        serial_gap=_serial_gap(context, part),
    )


def _fitted(context: PacketContext, part: PartsBillLine) -> int:
    """How many serials of a line are recorded of devices that are still in the vehicle."""
    return sum(1 for item in context.input.serials if item.part == part.key and not item.replaced_by)


def _serial_gap(context: PacketContext, part: PartsBillLine) -> str:
    """What is missing of the serials of a line, in words; empty where none is."""
    recorded, asked = _fitted(context, part), int(part.quantity)
    if not part.serial_required or part.removed or recorded >= asked:
        return ""
    return f"{recorded} of {asked} recorded" if recorded else "not recorded"


def _gear(context: PacketContext) -> Iterable[GearLine]:
    for item in context.input.gear:
        yield GearLine(
            description=item.description,
            due=context.quantities.day(item.due_on) if item.due_on else "",
            received=context.quantities.day(item.received_at) if item.received_at else "",
            condition=item.condition,
        )
