"""
Every circuit at its worst, and what it ought to be: load, then device, then conductor.

The worst of each figure is taken over all conditions in which the circuit has something on. A load that no condition uses
is counted as on, at its data sheet's current, for its own circuit's device and conductor and for nothing else.
"""

import math
from bisect import bisect_left
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from builds.engineering.assessing.devices import Device, device_at
from builds.engineering.assessing.fault_heat import fault_temp_ratio
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.section_drops import section_own_ohm
from builds.engineering.assessing.shorts import Shorts
from builds.engineering.assessing.states import Network
from builds.engineering.assessing.wires import Wire
from builds.engineering.assessing.worst_drops import WorstDrop, worst_drops
from builds.engineering.assessment import CircuitResult
from builds.engineering.design import Circuit, Load

__all__ = ["CircuitFacts", "Needs", "circuit_facts", "gauge_for"]

_ASKING = ("load", "device", "drop", "far-end fault", "smallest allowed")
_SAME = 1e-9  # figures that agree to nine digits are equal


class Needs(NamedTuple):
    """
    What is asked of a conductor apart from its device: current, the most resistance that drop leaves it, and what a short
    at its far end runs through besides. A run has no drop rule of its own and no far end where a short is judged.

    Currents are those over the best of wires, since what is chosen by them may be thicker than what is there.
    """

    current_a: float
    continuous_a: float
    most_drop_ohm: float = np.inf  # own wire, out and back, at 20 °C
    loop_ohm: float = 0.0
    fault_v: float | None = None
    fault_temp_ratio: float = 1.0


@dataclass(slots=True, eq=False)
class CircuitFacts:
    """
    A fed circuit with every figure that its result and its findings need; they mean nothing where ``known`` is False.

    Its ``result`` is made when it is asked for: choosing sizes again and again needs the facts alone.
    """

    circuit: Circuit
    known: bool
    wire: Wire
    device: Device
    nominal_v: float
    sizing_a: float
    continuous_a: float
    drop: WorstDrop
    needs: Needs
    prospective_a: float
    far_end_fault_a: float
    _setting: "_Setting"
    _result: CircuitResult | None = None

    @property
    def result(self) -> CircuitResult:
        """The circuit at its worst, and what it ought to be."""
        if self._result is None:
            self._result = _result(self._setting, self)
        return self._result

    def proposed_device(self) -> Device:
        """Return the smallest of its device's family that every rule lets through; its own where there is none."""
        index, needs, proposed_a = self._setting.index, self.needs, None
        if needs.current_a:  # a circuit that feeds nothing asks for no other device than it has
            loading_ratio = self._setting.loading_ratio
            proposed_a = self.device.smallest_a(
                needs.continuous_a, needs.current_a, loading_ratio, index.stocked_ratings_a
            )
        return device_at(self.device.name, proposed_a or self.device.rating_a, self.device.ambient_c)


def circuit_facts(index: IndexedDesign, network: Network, shorts: Shorts) -> tuple[CircuitFacts, ...]:
    """Return the facts of every circuit that some battery feeds and that can return, in the design's order."""
    drops = _all_drops(index, network)
    setting = _Setting(
        index,
        network,
        shorts,
        index.numbers["device-loading"],
        _worst_currents(index, network),
    )
    unknown = {
        circuit.number
        for state in network.states
        for circuit, known in zip(state.feeding.circuits, state.known.tolist(), strict=False)  # converters behind them
        if not known
    }
    return tuple(
        _facts(setting, circuit, drops[circuit.number], known=circuit.number not in unknown)
        for circuit in index.design.circuits
        if circuit.number in drops
    )


def _all_drops(index: IndexedDesign, network: Network) -> dict[str, WorstDrop]:
    """The worst drops, each leaving the circuit's own wire no more than rules of a part of the way do."""
    drops = worst_drops(index, network)
    for number, ohm in (section_own_ohm(index, network) if index.rules_beside else {}).items():
        drops[number] = drops[number]._replace(most_own_ohm=min(drops[number].most_own_ohm, ohm))
    return drops


@dataclass(frozen=True, slots=True)
class _Setting:
    """What the facts of all circuits have in common, read once."""

    index: IndexedDesign
    network: Network
    shorts: Shorts
    loading_ratio: float
    currents: dict[str, "_Currents"]


class _Currents(NamedTuple):
    """A circuit's worst currents over all conditions; the last two over the best of wires."""

    mean_a: float
    lit_a: float
    sizing_a: float
    continuous_a: float
    unstarved_a: float
    unstarved_continuous_a: float


def _worst_currents(index: IndexedDesign, network: Network) -> dict[str, _Currents]:
    """Each circuit's worst currents by number; a load that no condition uses counts from its data sheet."""
    row_of = {circuit.number: row for row, circuit in enumerate(index.design.circuits)}
    worst = np.zeros((len(row_of), len(_Currents._fields)))
    for state in network.states:
        rows = [row_of[circuit.number] for circuit in state.feeding.circuits]
        figures = [getattr(state.worst, name) for name in _Currents._fields]
        peaks = np.column_stack([figure[: len(rows)].max(axis=1, initial=0.0) for figure in figures])
        worst[rows] = np.maximum(worst[rows], peaks)
    for load in index.design.loads:
        if load.key not in index.used_loads and load.circuit in row_of:
            current_a = _sizing_of_unused_a(load)
            worst[row_of[load.circuit]] += (0.0, 0.0, *(current_a, current_a * load.continuous) * 2)
    return {number: _Currents(*row) for number, row in zip(row_of, worst.tolist(), strict=True)}


def _sizing_of_unused_a(load: Load) -> float:
    factor = 1.0 if load.can_be_steady else math.sqrt(load.duty_ratio)
    return load.current_a * load.quantity * factor


def _facts(setting: _Setting, circuit: Circuit, drop: WorstDrop, *, known: bool) -> CircuitFacts:
    index, shorts = setting.index, setting.shorts
    panel, wire = index.nodes[circuit.panel], setting.network.circuit_wires[circuit.number]
    device = device_at(circuit.device_family, circuit.device_rating_a, index.ambient_of_c(panel.zone))
    currents = setting.currents[circuit.number]
    needs = Needs(
        current_a=currents.unstarved_a,
        continuous_a=currents.unstarved_continuous_a,
        most_drop_ohm=drop.most_own_ohm,
        loop_ohm=shorts.loop_ohm[circuit.number],
        fault_v=shorts.source_v[circuit.number],
        fault_temp_ratio=fault_temp_ratio(circuit.insulation_c),
    )
    return CircuitFacts(
        circuit=circuit,
        known=known,
        wire=wire,
        device=device,
        nominal_v=panel.nominal_v,
        sizing_a=currents.sizing_a,
        continuous_a=currents.continuous_a,
        drop=drop,
        needs=needs,
        prospective_a=shorts.prospective_a(circuit.panel) or 0.0,
        far_end_fault_a=shorts.far_end_a[circuit.number],
        _setting=setting,
    )


def _result(setting: "_Setting", facts: CircuitFacts) -> CircuitResult:
    index, circuit, needs, drop = setting.index, facts.circuit, facts.needs, facts.drop
    proposed = facts.proposed_device()
    gauge, rule = gauge_for(index, facts.wire, needs, proposed)
    currents = setting.currents[circuit.number]
    return CircuitResult(
        number=circuit.number,
        mean_a=currents.mean_a,
        continuous_a=currents.sizing_a,
        peak_a=currents.lit_a,
        drop_v=drop.drop_v,
        drop_ratio=drop.drop_v / drop.rule.base_v,
        drop_limit_ratio=drop.rule.limit_ratio,
        drop_base_v=drop.rule.base_v,
        drop_rule=drop.rule.key,
        worst_condition=drop.condition,
        load_v=drop.load_v,
        ampacity_a=facts.wire.ampacity_a or 0.0,
        prospective_a=facts.prospective_a,
        far_end_fault_a=facts.far_end_fault_a,
        proposed_gauge=gauge,
        proposed_rating_a=proposed.rating_a,
        deciding_rule=rule,
    )


def gauge_for(index: IndexedDesign, wire: Wire, needs: Needs, device: Device | None) -> tuple[str, str]:
    """
    Return the smallest gauge that every rule lets through behind a device (if there is one), and the rule that asked for it.

    The gauge is empty where no size of the basis will do; the rule is then the one that none satisfies. Of several rules
    that ask for the same size the first of load, device, drop, far-end fault, smallest allowed is named; "stocked" where the
    shelf asks for more than all of them.
    """
    choice, rating_a = wire.choice, device.rating_a if device else 0.0
    asked = (
        _first_at_least(choice.ampacity_a, needs.current_a / wire.parallel),
        _first_at_least(choice.ampacity_a, index.numbers["conductor-margin"] * rating_a / wire.parallel),
        _first_at_most(choice.minus_ohm_per_m, needs.most_drop_ohm, wire),
        _first_at_most(choice.minus_ohm_per_m, _most_fault_ohm(needs, device), wire),
        _first_at_least(choice.area_mm2, index.least_area_mm2),
    )
    row = max(asked)
    rule = _ASKING[asked.index(row)]
    if row >= len(choice.gauges):
        return "", rule
    stocked = index.stocked_gauges
    if stocked is None or choice.gauges[row] in stocked:
        return choice.gauges[row], rule
    return next((gauge for gauge in choice.gauges[row:] if gauge in stocked), ""), "stocked"


def _first_at_least(rising: tuple[float, ...], least: float) -> int:
    """Row of the first of rising figures that is at least ``least``; one past the end if none is."""
    return bisect_left(rising, least * (1 - _SAME))


def _first_at_most(minus_ohm_per_m: tuple[float, ...], most_ohm: float, wire: Wire) -> int:
    """Row of the first size whose resistance over the wire's length is at most ``most_ohm``; one past the end if none is."""
    if not wire.length_m:
        return 0 if most_ohm >= 0 else len(minus_ohm_per_m)
    return bisect_left(minus_ohm_per_m, -most_ohm * (1 + _SAME) * wire.parallel / wire.length_m)


def _most_fault_ohm(needs: Needs, device: Device | None) -> float:
    """The most resistance at 20 °C that lets a short at the far end open the device quickly [Ω]."""
    if device is None or device.family is None or needs.fault_v is None:
        return np.inf
    current_a = device.family.far_end_multiple_ratio * device.rating_a
    return (needs.fault_v / current_a - needs.loop_ohm) / needs.fault_temp_ratio
