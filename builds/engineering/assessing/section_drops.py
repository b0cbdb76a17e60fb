"""
Drop rules held beside those of the loads' classes: of a part of the way, or in some conditions only.

What is lost on a stretch is the difference of what is lost beyond its two ends, so the stretches that make up a way add up
to the whole of it. Beyond the battery's post lies everything, the way home from the ground included; beyond any other node
what is left of the way out, and the circuit's own wire out and back. Where a rule names a kind of node, the longest stretch
between two of it counts.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from builds.engineering.assessing.indexed import GENERAL_CLASS, IndexedDesign
from builds.engineering.assessing.solving import Flags, Floats
from builds.engineering.assessing.states import Network, State, case_of
from builds.engineering.assessing.worst_drops import load_growth
from builds.engineering.design import Circuit, DropRule
from builds.engineering.electrical.conductors import resistance_ratio

__all__ = ["SectionDrop", "comes_under", "section_drops", "section_own_ohm"]

_IN_HAND = 0.998  # as where a whole drop is judged


@dataclass(frozen=True, slots=True)
class SectionDrop:
    """
    What one circuit loses on the stretch of a rule at its worst: where it starts and ends, in which condition.

    ``end`` is empty where it ends at the circuit's loads; ``own_v`` is the part in the circuit's own wire, ``element_v`` that
    in each element between the two nodes on the way out, and ``home_v`` that on the way home from the ground.
    """

    rule: DropRule
    circuit: Circuit
    condition: str
    start: str
    end: str
    drop_v: float
    base_v: float
    own_v: float
    home_v: float
    current_a: float
    element_v: Floats

    @property
    def limit_v(self) -> float:
        """The most that may be lost [V]."""
        return self.rule.limit_ratio * self.base_v

    @property
    def weight(self) -> float:
        """How much of its limit it takes."""
        return self.drop_v / self.limit_v


@dataclass(frozen=True, slots=True)
class _Stretch:
    """One rule at one panel in one state; arrays have a row per circuit of ``rows``, or per element, and a column per column of the drop case."""

    rows: list[int]
    start: str
    end: str
    base_v: float
    drop_v: Floats
    own_v: Floats
    home_v: Floats
    element_v: Floats
    current_a: Floats
    most_own_ohm: Floats
    counts: Flags


def section_drops(index: IndexedDesign, network: Network) -> tuple[SectionDrop, ...]:
    """Return the worst of each rule held beside the others at each circuit that comes under it, in the buyer's order."""
    worst: dict[tuple[str, str], SectionDrop] = {}
    for rule, state, stretch in _stretches(index, network):
        limit_v = rule.limit_ratio * stretch.base_v
        weighed = np.where(stretch.counts, stretch.drop_v / limit_v, -1.0)
        for place, row in enumerate(stretch.rows):
            column = int(weighed[place].argmax())
            circuit = state.feeding.circuits[row]
            at = (rule.key, circuit.number)
            if weighed[place, column] >= 0 and (at not in worst or weighed[place, column] > worst[at].weight):
                worst[at] = _read(index, rule, state, stretch, place, column)
    order = {rule.key: place for place, rule in enumerate(index.rules_beside)}
    return tuple(sorted(worst.values(), key=lambda drop: order[drop.rule.key]))


def section_own_ohm(index: IndexedDesign, network: Network) -> dict[str, float]:
    """Return the most resistance at 20 °C that these rules leave each circuit's own wire, by number [Ω]."""
    least: dict[str, float] = {}
    for _, state, stretch in _stretches(index, network):
        most = np.where(stretch.counts, stretch.most_own_ohm, np.inf).min(axis=1, initial=np.inf).tolist()
        for row, ohm in zip(stretch.rows, most, strict=True):
            number = state.feeding.circuits[row].number
            least[number] = min(least.get(number, np.inf), ohm)
    return least


def comes_under(index: IndexedDesign, rule: DropRule) -> Floats:
    """Return 1 for each load, in the design's order, that a rule held beside the others is for."""
    every = rule.drop_class == GENERAL_CLASS
    return np.array([float(every or load.drop_class == rule.drop_class) for load in index.design.loads])


def _read(
    index: IndexedDesign, rule: DropRule, state: State, stretch: _Stretch, place: int, column: int
) -> SectionDrop:
    return SectionDrop(
        rule=rule,
        circuit=state.feeding.circuits[stretch.rows[place]],
        condition=index.design.conditions[state.chosen[int(state.moments_of(case_of(rule)).of[column])]].key,
        start=stretch.start,
        end=stretch.end,
        drop_v=float(stretch.drop_v[place, column]),
        base_v=stretch.base_v,
        own_v=float(stretch.own_v[place, column]),
        home_v=float(stretch.home_v[place, column]),
        current_a=float(stretch.current_a[place, column]),
        element_v=stretch.element_v[:, column],
    )


def _stretches(index: IndexedDesign, network: Network) -> Iterator[tuple[DropRule, State, _Stretch]]:
    for rule in index.rules_beside:
        under = comes_under(index, rule)[:, None]
        for state in network.states:
            holds = np.array([_holds(index, rule, place) for place in state.chosen], dtype=bool)
            if holds.any() and state.feeding.circuits:
                on = network.demand.on[:, list(state.chosen)] * under
                counts = (state.feeds.summed(on) > 0) & state.works[None, :] & ~state.dead & holds[None, :]
                for stretch in _of_panels(index, network, state, rule, counts):
                    yield rule, state, stretch


def _holds(index: IndexedDesign, rule: DropRule, place: int) -> bool:
    condition = index.design.conditions[place]
    return not rule.conditions or condition.key in rule.conditions or condition.source_state in rule.conditions


def _of_panels(
    index: IndexedDesign, network: Network, state: State, rule: DropRule, counts: Flags
) -> Iterator[_Stretch]:
    case, feeding = case_of(rule), state.feeding
    solved, moments = state.drops[case], state.moments_of(case)
    counts = counts[:, moments.of] if moments.apart else counts
    element_ohm, own_ohm = state.resistances.at(rule.conductor_temp_c)
    post_v = moments.spread(state.low.source_v) - state.before_post_v(solved.current_a, rule.conductor_temp_c)
    whole_v, own_v = post_v - solved.voltage_v, own_ohm[:, None] * solved.current_a
    element_v = feeding.supply_losses_v(element_ohm, solved.current_a)
    growth = load_growth(network, state, case, solved, post_v)
    ratio = resistance_ratio(temperature_c=rule.conductor_temp_c)
    columns = feeding.panels.column[: len(feeding.circuits)]
    for column, (panel, _) in enumerate(feeding.panels.names):
        ends = _ends(index, feeding.supply_tree.nodes_to(panel), rule)
        rows = np.flatnonzero((columns == column) & counts[: len(columns)].any(axis=1)).tolist()
        if ends is None or not rows:
            continue
        start, end = ends
        to_panel = feeding.walk(network.elements, panel)
        after = to_panel - feeding.walk(network.elements, start) if start else to_panel
        between = after if not end else after - (to_panel - feeding.walk(network.elements, end))
        out_v = between @ element_v
        own = own_v[rows] if not end else np.zeros_like(own_v[rows])
        home_v = whole_v[rows] - own_v[rows] - to_panel @ element_v if not start else np.zeros_like(own)
        base_v = index.nodes[panel].nominal_v if rule.follows_bus else rule.base_v
        drop_v = out_v + own + home_v
        most_own = np.full_like(own, np.inf)
        if not end:
            more = growth(rule.limit_ratio * base_v)[rows]
            with np.errstate(divide="ignore", invalid="ignore"):
                left_v = rule.limit_ratio * base_v * _IN_HAND - (drop_v - own) * more
                most = np.maximum(left_v, 0.0) / (solved.current_a[rows] * more * ratio)
            most_own = np.where(solved.current_a[rows] > 0, most, np.inf)
        yield _Stretch(
            rows, start or feeding.supply_tree.root_of[panel], end, base_v, drop_v, own, home_v,
            between[:, None] * element_v, solved.current_a[rows], most_own, counts[rows],
        )  # fmt: skip


def _ends(index: IndexedDesign, way: tuple[str, ...], rule: DropRule) -> tuple[str, str] | None:
    """Where a rule's stretch starts (empty: at the source) and ends (empty: at the loads) on a way; None where it has none."""

    def named(name: str) -> list[int]:
        return [
            at for at, key in enumerate(way) if key == name or (key in index.nodes and index.nodes[key].kind == name)
        ]

    starts, ends = named(rule.from_node) if rule.from_node else [0], named(rule.to_node) if rule.to_node else [len(way)]
    if not starts or not ends or ends[-1] <= starts[0]:
        return None
    start, end = way[starts[0]] if starts[0] else "", way[ends[-1]] if rule.to_node else ""
    return start, end
