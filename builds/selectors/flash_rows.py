"""What flashes in a condition, circuit by circuit, as its page shows it."""

from dataclasses import dataclass

from builds.engineering.design import Design, OperatingCondition
from builds.engineering.errors import OutOfRange
from builds.engineering.functions.flash_sums import flash_by_circuit
from builds.selectors.figure_words import ampere

__all__ = ["FlashRow", "flash_rows"]


@dataclass(frozen=True, slots=True)
class FlashRow:
    """One circuit: its lamps, and the three currents of their sum beside all of them lit at once."""

    circuit: str
    loads: str
    mean: str
    heat: str
    peak: str
    all_lit: str


def flash_rows(design: Design, condition: OperatingCondition) -> list[FlashRow]:
    """Return the circuits on which something flashes; none where patterns never come round together."""
    try:
        found = flash_by_circuit(design, condition)
    except OutOfRange:
        return []
    return [
        FlashRow(
            item.circuit,
            ", ".join(item.loads),
            ampere(item.total.mean_a),
            ampere(item.total.heat_a),
            ampere(item.total.peak_a),
            ampere(item.all_lit_a),
        )
        for item in found
    ]
