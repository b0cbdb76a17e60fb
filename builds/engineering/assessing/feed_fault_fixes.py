"""Repairs to try where a feed's device misses a short: thicken what takes most of the loop, or a smaller device."""

from collections.abc import Callable, Iterator

import numpy as np

from builds.engineering.assessing.conversion import nominal_v
from builds.engineering.assessing.devices import Device
from builds.engineering.assessing.fault_heat import elements_at_fault_ohm, fault_temp_ratio
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.run_results import RunFacts
from builds.engineering.assessing.states import Network
from builds.engineering.assessing.words import amperes, gauge_words
from builds.engineering.findings import Change, ProposedFix
from builds.engineering.vocabulary import RunSide

__all__ = ["Cures", "noticing_fixes"]

Cures = Callable[[str, str, ProposedFix], bool]

_MOST_TRIED = 2  # runs: what a third takes of the loop is small


def noticing_fixes(
    index: IndexedDesign, network: Network, facts: RunFacts, node: str, fault_a: float, needed_a: float
) -> Iterator[ProposedFix]:
    """
    Yield the repairs in the order in which they are to be tried.

    A way back that takes more of the loop than anything else is the fault itself; else a smaller device comes first.
    """
    assert facts.device is not None
    loop = _loop_runs(index, network, node)
    smaller = _smaller(index, facts, facts.device, fault_a)
    thicker = (fix for _, key in loop[:_MOST_TRIED] if (fix := _thicker(index, network, key, node, fault_a, needed_a)))
    back_first = bool(loop) and index.runs[loop[0][1]].side is RunSide.RETURN
    if smaller is not None and not back_first:
        yield smaller
    yield from thicker
    if smaller is not None and back_first:
        yield smaller


def _smaller(index: IndexedDesign, facts: RunFacts, device: Device, fault_a: float) -> ProposedFix | None:
    """The largest rating that notices the short and still carries the load."""
    assert device.family is not None
    least_a = device.smallest_a(
        facts.continuous_a, facts.sizing_a, index.numbers["device-loading"], index.stocked_ratings_a
    )
    fitting = index.on_shelf(device.ratings_a, least_a, fault_a / device.family.far_end_multiple_ratio)
    if not fitting:
        return None
    change = Change(subject=f"run:{facts.run.key}", field="device_rating_a", value=fitting[-1])
    return ProposedFix(label=f"Use {amperes(fitting[-1])}", changes=(change,))


def _loop_runs(index: IndexedDesign, network: Network, node: str) -> list[tuple[float, str]]:
    """Runs on the way to a node and back from the circuits behind it with their resistance, the largest first."""
    ohm: dict[str, float] = {}
    for state in network.states:
        feeding = state.feeding
        element_ohm = elements_at_fault_ohm(index, network, state)
        for place, (panel, _) in enumerate(feeding.panels.names):
            if node not in feeding.supply_tree.root_of or node not in feeding.supply_tree.nodes_to(panel):
                continue
            rows = [row for row, _ in feeding.supply_tree.elements_to(node)]
            columns = np.unique(feeding.returns.column[feeding.panels.column == place])
            rows += np.flatnonzero(np.abs(feeding.return_ways[:, columns]).max(axis=1, initial=0.0)).tolist()
            for row in rows:
                if network.elements.names[row] in index.runs and row < len(network.elements.run_row):
                    ohm[network.elements.names[row]] = float(element_ohm[row])
    return sorted(((value, key) for key, value in ohm.items()), reverse=True)


def _thicker(
    index: IndexedDesign, network: Network, key: str, node: str, fault_a: float, needed_a: float
) -> ProposedFix | None:
    """The first gauge of one run with which the loop lets enough through."""
    wire = network.run_wires[key]
    root = next(tree.root_of[node] for state in network.states if node in (tree := state.feeding.supply_tree).root_of)
    if wire.row is None or not wire.follows_temperature or not wire.length_m:
        return None
    hot = fault_temp_ratio(index.runs[key].insulation_c)
    volts = nominal_v(index.nodes[root])
    most_ohm = wire.ohm - (volts / fault_a - volts / needed_a) / hot
    for gauge, minus_ohm_per_m in zip(wire.choice.gauges, wire.choice.minus_ohm_per_m, strict=True):
        stocked = index.stocked_gauges is None or gauge in index.stocked_gauges
        if stocked and -minus_ohm_per_m * wire.length_m / wire.parallel <= most_ohm:
            label = f"Use {gauge_words(gauge, index.design.conventions)} in run {key}"
            return ProposedFix(label=label, changes=(Change(subject=f"run:{key}", field="gauge", value=gauge),))
    return None
