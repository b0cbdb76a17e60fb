"""Figures of the whole build that no wire changes: standing, labour, weight, price."""

from collections.abc import Callable
from decimal import Decimal

from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.states import Network
from builds.engineering.assessment import EnergyResult, LabourResult, PriceResult, WeightResult
from builds.engineering.design import Operation, PowerNode
from builds.engineering.units import kilograms_kg
from builds.engineering.vocabulary import Phase

__all__ = ["energy_result", "labour_result", "price_result", "weight_result"]

_SEAT_KG = kilograms_kg(150)  # 49 CFR 567.4(g)(3)
_LABEL_RATIO, _LABEL_KG = 0.015, kilograms_kg(100)  # 49 CFR 571.110: lesser of 1.5 % of GVWR and 100 lb


def energy_result(index: IndexedDesign, network: Network) -> EnergyResult:
    """
    Return what the added gear takes with the key off, and how long the vehicle may stand, in plain ampere-hours.

    With the isolator open each battery feeds its own sleepers; the first to reach the part that standing may use decides.
    Days are None where nothing sleeps on a battery, or the distribution has a ring.
    """
    draw_a = sum(load.key_off_a * load.quantity for load in index.design.loads)
    days = [
        battery.battery.capacity_ah * index.numbers["key-off-usable"] / (24 * own_a)
        for battery, own_a in _standing_draws(index, network)
        if battery.battery is not None and own_a > 0
    ]
    return EnergyResult(
        key_off_ma=1000 * draw_a, key_off_limit_ma=index.numbers["key-off-limit"], key_off_days=min(days, default=None)
    )


def _standing_draws(index: IndexedDesign, network: Network) -> list[tuple[PowerNode, float]]:
    draws = {battery.key: 0.0 for battery in index.batteries()}
    for state in network.states[1:]:
        for circuit, root in zip(state.feeding.circuits, state.feeding.root, strict=True):
            draws[root] += sum(load.key_off_a * load.quantity for load in index.loads_of.get(circuit.number, ()))
    return [(battery, draws[battery.key]) for battery in index.batteries()]


def labour_result(index: IndexedDesign) -> LabourResult:
    """Return the hours of all operations, by phase, place and skill."""
    operations = index.design.operations
    return LabourResult(
        crew_h=sum(_crew_h(operation) for operation in operations),
        elapsed_h=sum(operation.standard_h * operation.quantity / operation.crew for operation in operations),
        by_phase=_by(operations, lambda operation: operation.phase, order=tuple(Phase)),
        by_place=_by(operations, lambda operation: operation.place),
        by_skill=_by(operations, lambda operation: operation.skill),
    )


def _crew_h(operation: Operation) -> float:
    return operation.standard_h * operation.quantity


def _by(
    operations: tuple[Operation, ...], group: Callable[[Operation], str], order: tuple[str, ...] = ()
) -> tuple[tuple[str, float], ...]:
    hours: dict[str, float] = {}
    for operation in operations:
        hours[group(operation)] = hours.get(group(operation), 0.0) + _crew_h(operation)
    names = [name for name in order if name in hours] or sorted(hours)
    return tuple((str(name), hours[name]) for name in names)


def weight_result(index: IndexedDesign) -> WeightResult:
    """Return the mass added and what each axle carries with nobody aboard."""
    platform = index.design.platform
    added_kg, rear_kg = 0.0, 0.0
    for line in index.design.parts:
        mass_kg = line.quantity * line.mass_kg * (-1 if line.removed else 1)
        zone = index.zones.get(line.zone)
        added_kg += mass_kg
        rear_kg += mass_kg * (zone.x_mm if zone else platform.wheelbase_mm / 2) / platform.wheelbase_mm
    curb_kg = platform.curb_front_kg + platform.curb_rear_kg
    return WeightResult(
        added_kg=added_kg,
        payload_left_kg=platform.gvwr_kg - curb_kg - added_kg - _SEAT_KG * platform.seats,
        front_axle_kg=platform.curb_front_kg + added_kg - rear_kg,
        rear_axle_kg=platform.curb_rear_kg + rear_kg,
        gvwr_kg=platform.gvwr_kg,
        gawr_front_kg=platform.gawr_front_kg,
        gawr_rear_kg=platform.gawr_rear_kg,
        label_threshold_kg=min(_LABEL_RATIO * platform.gvwr_kg, _LABEL_KG),
    )


def price_result(index: IndexedDesign) -> PriceResult:
    """Return parts, labour, tax and total."""
    return PriceResult(parts=Decimal(0), labour=Decimal(0), tax=Decimal(0), total=Decimal(0))
