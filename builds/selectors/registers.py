"""The registers of a build as one page reads them."""

from collections.abc import Sequence
from dataclasses import dataclass

from builds.models import BodyPenetration, Build, CustomerGear, PartsBillLine, RemovedPart, SerialNumber, Splice

__all__ = ["Registers", "SerialCount", "SerialLine", "registers_of", "serial_count", "serial_lines"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialLine:
    """A part that is asked for its serial: those fitted, those that were swapped, and how many are still missing."""

    line: PartsBillLine
    fitted: tuple[SerialNumber, ...]
    swapped: tuple[SerialNumber, ...]
    missing: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialCount:
    """How many of the serials that the parts bill asks for are written down; ``missing`` names the lines that lack some."""

    recorded: int
    asked: int
    missing: tuple[str, ...]

    @property
    def words(self) -> str:
        """How many there are of how many; empty where none is asked for."""
        return f"{self.recorded} of {self.asked} recorded" if self.asked else ""


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
        serials=serial_lines(build),
        splices=list(build.splices.select_related("by")),
        penetrations=list(build.penetrations.select_related("by", "photo__file").order_by("label")),
        gear=list(build.gear.select_related("by", "photo__file")),
        removed_parts=list(build.removed_parts.select_related("by")),
    )


def serial_count(lines: Sequence[SerialLine]) -> SerialCount:
    """Return how many serials are recorded of those that are asked for."""
    asked = [item for item in lines if item.line.serial_required]
    quantity = sum(int(item.line.quantity) for item in asked)
    lacking = [item for item in asked if item.missing]
    return SerialCount(
        recorded=quantity - sum(item.missing for item in lacking),
        asked=quantity,
        missing=tuple(
            f"{item.line.key} {item.line.description}{f' ({item.missing})' if item.missing > 1 else ''}"
            for item in lacking
        ),
    )


def serial_lines(build: Build) -> tuple[SerialLine, ...]:
    """Return the parts that are asked for their serials, or have some; two questions however many there are."""
    lines = build.parts.filter(removed=False).prefetch_related("serials__replaced_by", "serials__by")
    return tuple(_serial_line(line) for line in lines if line.serial_required or line.serials.all())


def _serial_line(line: PartsBillLine) -> SerialLine:
    fitted = tuple(item for item in line.serials.all() if item.replaced_by_id is None)
    swapped = tuple(item for item in line.serials.all() if item.replaced_by_id is not None)
    return SerialLine(line=line, fitted=fitted, swapped=swapped, missing=max(0, int(line.quantity) - len(fitted)))
