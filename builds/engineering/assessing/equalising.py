"""Batteries that stand together in some condition: what flows when the switch between them closes on an empty one."""

from dataclasses import dataclass

from builds.engineering.assessing.duty_posts import diode_v, link_ohm, link_rows
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.settings import set_volts
from builds.engineering.assessing.source_outputs import available_output
from builds.engineering.assessing.states import Network, State
from builds.engineering.design import OperatingCondition, PowerNode, Run
from builds.engineering.electrical.energy.banks import rest_at_v
from builds.engineering.electrical.equalising import equalising_a
from builds.engineering.vocabulary import NodeKind

__all__ = ["Equalising", "equalisings"]

_SWITCHES = (NodeKind.ISOLATOR, NodeKind.LOW_VOLTAGE_DISCONNECT, NodeKind.DISCONNECT)


@dataclass(frozen=True, slots=True)
class Equalising:
    """
    The most that flows from one battery into another, with what may be used of that one gone, and in which condition.

    ``between_ohm`` is the way between them with the empty one's inside; ``charging_a`` and ``charging_v`` are what charges
    the full one then. ``diode_v``, what a diode isolator between takes, stands against what flows as the empty one's own
    voltage does: ``empty_rest_v`` has it in it. ``runs`` and ``switches`` lie on the way out.
    """

    full: PowerNode
    empty: PowerNode
    condition: OperatingCondition
    current_a: float
    full_rest_v: float
    empty_rest_v: float
    full_ohm: float
    between_ohm: float
    charging_a: float
    charging_v: float
    diode_v: float
    runs: tuple[Run, ...]
    switches: tuple[PowerNode, ...]
    rows: tuple[int, ...]  # of all elements on the way out and back


def equalisings(index: IndexedDesign, network: Network) -> tuple[Equalising, ...]:
    """Return the worst of each battery that hangs on another one in some condition, in the design's order."""
    worst: dict[str, Equalising] = {}
    batteries = index.batteries()
    if len(batteries) < 2:
        return ()
    for state in network.states:
        for bank, battery in enumerate(batteries):
            root = state.feeding.supply_tree.root_of.get(battery.key, battery.key)
            if root == battery.key or index.nodes[root].battery is None:
                continue
            found = _worst(index, network, state, index.nodes[root], bank) if state.chosen else None
            if found and (battery.key not in worst or found.current_a > worst[battery.key].current_a):
                worst[battery.key] = found
    return tuple(worst[battery.key] for battery in batteries if battery.key in worst)


def _worst(index: IndexedDesign, network: Network, state: State, full: PowerNode, bank: int) -> Equalising:
    """The worst of the conditions of a state; what lies between the two batteries is the same in all of them."""
    empty, tree = index.batteries()[bank], state.feeding.supply_tree
    one, other = full.battery, empty.battery
    assert one is not None and other is not None
    lost_v = diode_v(index, state, bank)
    empty_rest_v = lost_v + rest_at_v(
        full_rest_v=other.open_circuit_v, charge_ratio=1.0 - other.usable_ratio, kind=other.kind
    )
    full_ohm = one.internal_mohm / 1000
    between_ohm = other.internal_mohm / 1000 + link_ohm(index, network, state, bank)

    def at_closing_a(charging: tuple[float, float]) -> float:
        return equalising_a(
            full_rest_v=one.open_circuit_v,
            empty_rest_v=empty_rest_v,
            full_ohm=full_ohm,
            between_ohm=between_ohm,
            charging_a=charging[0],
            charging_v=charging[1],
        )

    conditions = [index.design.conditions[place] for place in state.chosen]
    charging = [_charging(index, state, full, condition) for condition in conditions]
    currents_a = [at_closing_a(one_of) for one_of in charging]
    at = currents_a.index(max(currents_a))
    names = [network.elements.names[element] for element, _ in reversed(tree.elements_to(empty.key))]
    on_way = [index.nodes[key] for key in tree.nodes_to(empty.key) if key in index.nodes]
    return Equalising(
        full=full,
        empty=empty,
        condition=conditions[at],
        current_a=currents_a[at],
        full_rest_v=one.open_circuit_v,
        empty_rest_v=empty_rest_v,
        full_ohm=full_ohm,
        between_ohm=between_ohm,
        charging_a=charging[at][0],
        charging_v=charging[at][1],
        diode_v=lost_v,
        runs=tuple(index.runs[name] for name in names if name in index.runs),
        switches=tuple(node for node in on_way if node.kind in _SWITCHES),
        rows=tuple(sorted(link_rows(index, network, state, bank))),
    )


def _charging(
    index: IndexedDesign, state: State, full: PowerNode, condition: OperatingCondition
) -> tuple[float, float]:
    """The most that sources with figures give to a battery, and the highest voltage that one of them is set to."""
    total_a, most_v = 0.0, 0.0
    for key in state.feeding.chargers.get(full.key, ()):
        output = available_output(condition, index.nodes[key])
        if output is not None and output.available_a > 0:
            total_a, most_v = total_a + output.available_a, max(most_v, set_volts(condition, index.nodes[key])[1])
    return total_a, most_v
