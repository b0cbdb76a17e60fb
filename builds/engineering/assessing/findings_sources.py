"""Findings about voltages that do not go together: a battery and its bus, a condition and the battery that carries it."""

from collections.abc import Iterator

from builds.engineering.assessing.conversion import nominal_v
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.settings import engine_runs, set_volts
from builds.engineering.assessing.source_outputs import curve_lacks
from builds.engineering.assessing.states import Network, State
from builds.engineering.assessing.words import listing, of_condition, of_node, volts
from builds.engineering.catalogue import found
from builds.engineering.design import PowerNode
from builds.engineering.findings import Finding, Number

__all__ = ["LEAST_LIKE", "MOST_LIKE", "source_findings"]

LEAST_LIKE, MOST_LIKE = 0.7, 1.4  # a 12 V data sheet says 12 to 14.4 V, a 24 V one 24 to 28.8 V
_ABOVE_REST_V = 0.05  # readings of a battery at rest are rounded to this


def source_findings(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    """Yield the findings of this module."""
    yield from _buses(index, network)
    yield from _above_rest(index, network)
    yield from _unread_curves(index, network)


def _buses(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    """Nodes whose nominal voltage is not that of what feeds them; a battery's own is set against its voltage at rest."""
    for battery in index.batteries():
        assert battery.battery is not None
        if not LEAST_LIKE <= battery.battery.open_circuit_v / battery.nominal_v <= MOST_LIKE:
            yield _unlike(battery, "its battery, full and at rest,", battery.battery.open_circuit_v)
    said: set[str] = set()
    for state in network.states:
        for key, root in state.feeding.supply_tree.root_of.items():
            node, source = index.nodes.get(key), index.nodes[root]
            if node is None or key in said or node.battery is not None or node.converter is not None:
                continue
            said.add(key)
            if not LEAST_LIKE <= nominal_v(source) / node.nominal_v <= MOST_LIKE:
                yield _unlike(node, f"{of_node(source)}, which feeds it,", nominal_v(source))


def _unlike(node: PowerNode, source: str, source_v: float) -> Finding:
    numbers = (Number(name="source", value=source_v, unit="V"), Number(name="nominal", value=node.nominal_v, unit="V"))
    return found(
        "nominal-voltage-unlike", f"node:{node.key}", numbers=numbers,
        name=of_node(node), nominal=volts(node.nominal_v), feeder=source, voltage=volts(source_v),
    )  # fmt: skip


def _above_rest(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    """Said once a condition, of the first battery that would have to stand higher than when it is full."""
    for state in network.states:
        for place in state.chosen:
            condition = index.design.conditions[place]
            if engine_runs(condition.source_state):
                continue
            for battery in _uncharged(index, state):
                assert battery.battery is not None
                low_v, rest_v = set_volts(condition, battery)[0], battery.battery.open_circuit_v
                if low_v > rest_v + _ABOVE_REST_V:
                    numbers = (
                        Number(name="voltage", value=low_v, unit="V"),
                        Number(name="rest", value=rest_v, unit="V"),
                    )
                    yield found(
                        "volts-without-charger", f"condition:{condition.key}", numbers=numbers,
                        condition=of_condition(condition), voltage=volts(low_v), battery=of_node(battery), rest=volts(rest_v),
                    )  # fmt: skip
                    break


def _unread_curves(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    """Alternators whose maker's curve stands on file and is not read, each once, with what that lacks and where."""
    for node in index.design.nodes:
        if node.alternator is None or not node.alternator.points:
            continue
        unread = [
            (condition, lacks)
            for state in network.states
            if any(node.key in keys for keys in state.feeding.chargers.values())
            for condition in (index.design.conditions[place] for place in state.chosen)
            if (lacks := curve_lacks(condition, node))
        ]
        if unread:
            missing = dict.fromkeys(words for _, lacks in unread for words in lacks)
            yield found(
                "alternator-curve-unread", f"node:{node.key}", numbers=(Number(name="conditions", value=len(unread), unit="1"),),
                alternator=of_node(node), missing=listing(tuple(missing)), conditions=listing(tuple(of_condition(condition) for condition, _ in unread)),
            )  # fmt: skip


def _uncharged(index: IndexedDesign, state: State) -> Iterator[PowerNode]:
    roots = set(state.feeding.root)
    for battery in index.batteries():
        if battery.key in roots and battery.key not in state.feeding.chargers:
            yield battery
