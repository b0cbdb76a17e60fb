"""The registers of a build as one page reads them."""

from collections.abc import Sequence
from dataclasses import dataclass

from builds.models import BodyPenetration, Build, CustomerGear, PartsBillLine, RemovedPart, SerialNumber, Splice

__all__ = ["Registers", "SerialLine", "registers_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialLine:
    """A part that is asked for its serial: those fitted, those that were swapped, and how many are still missing."""

    line: PartsBillLine
    fitted: tuple[SerialNumber, ...]
    swapped: tuple[SerialNumber, ...]
    missing: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Registers:
    """Everything a build remembers of its own making."""

    serials: tuple[SerialLine, ...]
    splices: Sequence[Splice]
    penetrations: Sequence[BodyPenetration]
    gear: Sequence[CustomerGear]
    removed_parts: Sequence[RemovedPart]


def registers_of(build: Build) -> Registers:
    """Return the registers of a build, in six questions however long they are."""
    return Registers(
        serials=_serials(build),
        splices=list(build.splices.select_related("by")),
        penetrations=list(build.penetrations.select_related("by", "photo__file").order_by("label")),
        gear=list(build.gear.select_related("by", "photo__file")),
        removed_parts=list(build.removed_parts.select_related("by")),
    )


def _serials(build: Build) -> tuple[SerialLine, ...]:
    lines = build.parts.filter(removed=False).prefetch_related("serials__replaced_by", "serials__by")
    return tuple(_serial_line(line) for line in lines if line.serial_required or line.serials.all())


def _serial_line(line: PartsBillLine) -> SerialLine:
    fitted = tuple(item for item in line.serials.all() if item.replaced_by_id is None)
    swapped = tuple(item for item in line.serials.all() if item.replaced_by_id is not None)
    return SerialLine(line=line, fitted=fitted, swapped=swapped, missing=max(0, int(line.quantity) - len(fitted)))
