"""Findings about a second battery behind a switch: the current as it closes, and what diodes leave of its charge."""

from collections.abc import Iterable, Iterator

from builds.engineering.assessing.equalising import Equalising
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.isolators import lost_on_way_v
from builds.engineering.assessing.settings import set_volts
from builds.engineering.assessing.source_volts import least_way
from builds.engineering.assessing.states import Network, State
from builds.engineering.assessing.words import amperes, of_condition, of_node, of_run, percent, volts
from builds.engineering.catalogue import found
from builds.engineering.design import PowerNode
from builds.engineering.electrical.battery import source_default
from builds.engineering.electrical.coordination import opening_time
from builds.engineering.electrical.protection import device_families
from builds.engineering.findings import Finding, Number
from builds.engineering.vocabulary import BatteryKind

__all__ = ["diode_findings", "equalising_findings"]

_SAME = 1e-9
_TABLES_NOMINAL_V = 12.0


def equalising_findings(closings: Iterable[Equalising]) -> Iterator[Finding]:
    """Yield, of each battery that hangs on another, the switches and devices that its charging from empty is too much for."""
    for one in closings:
        for node in one.switches:
            if node.rating_a is not None and one.current_a > node.rating_a * (1 + _SAME):
                yield _found("equalising-over-switch", f"node:{node.key}", one, of_node(node), node.rating_a)
        for run in one.runs:
            if (
                run.device_rating_a
                and one.current_a > 0
                and _opens(run.device_family, run.device_rating_a, one.current_a)
            ):
                yield _found("equalising-opens-device", f"run:{run.key}", one, of_run(run), run.device_rating_a)


def diode_findings(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    """Yield, of each battery that is charged through diodes alone, that they leave it too little to stay full."""
    for battery in index.batteries() if index.diodes_v else ():
        charged = [pair for state in network.states for pair in _charged_at(index, state, battery)]
        if not charged or not all(diode for _, diode in charged):
            continue
        (most_v, diode), needed_v = max(charged), _stays_full_v(battery)
        if most_v < needed_v - _SAME:
            numbers = (Number(name="voltage", value=most_v, unit="V"), Number(name="needed", value=needed_v, unit="V"))
            node = index.nodes[diode]
            yield found(
                "diode-charge-poor", f"node:{diode}", numbers=numbers, name=of_node(node), lost=volts(index.diodes_v[diode]),
                battery=of_node(battery), voltage=volts(most_v), needed=volts(needed_v),
            )  # fmt: skip


def _charged_at(index: IndexedDesign, state: State, battery: PowerNode) -> Iterator[tuple[float, str]]:
    """The most a battery is charged at in each condition of a state, and the diode isolator before it, if there is one [V]."""
    root = state.feeding.supply_tree.nodes_to(battery.key)[0]
    sources = [index.nodes[key] for key in state.feeding.chargers.get(root, ())]
    way = least_way(index, state.feeding, battery.key)
    diode = next((key for key in way if key in index.diodes_v), "")
    for condition in [index.design.conditions[place] for place in state.chosen]:
        most_v = max((set_volts(condition, source)[1] for source in sources), default=condition.source_high_v)
        if root in state.feeding.chargers:
            yield most_v - lost_on_way_v(index.diodes_v, way), diode


def _stays_full_v(battery: PowerNode) -> float:
    """The least charging voltage at which a battery stays full: lead's float voltage, of lithium its own when full [V]."""
    if battery.battery is not None and battery.battery.kind is BatteryKind.LITHIUM_IRON_PHOSPHATE:
        return battery.battery.open_circuit_v
    return source_default("float_charge_v") * battery.nominal_v / _TABLES_NOMINAL_V


def _found(id_: str, subject: str, one: Equalising, part: str, rating_a: float) -> Finding:
    numbers = (Number(name="current", value=one.current_a, unit="A"), Number(name="rating", value=rating_a, unit="A"))
    return found(
        id_, subject, numbers=numbers, part=part, rating=amperes(rating_a), full=of_node(one.full), empty=of_node(one.empty),
        current=amperes(one.current_a), condition=of_condition(one.condition), left=percent(_left(one)),
    )  # fmt: skip


def _left(one: Equalising) -> float:
    assert one.empty.battery is not None
    return 1.0 - one.empty.battery.usable_ratio


def _opens(family: str, rating_a: float, current_a: float) -> bool:
    """Whether a device may open within the minutes that the current takes to fall; not said of one in no table."""
    if all(known.key != family for known in device_families()):
        return False
    time = opening_time(family=family, rating_a=rating_a, current_a=current_a)
    return time is not None and time.least_s < 60.0 * source_default("equalising_min")
