"""Loads that take more as they start: what their own start leaves them, whatever current the drop rule names."""

import math
from collections.abc import Iterator

import numpy as np

from builds.engineering.assessing.devices import device_at
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.solving import Floats
from builds.engineering.assessing.states import Network, State
from builds.engineering.assessing.words import amperes, of_circuit, of_condition, of_load, volts
from builds.engineering.catalogue import found
from builds.engineering.design import Circuit, Load
from builds.engineering.electrical.coordination import opening_time
from builds.engineering.findings import Finding, Number

__all__ = ["inrush_findings", "opening_findings"]

_AMBIENT_C = 25.0  # opening times are stated at it
_AT_ONCE_S = 0.001


def inrush_findings(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    """Yield, once a load, the worst condition in which its own start takes it below its least voltage."""
    starting = [
        (row, load) for row, load in enumerate(index.design.loads) if load.inrush_a > load.current_a and load.min_v > 0
    ]
    if not starting:
        return
    circuits = {circuit.number: circuit for circuit in index.design.circuits}
    worst: dict[int, tuple[float, int]] = {}
    for state in network.states:
        if not state.chosen or not state.feeding.circuits:
            continue
        loop_ohm = _loop_ohm(state)
        for row, load in starting:
            if load.circuit not in state.feeding.column_of:
                continue
            at = state.feeding.column_of[load.circuit]
            left_v = state.low.voltage_v[at] - (load.inrush_a - load.current_a) * load.quantity * loop_ohm[at]
            runs = (network.demand.on[row, list(state.chosen)] > 0) & (state.low.off[row] == 0) & state.works
            for column in np.flatnonzero(runs & (left_v < load.min_v - 1e-9)).tolist():
                here = float(left_v[column]), state.chosen[column]
                worst[row] = min(worst.get(row, here), here)
    for row, load in starting:
        if row in worst:
            yield _below(index, load, circuits[load.circuit], *worst[row])


def opening_findings(index: IndexedDesign) -> Iterator[Finding]:
    """Yield the loads whose start may open their circuit's device at once."""
    circuits = {circuit.number: circuit for circuit in index.design.circuits}
    for load in index.design.loads:
        circuit = circuits.get(load.circuit)
        if load.inrush_a <= load.current_a or circuit is None:
            continue
        inrush_a = load.inrush_a * load.quantity
        if _opens_at_once(circuit, inrush_a):
            yield found(
                "inrush-opens-device", f"load:{load.key}", numbers=(Number(name="inrush", value=inrush_a, unit="A"),),
                load=of_load(load), inrush=amperes(inrush_a), device=amperes(circuit.device_rating_a), where=of_circuit(circuit),
            )  # fmt: skip


def _opens_at_once(circuit: Circuit, inrush_a: float) -> bool:
    family = device_at(circuit.device_family, circuit.device_rating_a, _AMBIENT_C).family
    if family is None or not circuit.device_rating_a:
        return False
    time = opening_time(family=family.key, rating_a=circuit.device_rating_a, current_a=inrush_a)
    return time is not None and time.least_s < _AT_ONCE_S


def _loop_ohm(state: State) -> Floats:
    """Everything between the source and each circuit's loads, conductors hot, the battery's inside counted [Ω]."""
    element_ohm, own_ohm = state.resistances.at(max(case.conductor_temp_c for case in state.drops))
    return np.asarray(state.feeding.loop_ohm(element_ohm) + own_ohm + state.feeding.battery.T**2 @ state.source_ohm)


def _below(index: IndexedDesign, load: Load, circuit: Circuit, left_v: float, place: int) -> Finding:
    inrush_a = load.inrush_a * load.quantity
    numbers = (Number(name="voltage", value=left_v, unit="V"), Number(name="least", value=load.min_v, unit="V"))
    return found(
        "inrush-below-least", f"load:{load.key}", numbers=numbers,
        load=of_load(load), condition=of_condition(index.design.conditions[place]), inrush=amperes(inrush_a),
        voltage=volts(max(left_v, 0.0)), minimum=volts(load.min_v), device=_device_words(circuit, inrush_a),
    )  # fmt: skip


def _device_words(circuit: Circuit, inrush_a: float) -> str:
    """How long the circuit's device bears the start."""
    name = f"its {amperes(circuit.device_rating_a)} device"
    family = device_at(circuit.device_family, circuit.device_rating_a, _AMBIENT_C).family
    if family is None or not circuit.device_rating_a:
        return f"how long {name} bears that is in no table"
    time = opening_time(family=family.key, rating_a=circuit.device_rating_a, current_a=inrush_a)
    if time is None:
        return f"how long {name} bears that is in no table"
    if time.least_s < _AT_ONCE_S:
        return f"{name} may open at that at once"
    seconds = f"{time.least_s:.2g}" if time.least_s < 10 else f"{time.least_s:,.0f}"
    return f"{name} bears that{f' for {seconds} s at the least' if math.isfinite(time.least_s) else ''}"
