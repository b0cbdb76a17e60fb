"""The voltages that are read at loads, each beside what feeds it."""

from collections.abc import Iterator

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.supply_graph import converter_feeding
from builds.engineering.assessing.words import of_circuit, volts
from builds.engineering.assessment import Assessment, CircuitResult
from builds.engineering.design import Circuit, PowerNode
from builds.engineering.step_plans import ReadingPlan, StepPlan
from builds.engineering.vocabulary import Phase, Place

__all__ = ["ABOVE_SOURCE_RATIO", "voltage_steps"]

_READ_AT_LOAD = ("critical", "radio")  # drop classes whose loads are measured one by one
# Above the source by more than this a figure is a slip of the point or of the range, not a voltage of this vehicle: room for
# surface charge, a cold regulator and the meter. Common practice, no published source.
ABOVE_SOURCE_RATIO = 0.04
# Below half of the source's lowest voltage a load is not fed at all, whatever was lost. Common practice, no published source.
_FED_RATIO = 0.5


def voltage_steps(index: IndexedDesign, assessment: Assessment) -> Iterator[StepPlan]:
    """
    Yield the voltages to be read at loads: of the circuits that lose most of what they may, and of those that cannot lose much.

    What is lost is read against what feeds the circuit, at the same time: the battery's posts, or the converter's output.
    """
    circuits = {circuit.number: circuit for circuit in index.design.circuits}
    worst = max(assessment.circuits, key=lambda c: c.drop_ratio / c.drop_limit_ratio, default=None)
    for result in assessment.circuits:
        classes = {load.drop_class for load in index.loads_of.get(result.number, ())}
        if result is worst or classes.intersection(_READ_AT_LOAD):
            yield _voltage_step(index, circuits[result.number], result)


def _voltage_step(index: IndexedDesign, circuit: Circuit, result: CircuitResult) -> StepPlan:
    condition = index.conditions.get(result.worst_condition)
    loss_v = result.drop_limit_ratio * result.drop_base_v
    converter = converter_feeding(index, circuit)
    lowest_v, highest_v = _source_range_v(index, converter)
    where = "the battery post" if converter is None else f"the output of {converter.name or converter.key}"
    return StepPlan(
        key=f"volts/{circuit.number}",
        title=f"Measure the voltage at the load of circuit {circuit.number}",
        why="What is lost on the way is missing at the device.",
        instructions=(
            f"{of_circuit(circuit)}: turn on everything of {condition.name}."
            if condition
            else f"{of_circuit(circuit)}: turn it on.",
            "Measure across the load's own plus and minus, at full load; flashing lamps held on.",
            f"Measure {where} at the same time and write it down: {volts(loss_v)} may be lost between them, "
            f"{volts(result.drop_v)} is calculated.",
        ),
        phase=Phase.TEST,
        place=Place.VEHICLE,
        subject=f"circuit:{circuit.number}",
        reading=ReadingPlan(
            unit="V",
            minimum=None if lowest_v is None else round(lowest_v * _FED_RATIO, 2),
            maximum=None if highest_v is None else round(highest_v * (1 + ABOVE_SOURCE_RATIO), 2),
            calculated=round(result.load_v, 2),
            instrument="voltmeter",
            decimals=2,
            most_lost_v=round(loss_v, 2),
        ),
    )


def _source_range_v(index: IndexedDesign, converter: PowerNode | None) -> tuple[float | None, float | None]:
    """The lowest and the highest that feeds a circuit over all conditions; a converter holds its output."""
    if converter is not None and converter.converter is not None:
        return converter.converter.output_v, converter.converter.output_v
    conditions = index.design.conditions
    return (
        min((condition.source_low_v for condition in conditions), default=None),
        max((condition.source_high_v for condition in conditions), default=None),
    )
