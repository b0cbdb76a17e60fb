"""
All conditions of a design solved together, setting by setting, and their figures made when they are asked for.

A battery that is charged gives nothing until what charges it cannot keep up: it stands beside it at its rest voltage behind
its own resistance. What charges holds its voltage at the battery's post until it gives all it can. A source whose return is
drawn takes its current back there, as an alternator does at the engine. Where lamps keep step, a condition is solved at each
of the moments at which most of them is lit: a run's peak is the largest of those, a load's drop that of its own worst.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from builds.engineering.assessing.conversion import nominal_v
from builds.engineering.assessing.drawn_parts import DrawnParts, drawn_parts
from builds.engineering.assessing.indexed import IndexedDesign, index_design
from builds.engineering.assessing.isolators import lost_on_way_v
from builds.engineering.assessing.settings import set_volts, source_uses
from builds.engineering.assessing.solved_states import Network, State
from builds.engineering.assessing.solving import Floats
from builds.engineering.assessing.source_outputs import available_output
from builds.engineering.assessing.source_volts import least_way, lost_in_diodes_v, source_volts
from builds.engineering.assessing.states import solve_states
from builds.engineering.design import Design, OperatingCondition, PowerNode
from builds.engineering.electrical.network import NetworkSource, build_network
from builds.engineering.electrical.network_result import NetworkResult, NoOperatingPoint
from builds.engineering.electrical.network_solver import solve_network
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.flows.diodes import solved_past_diodes
from builds.engineering.flows.results import DropPart, LoadDrop, LoadVolts, NodeVolts, RunFlow, SourceFlow
from builds.engineering.functions.coupling import coupled

__all__ = ["ConditionFlows", "solve_conditions"]


@dataclass(frozen=True, slots=True)
class _Post:
    """A source of the drawn network and the battery it is, or charges; ``at_post`` where it stands at that battery's posts."""

    source: NetworkSource
    battery: PowerNode
    chargers: tuple[str, ...] | None  # of a charged battery, what charges it; None for the battery itself
    at_post: bool = True


@dataclass(frozen=True)
class _Solved:
    """One setting solved: columns condition by condition, the average first, then the moments at which most is lit."""

    index: IndexedDesign
    network: Network
    state: State
    parts: DrawnParts
    posts: tuple[_Post, ...]
    element_ohm: Floats
    result: NetworkResult
    lost_v: Floats  # what diodes take before each of the network's loads

    @cached_property
    def branch_a(self) -> Floats:
        """Current of every branch, branches × columns."""
        return self.result.branch_a()

    @cached_property
    def element_a(self) -> dict[int, Floats]:
        """Current of every element that is drawn, by its row, columns."""
        return {row: self.branch_a[at] for at, branch in enumerate(self.parts.branches) for row in branch.rows}

    @cached_property
    def node_at(self) -> dict[str, int]:
        """Place of each drawn node."""
        return self.result.network.forest.position


@dataclass(frozen=True)
class ConditionFlows:
    """One condition; ``no_operating_point`` says which load is too much where there is none, and nothing else is told then."""

    condition: OperatingCondition
    solved: _Solved
    place: int

    @cached_property
    def moments(self) -> range:
        """The columns of its moments."""
        first = self.place + 1 + self.solved.state.moments.columns_of(self.place).start
        return range(first, first + len(self.solved.state.moments.columns_of(self.place)))

    @property
    def column(self) -> int:
        """The column of its average."""
        return self.moments.start - 1

    @cached_property
    def most(self) -> int:
        """The moment at which the sources together give most."""
        return max(self.moments, key=lambda column: float(self.solved.result.source_a[:, column].sum()))

    @property
    def no_operating_point(self) -> NoOperatingPoint | None:
        """What keeps it from having one with all lit that is lit together, if something does."""
        found = (point for point in self.solved.result.no_operating_point if point.condition in self.moments)
        return next(found, None)

    def nodes(self) -> Iterator[NodeVolts]:
        """Yield every node of the design that is drawn, in the design's order."""
        result, at = self.solved.result, self.solved.node_at
        for node in self.solved.index.design.nodes:
            sides = [at.get(f"{mark}{node.key}") for mark in "+-"]
            volts = [None if place is None else float(result.node_v[place, self.most]) for place in sides]
            if volts[0] is not None and self.solved.index.diodes_v:
                way = least_way(self.solved.index, self.solved.state.feeding, node.key)
                volts[0] -= lost_on_way_v(self.solved.index.diodes_v, way)
            if any(value is not None for value in volts):
                yield NodeVolts(key=node.key, supply_v=volts[0], return_v=volts[1])

    def runs(self) -> Iterator[RunFlow]:
        """Yield every run that is drawn, in the design's order."""
        solved = self.solved
        for run in solved.index.design.runs:
            row = solved.network.elements.run_row[run.key]
            flow = solved.element_a.get(row)
            if flow is None:
                continue
            average_a = abs(float(flow[self.column]))
            peak_a = max(abs(float(flow[column])) for column in self.moments)
            ohm = float(solved.element_ohm[row])
            yield RunFlow(
                key=run.key,
                average_a=average_a,
                peak_a=peak_a,
                drop_v=peak_a * ohm,
                average_loss_w=average_a**2 * ohm,
                peak_loss_w=peak_a**2 * ohm,
            )

    def sources(self) -> Iterator[SourceFlow]:
        """Yield batteries and what charges them; sources that charge one battery together are told together."""
        result = self.solved.result
        for row, post in enumerate(self.solved.posts):
            average_a, peak_a = (float(result.source_a[row, column]) for column in (self.column, self.most))
            charges = post.chargers is not None
            at_limit = bool(result.at_limit[row, self.most]) and charges
            yield SourceFlow(key=post.source.key, average_a=average_a, peak_a=peak_a, at_limit=at_limit)

    def loads(self) -> Iterator[LoadVolts]:
        """Yield every load that is on and fed, in the design's order."""
        solved = self.solved
        for place, row in enumerate(solved.parts.fed):
            load = solved.network.demand.loads[row]
            if solved.network.demand.on[row, solved.state.chosen[self.place]] <= 0:
                continue
            column = self._worst_moment(place)
            drop_v = self._terminal_v(load.circuit, column) - float(solved.result.load_v[place, column])
            yield LoadVolts(
                key=load.key,
                voltage_v=float(solved.result.load_v[place, column]) - float(solved.lost_v[place]),
                drop_v=drop_v,
                drop_ratio=drop_v / self._nominal_v(load.circuit),
                is_off=bool(solved.result.cut_out[place, column]),
            )

    def split(self, load: str) -> LoadDrop:
        """Return the drop of one load split by run. Raises UnknownTableEntry where the load is not fed here."""
        solved = self.solved
        keys = [solved.network.demand.loads[row].key for row in solved.parts.fed]
        column = self._worst_moment(keys.index(load)) if load in keys else self.most
        ends = self._posts_of(solved.index.loads[load].circuit) if load in keys else None
        told = solved.result.explain(load, column, ends)
        branches = {drawn.branch.key: drawn for drawn in solved.parts.branches}
        nominal = self._nominal_v(solved.index.loads[load].circuit)
        parts = []
        for drop in told.branches:
            drawn = branches[drop.key]
            if drawn.circuit:
                shares = [(f"circuit:{drawn.circuit}", 1.0)]
            else:
                whole = sum(float(solved.element_ohm[row]) for row in drawn.rows) or 1.0
                own = [(self._subject(row), float(solved.element_ohm[row])) for row in drawn.rows]
                shares = [(subject, ohm / whole) for subject, ohm in own if ohm]
            for subject, share in shares:
                parts.append(
                    DropPart(
                        subject=subject,
                        is_return=drop.is_return,
                        current_a=drop.current_a,
                        drop_v=drop.drop_v * share,
                        drop_ratio=drop.drop_v * share / nominal,
                    )
                )
        return LoadDrop(load=load, drop_v=told.drop_v, parts=tuple(parts))

    def _worst_moment(self, place: int) -> int:
        """The moment at which a load, lit, has the least voltage."""
        row, moments = self.solved.parts.fed[place], self.solved.state.moments
        level = moments.level[row, list(moments.columns_of(self.place))]
        lit = [column for column, part in zip(self.moments, level.tolist(), strict=True) if part > 0]
        return min(lit or self.moments, key=lambda column: float(self.solved.result.load_v[place, column]))

    def _subject(self, row: int) -> str:
        elements = self.solved.network.elements
        return f"run:{elements.names[row]}" if row < len(elements.run_row) else f"node:{elements.names[row]}"

    def _root(self, circuit: str) -> str:
        feeding = self.solved.state.feeding
        if circuit not in feeding.column_of:
            raise UnknownTableEntry("What is fed in this condition", circuit)
        return feeding.root[feeding.column_of[circuit]]

    def _nominal_v(self, circuit: str) -> float:
        return nominal_v(self.solved.index.nodes[self._root(circuit)])

    def _posts_of(self, circuit: str) -> tuple[str, str]:
        """The posts that a circuit's drop is counted between: its battery's, or its converter's output's."""
        root = self._root(circuit)
        return f"+{root}", f"-{self.solved.state.feeding.negative_of[root]}"

    def _terminal_v(self, circuit: str, column: int) -> float:
        """Volts between the posts that a circuit's drop is counted between."""
        result, at = self.solved.result, self.solved.node_at
        out_v, home_v = (float(result.node_v[at[key], column]) for key in self._posts_of(circuit))
        return out_v - home_v


def solve_conditions(design: Design) -> dict[str, ConditionFlows]:
    """
    Return every condition of a design that has something fed, by key, at the low end of its voltages.

    Conductors are as warm as the warmest drop rule of the build says. Conditions that share their open switches and their
    sources are solved together; figures are made when a method is called. What a function schedule lights is on, as in the assessment.
    """
    design = coupled(design)
    index = index_design(design)
    network = solve_states(index)
    flows: dict[str, ConditionFlows] = {}
    for state in network.states:
        if state.chosen and state.feeding.circuits:
            solved = _solve(index, network, state)
            for at, place in enumerate(state.chosen):
                condition = design.conditions[place]
                flows[condition.key] = ConditionFlows(condition, solved, at)
    return {condition.key: flows[condition.key] for condition in design.conditions if condition.key in flows}


def _solve(index: IndexedDesign, network: Network, state: State) -> _Solved:
    hottest_c = max(case.conductor_temp_c for case in state.drops)
    element_ohm, wire_ohm = state.resistances.at(hottest_c)
    parts = drawn_parts(state.feeding, network.elements, element_ohm, wire_ohm, network.demand, with_lockouts=True)
    lost_v = _lost_v(index, state, parts)
    if lost_v.any():  # cut out at their own voltage
        least = [
            replace(load, min_v=load.min_v + lost * (load.min_v > 0))
            for load, lost in zip(parts.loads, lost_v, strict=True)
        ]
        parts = replace(parts, loads=tuple(least))
    posts = tuple(_posts(index, state, parts))
    drawn = build_network(
        sources=[post.source for post in posts],
        branches=[branch.branch for branch in parts.branches],
        loads=parts.loads,
        converters=parts.converters,
    )
    conditions = [index.design.conditions[place] for place in state.chosen]
    figures = np.array([[_figures(index, state, post, at) for at in range(len(conditions))] for post in posts])
    columns = np.array([place for place, _ in _columns(state)])
    figures = figures[:, columns]
    own_ohm = [element_ohm[network.elements.node_row[post.battery.key]] * post.at_post for post in posts]
    post_ohm = np.array(own_ohm)[:, None]

    def solve(load_scale: Floats) -> NetworkResult:
        return solve_network(
            drawn,
            emf_v=figures[:, :, 0],
            source_ohm=figures[:, :, 1] + post_ohm,
            limit_a=figures[:, :, 2],
            intake_a=figures[:, :, 3],
            load_scale=load_scale,
        )

    scale = _scale(network, state, parts)
    result = solved_past_diodes(parts.loads, lost_v, scale, solve) if lost_v.any() else solve(scale)
    return _Solved(index, network, state, parts, posts, element_ohm, result, lost_v)


def _lost_v(index: IndexedDesign, state: State, parts: DrawnParts) -> Floats:
    """What diodes take before each of the network's loads; converters that charge are left as they are [V]."""
    lost_v, of_circuits = np.zeros(len(parts.loads)), lost_in_diodes_v(index, state.feeding)
    if of_circuits is not None:
        rows = [*state.feeds.row[list(parts.fed)].tolist(), *range(len(parts.sleepers))]
        lost_v[: len(rows)] = of_circuits[rows, 0]
    return lost_v


def _posts(index: IndexedDesign, state: State, parts: DrawnParts) -> Iterator[_Post]:
    """
    Batteries first: of several sources past their ends the first is held, and a full battery that would be charged must be
    held at nothing before what charges it is found to be asked for too much.
    """
    feeding, back = state.feeding, state.feeding.return_tree.root_of
    drawn = feeding.from_sources.chargers if feeding.from_sources is not None else ()
    there = [
        battery
        for battery in index.batteries()
        if feeding.supply_tree.root_of.get(battery.key) in parts.batteries and battery.key in back
    ]
    for battery in there:
        key = battery.key
        yield _Post(NetworkSource(key=key, positive_node=f"+{key}", negative_node=f"-{key}"), battery, None)
    for battery in there:
        key, chargers = battery.key, feeding.chargers.get(battery.key)
        own = [charger for charger in drawn if charger.battery == key]
        for charger in own:
            apart = NetworkSource(
                key=charger.key, positive_node=f"+{charger.key}", negative_node=f"-{charger.negative}"
            )
            yield _Post(apart, battery, (charger.key,), at_post=False)
        at_post = tuple(name for name in chargers or () if name not in {charger.key for charger in own})
        if chargers is not None and (at_post or not own):
            name = "+".join(at_post) or f"{key} as held"
            negative = at_post[0] if len(at_post) == 1 and at_post[0] in back else key
            yield _Post(
                NetworkSource(key=name, positive_node=f"+{key}", negative_node=f"-{negative}"), battery, at_post
            )


def _figures(index: IndexedDesign, state: State, post: _Post, at: int) -> tuple[float, float, float, float]:
    """Open voltage, resistance, most given and most taken of a source in a condition."""
    condition, battery = index.design.conditions[state.chosen[at]], post.battery
    assert battery.battery is not None
    if post.chargers is not None:
        outputs = [available_output(condition, index.nodes[key]) for key in post.chargers]
        known = [output.available_a for output in outputs if output is not None]
        low_v = _low_v(index, state, battery, at)
        if (
            not post.at_post and len(state.feeding.chargers[battery.key]) > 1
        ):  # each as it is set, not as the highest is
            low_v = set_volts(condition, index.nodes[post.chargers[0]])[0]
        return low_v, 0.0, sum(known) if known else np.inf, 0.0
    internal_ohm = battery.battery.internal_mohm / 1000
    if lost_on_way_v(index.diodes_v, state.feeding.supply_tree.nodes_to(battery.key)):
        return battery.battery.open_circuit_v, internal_ohm, 0.0, 0.0  # nothing comes back through a diode
    if battery.key in state.feeding.chargers or battery.key not in state.feeding.supply_tree.root_of.values():
        use = source_uses(condition).get(battery.key)
        rest_v = battery.battery.open_circuit_v if use is None or use.low_v is None else use.low_v
        return rest_v, internal_ohm, np.inf, 0.0
    return _low_v(index, state, battery, at), internal_ohm, np.inf, np.inf


def _low_v(index: IndexedDesign, state: State, battery: PowerNode, at: int) -> float:
    """The least voltage at a battery, as the assessment takes it."""
    low_v, _ = source_volts(index, state.feeding, state.chosen)
    if battery.key in state.feeding.root:
        row, lost_v = state.feeding.root.index(battery.key), lost_in_diodes_v(index, state.feeding)
        return float(low_v[row, at]) + (0.0 if lost_v is None else float(lost_v[row, 0]))
    return set_volts(index.design.conditions[state.chosen[at]], battery)[0]


def _scale(network: Network, state: State, parts: DrawnParts) -> Floats:
    demand, chosen, rows = network.demand, list(state.chosen), list(parts.fed)
    columns = list(_columns(state))
    lit = [
        demand.duty[rows, chosen[place]] if moment is None else state.moments.level[rows, moment]
        for place, moment in columns
    ]
    asleep_a = state.feeds.summed(demand.asleep_a[:, chosen])[: len(parts.sleepers), [place for place, _ in columns]]
    takers = np.ones((len(parts.loads) - len(rows) - len(parts.sleepers), len(columns)))
    return np.concatenate([np.array(lit).T, asleep_a, takers])


def _columns(state: State) -> Iterator[tuple[int, int | None]]:
    """Condition (its place in the state) and moment of each column; None for its average."""
    for place in range(len(state.chosen)):
        yield place, None
        yield from ((place, moment) for moment in state.moments.columns_of(place))
