"""Every run and every node of the power tree at its worst: current, drop, and the device that stands before it."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from builds.engineering.assessing.charging_returns import charging_returns
from builds.engineering.assessing.conversion import converter_of
from builds.engineering.assessing.devices import Device, device_at
from builds.engineering.assessing.equalising import Equalising, equalisings
from builds.engineering.assessing.held import Held, held_by_converter, held_by_runs, return_holders, ring_guards
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.link_charging import closing_a, link_charges, with_charges
from builds.engineering.assessing.shorts import Shorts, battery_end, cold_ohm
from builds.engineering.assessing.solving import Flags, Floats
from builds.engineering.assessing.source_ways import most_given_a
from builds.engineering.assessing.states import Network, State
from builds.engineering.assessing.supply_graph import SupplyGraph
from builds.engineering.assessing.wires import Wire
from builds.engineering.assessment import GroundResult, PanelResult, RunResult
from builds.engineering.design import PowerNode, Run
from builds.engineering.vocabulary import NodeKind, RunSide

__all__ = [
    "ElementCurrents",
    "Feeders",
    "RunFacts",
    "element_currents",
    "feeders_of",
    "ground_results",
    "panel_results",
    "run_facts",
]


_CURRENTS = ("mean_a", "sizing_a", "continuous_a", "peak_a")


@dataclass(frozen=True, slots=True)
class ElementCurrents:
    """
    Worst mean, sizing, continuous and peak current and drop of every element, and the condition of the worst sizing current.

    What charges a battery over another one counts beside the loads, and in the peak what flows as the switch between them closes.
    ``of_loads_a`` is the sizing current of loads alone; ``charging_a`` is what sources send at most through it towards the batteries they charge, over cables that are drawn; it
    counts in the currents, since a flat battery takes all that a source has while nothing else is on.
    """

    mean_a: Floats
    sizing_a: Floats
    continuous_a: Floats
    peak_a: Floats
    drop_v: Floats
    of_loads_a: Floats
    charging_a: Floats
    condition: tuple[str, ...]
    closings: tuple[Equalising, ...]


@dataclass(frozen=True, slots=True)
class Feeders:
    """
    By node, the run that feeds it and the nearest run towards the battery that has a device; batteries feed themselves.

    In a ring that is the run a walk from the battery came by; ``closing`` are those that no walk came by, each with the node
    at which it comes in, and ``graph`` is there to be asked for all that stands before a node.
    """

    run_of: dict[str, Run]
    guard_of: dict[str, Run]
    closing: tuple[tuple[Run, str], ...]
    graph: SupplyGraph
    root_of: dict[str, str]

    def guards(self, node: str) -> tuple[Run, ...]:
        """The runs whose devices stand before a node: one in a tree, in a ring those that bound what comes by every way."""
        if self.closing:
            return self.graph.guards_of(node) or ()
        guard = self.guard_of.get(node)
        return (guard,) if guard else ()


@dataclass(frozen=True, slots=True)
class RunFacts:
    """A run that carries current, with every figure its result and its findings need."""

    run: Run
    wire: Wire
    device: Device | None
    guard: Run | None  # the nearest run before it, by the walked way, that has a device
    guards: tuple[Run, ...]  # those whose devices together bound what comes to it; that one where there is no ring
    held: Held | None  # what bounds its current where it has no device of its own
    nominal_v: float
    charges: bool
    charging_a: float  # what sources send at most through it towards their batteries, or home from them
    feeds_loads: bool  # False of a source's own cable, which only leads from it towards its battery
    sizing_a: float
    continuous_a: float
    moved_prospective_a: float | None  # with its device as far from its source as the buyer allows at most
    of_loads_a: float  # what it is sized on without what charges
    result: RunResult


def element_currents(index: IndexedDesign, network: Network) -> ElementCurrents:
    """Return the worst currents of all elements over all conditions."""
    count = network.elements.count
    worst = {name: np.zeros(count) for name in ("mean_a", "sizing_a", "continuous_a", "peak_a", "drop_v")}
    condition, of_loads_a = [""] * count, np.zeros(count)
    for state in network.states:
        if not state.chosen or not state.feeding.circuits:
            continue
        figures = _through(state)
        of_loads_a = np.maximum(of_loads_a, figures["sizing_a"].max(axis=1))
        charges = link_charges(index, network, state)
        for name in _CURRENTS if charges else ():
            figures[name] = with_charges(figures[name], charges)
        for row in np.flatnonzero(figures["sizing_a"].max(axis=1) > worst["sizing_a"]).tolist():
            condition[row] = index.design.conditions[state.chosen[int(figures["sizing_a"][row].argmax())]].key
        for name, figure in figures.items():
            worst[name] = np.maximum(worst[name], figure.max(axis=1))
    charging_a = np.zeros(count)
    for state in network.states:
        charging_a = np.maximum(charging_a, _charged_a(state))
    for row in np.flatnonzero(charging_a > worst["sizing_a"]).tolist():
        condition[row] = ""  # no load decides it
    closings = equalisings(index, network)
    worst["peak_a"] = np.maximum(worst["peak_a"], closing_a(network, closings))
    for name in _CURRENTS:
        worst[name] = np.maximum(worst[name], charging_a)
    return ElementCurrents(
        **worst, of_loads_a=of_loads_a, charging_a=charging_a, condition=tuple(condition), closings=closings
    )


def _charged_a(state: State) -> Floats | float:
    """What the sources of a state send at most through each element towards their batteries [A]."""
    ways = state.feeding.from_sources
    if ways is None:
        return 0.0
    return np.asarray(np.abs(ways.charging) @ np.array([charger.most_a for charger in ways.chargers]))


def _through(state: State) -> dict[str, Floats]:
    """Worst figures of elements (rows) in a state's conditions."""
    through = state.through_a
    element_ohm, lit_a = _hot_and_lit(state)
    peaks_a = state.peaks_a()
    continuous_a = through(state.worst.continuous_a)
    return {
        "mean_a": through(state.charging_mean_a),
        "sizing_a": state.sizings_a(peaks_a),
        "continuous_a": np.minimum(continuous_a, peaks_a) if state.moments.apart else continuous_a,
        "peak_a": peaks_a,
        "drop_v": element_ohm[:, None] * state.moments.most(through(lit_a)),
    }


def _hot_and_lit(state: State) -> tuple[Floats, Floats]:
    """Resistance of the elements at the hottest drop case, and the circuits' currents at the low voltage, moment by moment."""
    element_ohm, _ = state.resistances.at(max(case.conductor_temp_c for case in state.drops))
    return element_ohm, state.low_lit_a


def feeders_of(index: IndexedDesign, network: Network) -> Feeders:
    """Return what feeds every node: as with the isolator closed, or open for what only that reaches."""
    run_of: dict[str, Run] = {}
    guard_of: dict[str, Run] = {}
    root_of: dict[str, str] = {}
    closing: dict[str, tuple[Run, str]] = {}
    names = network.elements.names
    for state in network.states:
        tree = state.feeding.supply_tree
        for node, parent in tree.parent_of.items():
            if node in run_of:
                continue
            run = index.runs[names[tree.step_to[node].element]]
            run_of[node] = run
            root_of[node] = tree.root_of[node]
            starts_at_battery = parent in index.nodes and index.nodes[parent].battery is not None
            guard = run if run.device_rating_a else None if starts_at_battery else guard_of.get(parent)
            if guard is not None:
                guard_of[node] = guard
        for closer in tree.closers:
            run = index.runs[names[closer.way.element]]
            far = max((closer.from_node, closer.way.to_node), key=lambda end: len(tree.nodes_to(end)))
            closing.setdefault(run.key, (run, far))
    came_by = {run.key for run in run_of.values()}
    open_ends = tuple(pair for key, pair in closing.items() if key not in came_by)
    return Feeders(run_of, guard_of, open_ends, SupplyGraph.of(index, isolators_closed=True), root_of)


def run_facts(
    index: IndexedDesign, network: Network, shorts: Shorts, currents: ElementCurrents, feeders: Feeders
) -> tuple[RunFacts, ...]:
    """Return the facts of every run, in the design's order."""
    came = [(run, node) for node, run in feeders.run_of.items()] + list(feeders.closing)
    fed_by = {run.key: converter_of(node) for run, node in came}  # a run that is drawn to a converter feeds its input
    setting = _Setting(
        index,
        network,
        shorts,
        currents,
        feeders,
        fed_by,
        return_holders(index, network, feeders.guard_of),
        _home_a(index, network),
        network.states[0].resistances.at(max(rule.conductor_temp_c for rule in index.rules_in_use.values()))[0],
        np.any([state.feeding.supply_ways.any(axis=1) for state in network.states], axis=0),
    )
    return tuple(_facts(setting, run) for run in index.design.runs)


def _home_a(index: IndexedDesign, network: Network) -> Floats:
    """What sources that charge send home at most through each element, those of one setting together [A]."""
    most_a = np.zeros(network.elements.count)
    for together in charging_returns(index, network):
        most_a = np.maximum(most_a, sum((way.current_a * way.part for way in together), np.zeros_like(most_a)))
    return most_a


@dataclass(frozen=True, slots=True)
class _Setting:
    """What the facts of all runs have in common, read once."""

    index: IndexedDesign
    network: Network
    shorts: Shorts
    currents: ElementCurrents
    feeders: Feeders
    fed_by: dict[str, str]
    return_holders: Mapping[str, Held]
    home_a: Floats
    hot_ohm: Floats
    passed: Flags  # on the way from some battery to some load

    def guards(self, run: Run, guard: Run | None) -> tuple[Run, ...]:
        """The runs whose devices stand before a run, towards the battery."""
        if guard is None or not self.feeders.closing:
            return (guard,) if guard is not None else ()
        parent = run.from_node if self.fed_by[run.key] == run.to_node else run.to_node
        return self.feeders.graph.guards_of(parent, without=run) or ()

    def held(self, run: Run, guard: Run | None) -> Held | None:
        """What bounds the current in a run without a device of its own."""
        if run.device_rating_a:
            return None
        if run.side is not RunSide.SUPPLY:
            return self.return_holders.get(run.key)
        if self.feeders.closing:
            guards = ring_guards(self.feeders.graph, run)
            if guards:
                return held_by_runs(self.index, guards)
        root = self.feeders.root_of.get(self.fed_by.get(run.key, ""), "")
        return held_by_runs(self.index, (guard,)) if guard is not None else held_by_converter(self.index, root)


def _facts(setting: _Setting, run: Run) -> RunFacts:
    index, network, currents = setting.index, setting.network, setting.currents
    wire, row = network.run_wires[run.key], network.elements.run_row[run.key]
    end = battery_end(index, run)
    ends = (run.from_node, run.to_node) if run.device_at_both_ends else (end,)
    charging_a = float(setting.home_a[row])
    if run.side is RunSide.SUPPLY:
        charging_a = max(_charging_a(index, run), float(currents.charging_a[row]))
    device = None
    if run.device_rating_a:
        zones = [index.nodes[key].zone if key in index.nodes else "" for key in ends]
        device = device_at(run.device_family, run.device_rating_a, max(index.ambient_of_c(zone) for zone in zones))

    def prospective_a(distance_m: float) -> float | None:
        if run.side is not RunSide.SUPPLY:
            return None
        before_ohm = cold_ohm(network, run) * (min(distance_m / run.length_m, 1.0) if run.length_m else 0.0)
        drawn_a = [setting.shorts.prospective_a(key, before_ohm) for key in ends]
        return max((current_a for current_a in drawn_a if current_a is not None), default=None)

    guard = _guard_before(index, run, setting.fed_by, setting.feeders)
    sizing_a = max(float(currents.sizing_a[row]), charging_a)
    feeds_loads = not charging_a or bool(setting.passed[row])
    result = RunResult(
        key=run.key,
        mean_a=max(float(currents.mean_a[row]), charging_a),
        continuous_a=sizing_a,
        peak_a=max(float(currents.peak_a[row]), charging_a),
        drop_v=max(float(currents.drop_v[row]), charging_a * float(setting.hot_ohm[row])),
        ampacity_a=wire.ampacity_a or 0.0,
        prospective_a=prospective_a(run.device_distance_m),
        worst_condition=currents.condition[row],
    )
    return RunFacts(
        run=run,
        wire=wire,
        device=device,
        guard=guard,
        guards=setting.guards(run, guard),
        held=setting.held(run, guard),
        nominal_v=index.nodes[end].nominal_v if end in index.nodes else 12.0,
        charges=_is_makers(index, run) and charging_a > 0,
        charging_a=charging_a,
        feeds_loads=feeds_loads,
        sizing_a=sizing_a,
        continuous_a=max(float(currents.continuous_a[row]), charging_a),
        of_loads_a=float(currents.of_loads_a[row]) if feeds_loads else 0.0,
        moved_prospective_a=prospective_a(min(run.device_distance_m, index.numbers["device-distance"])),
        result=result,
    )


def _charging_a(index: IndexedDesign, run: Run) -> float:
    """What a source that charges sends at most through a supply run at either end of which it stands [A]."""
    ends = [index.nodes[key] for key in (run.from_node, run.to_node) if key in index.nodes]
    return sum(most_given_a(node) for node in ends if node.converter is None) + _recharging_a(index, run)


def _recharging_a(index: IndexedDesign, run: Run) -> float:
    """What a converter sends into the battery at the far end of its run: its limit."""
    start, end = index.nodes.get(run.from_node), index.nodes.get(run.to_node)
    if start is None or end is None or start.converter is None or end.battery is None:
        return 0.0
    return start.converter.limit_a


def _is_makers(index: IndexedDesign, run: Run) -> bool:
    """Whether a run is the vehicle's own charging cable."""
    return any(
        index.nodes[key].kind in (NodeKind.ALTERNATOR, NodeKind.DCDC)
        for key in (run.from_node, run.to_node)
        if key in index.nodes and run.side is RunSide.SUPPLY
    )


def _guard_before(index: IndexedDesign, run: Run, fed_by: dict[str, str], feeders: Feeders) -> Run | None:
    """The nearest run before this one, towards the battery, that has a device; None behind a battery."""
    node = fed_by.get(run.key)
    if node is None or run.side is not RunSide.SUPPLY:
        return None
    parent = run.from_node if node == run.to_node else run.to_node
    if parent in index.nodes and index.nodes[parent].battery is not None:
        return None
    return feeders.guard_of.get(parent)


def panel_results(index: IndexedDesign, network: Network, currents: ElementCurrents) -> tuple[PanelResult, ...]:
    """Return every panel's and module's positions, current and feed drop, in the design's order."""
    feed_drop_v = _feed_drops(network)
    return tuple(
        PanelResult(
            key=node.key,
            positions_used=len({circuit.position for circuit in index.circuits_of.get(node.key, ())}),
            positions=node.panel.positions,
            continuous_a=float(currents.sizing_a[network.elements.node_row[node.key]]),
            feed_drop_ratio=feed_drop_v.get(node.key, 0.0) / node.nominal_v,
        )
        for node in index.design.nodes
        if node.panel is not None
    )


def _feed_drops(network: Network) -> dict[str, float]:
    """The most lost between a battery's post and each panel, the way out alone [V]."""
    worst: dict[str, float] = {}
    for state in network.states:
        lost_v = state.feeding.feed_drop_v(*_hot_and_lit(state))
        for (panel, _), drop_v in zip(
            state.feeding.panels.names, lost_v.max(axis=1, initial=0.0).tolist(), strict=True
        ):
            worst[panel] = max(worst.get(panel, 0.0), drop_v)
    return worst


def ground_results(index: IndexedDesign, network: Network) -> tuple[GroundResult, ...]:
    """Return how far every ground that a circuit returns to rises above its battery's negative post, in the design's order."""
    worst: dict[str, tuple[float, str]] = {}
    for state in network.states:
        if not state.chosen:
            continue
        rises = state.feeding.rise_v(*_hot_and_lit(state))
        for (node, _), rise in zip(state.feeding.returns.names, rises, strict=True):
            column = int(rise.argmax())
            place = state.chosen[int(state.moments.of[column])]
            found = (float(rise[column]), index.design.conditions[place].key)
            if node not in worst or found[0] > worst[node][0]:
                worst[node] = found
    return tuple(
        GroundResult(key=node.key, rise_v=worst[node.key][0], worst_condition=worst[node.key][1])
        for node in index.design.nodes
        if _is_measured(node) and node.key in worst
    )


def _is_measured(node: PowerNode) -> bool:
    return node.kind in (NodeKind.GROUND, NodeKind.CHASSIS)
