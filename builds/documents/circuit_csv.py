"""The circuit schedule as CSV (RFC 4180): one row a circuit, SI units in the heads, empty where nobody measured."""

import csv
import io

from builds.documents.packet_context import PacketContext
from builds.engineering.assessment import CircuitResult
from builds.engineering.design import Circuit

__all__ = ["circuit_csv"]

_HEADS = (
    "number", "legend", "panel", "position", "to", "device_family", "device_rating_a", "gauge", "gauge_basis", "colour",
    "length_m", "return_node", "return_length_m", "continuous_a", "peak_a", "drop_v_calculated", "drop_ratio_calculated",
    "drop_ratio_limit", "load_v_calculated", "load_v_measured", "battery_v_at_reading", "worst_condition",
)  # fmt: skip


def circuit_csv(context: PacketContext) -> str:
    """Return the schedule; figures are those of the packet's own tables, unrounded."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_HEADS)
    for circuit in context.design.circuits:
        writer.writerow([*_designed(context, circuit), *_calculated_and_measured(context, circuit.number)])
    return out.getvalue()


def _designed(context: PacketContext, circuit: Circuit) -> list[str | float | int]:
    return [
        _word(circuit.number), _word(circuit.legend), _word(circuit.panel), circuit.position,
        _word(context.load_places.get(circuit.number, "")), circuit.device_family, circuit.device_rating_a, circuit.gauge,
        context.design.conventions.gauge_basis.value, circuit.colour, circuit.length_m, _word(circuit.return_node),
        circuit.return_length_m,
    ]  # fmt: skip


def _calculated_and_measured(context: PacketContext, number: str) -> list[str | float]:
    result: CircuitResult | None = context.circuit_results.get(number)
    measured = context.measured.get(f"volts/{number}")
    tick = measured.tick if measured else None
    reading = "" if tick is None or tick.reading is None else str(tick.reading)
    post = "" if tick is None or tick.reading_at_v is None else str(tick.reading_at_v)
    if result is None:
        return ["", "", "", "", "", "", reading, post, ""]
    return [
        result.continuous_a, result.peak_a, result.drop_v, result.drop_ratio, result.drop_limit_ratio, result.load_v,
        reading, post, result.worst_condition,
    ]  # fmt: skip


def _word(text: str) -> str:
    """A text that a spreadsheet would take for a formula gets an apostrophe in front."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
