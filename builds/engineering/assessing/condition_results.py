"""Every operating condition: the currents of all loads together, how the source stands, how long the batteries last."""

from dataclasses import dataclass

import numpy as np

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.settings import engine_runs
from builds.engineering.assessing.source_outputs import charged_rows, outputs_of
from builds.engineering.assessing.states import Network, State
from builds.engineering.assessment import AlternatorUse, ConditionResult
from builds.engineering.design import OperatingCondition, PowerNode
from builds.engineering.electrical.battery import discharge_at

__all__ = ["BatteryUse", "battery_uses", "condition_results", "solved_conditions"]

_LEAST_A = 1e-9  # less than this is what rounding leaves of a load that its charger carries


@dataclass(frozen=True, slots=True)
class BatteryUse:
    """
    A battery that carries loads without an engine in a condition, and how long it does.

    ``mean_a`` is what it gives itself; ``charged_a`` is what a charger that is too small for its loads gives beside it.
    """

    condition: OperatingCondition
    battery: PowerNode
    mean_a: float
    time_h: float
    charged_a: float = 0.0


def solved_conditions(network: Network) -> dict[int, tuple[State, int]]:
    """Return, by the condition's place in the design, the state and the column that hold it; those that work only."""
    return {
        place: (state, column)
        for state in network.states
        for column, place in enumerate(state.chosen)
        if state.works[column]
    }


def battery_uses(index: IndexedDesign, network: Network) -> tuple[BatteryUse, ...]:
    """Return every battery's time in every condition without an engine, in the design's order."""
    uses = []
    for place, (state, column) in sorted(solved_conditions(network).items()):
        mean_a, condition = state.worst.mean_a[:, column], index.design.conditions[place]
        outputs = outputs_of(index, state.feeding, condition)
        for row, battery in enumerate(index.batteries()):
            charged_a = sum(output.available_a for output in outputs.get(battery.key, ()))
            if battery.key in outputs and (engine_runs(condition.source_state) or not outputs[battery.key]):
                continue
            current_a = float(state.feeding.battery[row] @ mean_a) - charged_a
            if current_a > _LEAST_A:
                time_h = _time_h(battery, current_a)
                uses.append(BatteryUse(condition, battery, current_a, time_h, charged_a))
    return tuple(uses)


def _time_h(battery: PowerNode, current_a: float) -> float:
    assert battery.battery is not None
    spec = battery.battery
    return discharge_at(
        capacity_ah=spec.capacity_ah,
        rated_hours=spec.rated_hours,
        peukert_exponent=spec.peukert_exponent,
        current_a=current_a,
        usable_ratio=spec.usable_ratio,
    ).time_h


def condition_results(
    index: IndexedDesign, network: Network, uses: tuple[BatteryUse, ...]
) -> tuple[ConditionResult, ...]:
    """
    Return the figures of every condition that has an operating point, in the design's order.

    A condition without one has no currents to report: a finding names it instead.
    """
    held = solved_conditions(network)
    return tuple(
        _result(index, network, condition, *held[place], uses)
        for place, condition in enumerate(index.design.conditions)
        if place in held
    )


def _result(
    index: IndexedDesign,
    network: Network,
    condition: OperatingCondition,
    state: State,
    column: int,
    uses: tuple[BatteryUse, ...],
) -> ConditionResult:
    from_batteries = state.feeding.from_batteries
    times = [use.time_h for use in uses if use.condition is condition]
    peak_a = state.total_peak_a(column)
    lowest_v, lowest_load = _lowest(index, network, state, column)
    return ConditionResult(
        key=condition.key,
        name=condition.name,
        mean_a=float(state.worst.mean_a[from_batteries, column].sum()),
        rms_a=min(float(state.worst.rms_a[from_batteries, column].sum()), peak_a),
        peak_a=peak_a,
        source=_source(index, condition, state, column),
        battery_h=min(times) if times else None,
        min_hours=condition.min_hours,
        lowest_load_v=lowest_v,
        lowest_load_key=lowest_load,
    )


def _source(index: IndexedDesign, condition: OperatingCondition, state: State, column: int) -> AlternatorUse | None:
    """What charges in this condition, against what loads and charging converters take of its batteries; None where nothing does."""
    feeding = state.feeding
    found = outputs_of(index, feeding, condition)
    outputs = [output for of_battery in found.values() for output in of_battery]
    if not outputs:
        return None
    available_a = sum(output.available_a for output in outputs)
    rows = charged_rows(index, found)
    mean_a, of_loads_a = (
        float(rows @ (feeding.battery @ current_a[:, column]))
        for current_a in (state.charging_mean_a, state.worst.mean_a)
    )
    return AlternatorUse(
        available_a=available_a,
        margin_a=available_a - mean_a,
        charging_a=mean_a - of_loads_a,
        estimate=any(output.estimate for output in outputs),
    )


def _lowest(index: IndexedDesign, network: Network, state: State, column: int) -> tuple[float | None, str]:
    """The load that is left with the lowest voltage, and that voltage; the first of the design where several are."""
    on = network.demand.on[:, state.chosen[column]] * (1.0 - state.low.off[:, column])
    known = state.feeds.at_loads(state.known.astype(np.float64)[:, None])[:, 0]
    rows = np.flatnonzero((on > 0) & (known > 0))
    if not len(rows):
        return None, ""
    voltages = state.feeds.at_loads(state.low.voltage_v[:, [column]])[rows, 0]
    at = int(voltages.argmin())
    return float(voltages[at]), index.design.loads[int(rows[at])].key
