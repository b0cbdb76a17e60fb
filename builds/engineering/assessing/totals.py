"""Figures of the whole build that no wire changes: standing, labour, price."""

from collections.abc import Callable

from builds.engineering.assessing.conversion import Conversion, nominal_v
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.states import Network
from builds.engineering.assessment import EnergyResult, LabourResult, PriceResult
from builds.engineering.design import BatterySpec, Load, Operation, PowerNode
from builds.engineering.electrical.battery import source_default
from builds.engineering.electrical.standing import standing_days_d
from builds.engineering.labour import hours_by, total_hours
from builds.engineering.money import BillLine, as_decimal, bill_of, line_total
from builds.engineering.vocabulary import Phase, SourceState, SuppliedBy

__all__ = [
    "asleep_ratios",
    "dead_with_key_off",
    "energy_result",
    "idle_at_batteries_a",
    "labour_result",
    "price_result",
    "run_ons",
    "self_discharge",
]

_HOURS_PLACES = 3  # what a standard hour is kept to


def energy_result(index: IndexedDesign, network: Network) -> EnergyResult:
    """
    Return what the added gear takes of its batteries with the key off, and how long the vehicle may stand, in plain ampere-hours.

    With the isolator open each battery feeds its own sleepers; the first to reach the part that standing may use decides.
    What a battery loses by itself counts beside what sleeps on it.
    Days are None where nothing sleeps on a battery, or the distribution has a ring.
    """
    ratio, dead = asleep_ratios(index, network), dead_with_key_off(index, network)
    draw_a = sum(
        load.key_off_a * load.quantity * ratio.get(load.circuit, 1.0)
        for load in index.design.loads
        if load.circuit not in dead
    )
    draw_a += idle_at_batteries_a(index, network)
    timers = run_ons(index, network)
    days = [
        standing_days_d(
            capacity_ah=battery.battery.capacity_ah,
            draw_a=own_a,
            usable_ratio=index.numbers["key-off-usable"],
            self_discharge_per_day_ratio=self_discharge(battery.battery) if own_a else 0.0,
            run_on_ah=run_on_ah,
        )
        for (battery, own_a), (_, run_on_ah) in zip(standing_draws(index, network), timers, strict=True)
        if battery.battery is not None
    ]
    return EnergyResult(
        key_off_ma=1000 * draw_a,
        key_off_limit_ma=index.numbers["key-off-limit"],
        key_off_days=min((day for day in days if day is not None), default=None),
        run_on_ah=max((run_on_ah for _, run_on_ah in timers), default=0.0),
    )


def dead_with_key_off(index: IndexedDesign, network: Network) -> frozenset[str]:
    """Return the circuits, by number, behind access points that the vehicle keeps dead with the key off: nothing sleeps there."""
    dead = index.dead_points[SourceState.KEY_OFF]
    if not dead:
        return frozenset()
    tree = network.states[0].feeding.supply_tree
    return frozenset(circuit.number for circuit in index.design.circuits if dead & set(tree.nodes_to(circuit.panel)))


def self_discharge(spec: BatterySpec) -> float:
    """Return the part of its capacity that a battery loses by itself in a day [1/d]; the table's, where it does not say."""
    given = spec.self_discharge_per_day_ratio
    return source_default("self_discharge_per_day_ratio") if given is None else given


def asleep_ratios(index: IndexedDesign, network: Network) -> dict[str, float]:
    """
    Return the amperes that an ampere on each circuit takes from its battery with the engine off, by circuit number.

    Behind a converter that is its output voltage over its efficiency and the voltage before it; without one it is 1.
    """
    feeding = network.states[1].feeding
    of_root = _ratios_of_roots(index, network)
    pairs = zip(feeding.circuits, feeding.root, strict=False)  # converters stand behind the circuits
    return {circuit.number: of_root.get(root, 1.0) for circuit, root in pairs}


def idle_at_batteries_a(index: IndexedDesign, network: Network) -> float:
    """Return what all converters take for themselves, as amperes at the batteries behind them [A]."""
    feeding, of_root = network.states[1].feeding, _ratios_of_roots(index, network)
    return sum(_idle_a(index, network, part) * of_root.get(feeding.root[part.row], 1.0) for part in feeding.conversions)


def _ratios_of_roots(index: IndexedDesign, network: Network) -> dict[str, float]:
    """What an ampere behind each converter takes from the battery behind it; the nearest to the batteries come first."""
    feeding, of_root = network.states[1].feeding, dict[str, float]()
    for part in feeding.conversions:
        root = feeding.root[part.row]
        own = part.spec.output_v / (part.spec.efficiency_ratio * nominal_v(index.nodes[root]))
        of_root[part.key] = own * of_root.get(root, 1.0)
    return of_root


def run_ons(index: IndexedDesign, network: Network) -> list[tuple[PowerNode, float]]:
    """Return what timers take of each battery once after the key is off [Ah], at the data sheets' currents."""
    return _by_battery(
        index, network, lambda load: load.current_a * load.quantity * load.duty_ratio * load.run_on_min / 60
    )


def standing_draws(index: IndexedDesign, network: Network) -> list[tuple[PowerNode, float]]:
    """Return what sleeps on each battery with the isolator open [A], converters by themselves counted."""
    return _by_battery(index, network, lambda load: load.key_off_a * load.quantity, 1.0)


def _by_battery(
    index: IndexedDesign, network: Network, figure: Callable[[Load], float], idle_times: float = 0.0
) -> list[tuple[PowerNode, float]]:
    draws = {battery.key: 0.0 for battery in index.batteries()}
    feeding, dead = network.states[1].feeding, dead_with_key_off(index, network)  # the engine off, everything as usual
    draws |= {part.key: 0.0 for part in feeding.conversions}
    for circuit, root in zip(feeding.circuits, feeding.root, strict=False):  # converters stand behind the circuits
        if circuit.number not in dead:
            draws[root] += sum(map(figure, index.loads_of.get(circuit.number, ())))
    for part in reversed(feeding.conversions):  # the farthest first
        root = feeding.root[part.row]
        through_w = draws[part.key] * part.spec.output_v / part.spec.efficiency_ratio
        draws[root] += through_w / nominal_v(index.nodes[root]) + idle_times * _idle_a(index, network, part)
    return [(battery, draws[battery.key]) for battery in index.batteries()]


def _idle_a(index: IndexedDesign, network: Network, part: Conversion) -> float:
    """What a converter takes for itself, at the nominal voltage of what feeds it [A]."""
    return part.spec.idle_w / nominal_v(index.nodes[network.states[1].feeding.root[part.row]])


def labour_result(index: IndexedDesign) -> LabourResult:
    """Return the hours of all operations; by phase in working order, by place and skill in alphabetical order: crew hours."""
    total = total_hours(index.design.operations)
    by_phase = dict(_crew_hours(index, lambda operation: operation.phase))
    return LabourResult(
        crew_h=total.crew_h,
        elapsed_h=total.elapsed_h,
        by_phase=tuple((phase, by_phase[phase]) for phase in Phase if phase in by_phase),
        by_place=_crew_hours(index, lambda operation: operation.place),
        by_skill=_crew_hours(index, lambda operation: operation.skill),
    )


def _crew_hours(index: IndexedDesign, group: Callable[[Operation], str]) -> tuple[tuple[str, float], ...]:
    return tuple((str(word), hours.crew_h) for word, hours in hours_by(index.design.operations, group).items())


def price_result(index: IndexedDesign, labour: LabourResult) -> PriceResult:
    """
    Return what the customer pays: the parts that the shop supplies, labour by the crew hour, tax on the taxed parts.

    What the customer brings and what is transferred or taken off has no price; labour is not taxed.
    """
    sold = [line for line in index.design.parts if line.supplied_by is SuppliedBy.SHOP and not line.removed]
    bill = bill_of(
        (
            BillLine(quantity=as_decimal(line.quantity), unit_price=as_decimal(line.unit_price), taxed=line.taxed)
            for line in sold
        ),
        tax_ratio=as_decimal(index.numbers["tax-ratio"]),
    )
    crew_h = as_decimal(round(labour.crew_h, _HOURS_PLACES))
    work = line_total(quantity=crew_h, unit_price=as_decimal(index.numbers["labour-rate"]))
    return PriceResult(parts=bill.subtotal, labour=work, tax=bill.tax, total=bill.total + work)
