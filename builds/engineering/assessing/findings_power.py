"""Findings about what feeds what: ways that are missing, loads below their least voltage, sources and batteries."""

from collections.abc import Iterator

import numpy as np

from builds.engineering.assessing.condition_results import BatteryUse
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.settings import engine_runs, setting_of
from builds.engineering.assessing.states import Network, State
from builds.engineering.assessing.trees import grow_tree, neighbours, without_metal
from builds.engineering.assessing.words import (
    amperes,
    hours,
    kind_words,
    listing,
    of_circuit,
    of_condition,
    of_load,
    of_node,
    percent,
    source_words,
    volts,
    watts,
)
from builds.engineering.assessment import AlternatorUse, ConditionResult
from builds.engineering.catalogue import found
from builds.engineering.design import Circuit, OperatingCondition
from builds.engineering.findings import Finding, Number
from builds.engineering.vocabulary import RunSide, SourceState

__all__ = ["condition_findings", "tree_findings"]

_SAME = 1e-9


def tree_findings(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    """Yield circuits that nothing feeds or that cannot return, and loads on in a condition in which nothing feeds them."""
    reached = {number for feeding in network.feedings for number in feeding.column_of}
    for circuit in index.design.circuits:
        if circuit.number not in reached and without_metal(index.nodes, circuit) is None:
            yield from _unreached(index, network, circuit)
    for state in network.states:
        yield from _dead_loads(index, network, state, reached)


def _unreached(index: IndexedDesign, network: Network, circuit: Circuit) -> Iterator[Finding]:
    """Why a circuit is in no figure; one behind a converter that nothing feeds is that converter's finding."""
    for feeding in network.feedings:
        root = feeding.supply_tree.root_of.get(circuit.panel)
        if root is not None:
            yield found(
                "no-way-back",
                f"circuit:{circuit.number}",
                where=of_circuit(circuit),
                node=circuit.return_node or "nowhere",
                battery=root,
            )
            return
    converters = [node.key for node in index.design.nodes if node.converter is not None]
    behind = (
        grow_tree(neighbours(index.design, network.elements, RunSide.SUPPLY), converters).root_of if converters else {}
    )
    if circuit.panel not in behind:
        yield found("not-fed", f"circuit:{circuit.number}", where=of_circuit(circuit), panel=circuit.panel)


def _dead_loads(index: IndexedDesign, network: Network, state: State, reached: set[str]) -> Iterator[Finding]:
    """Said once a load, of the first condition; a circuit that nothing ever feeds, or a dead access point, has its own finding."""
    said: set[str] = set()
    tree = network.states[0].feeding.supply_tree
    for place in state.chosen:
        condition = index.design.conditions[place]
        for use in condition.uses:
            load = index.loads.get(use.load)
            if (
                load is None
                or load.key in said
                or load.circuit not in reached
                or load.circuit in state.feeding.column_of
            ):
                continue
            panel = next(circuit.panel for circuit in index.design.circuits if circuit.number == load.circuit)
            if state.feeding.setting.shut & index.dead_points[condition.source_state] & set(tree.nodes_to(panel)):
                continue
            said.add(load.key)
            yield found(
                "load-not-fed", f"load:{load.key}",
                load=of_load(load), condition=of_condition(condition), panel=panel, state=source_words(condition.source_state),
            )  # fmt: skip


def condition_findings(
    index: IndexedDesign, network: Network, conditions: tuple[ConditionResult, ...], uses: tuple[BatteryUse, ...]
) -> Iterator[Finding]:
    """Yield the findings about operating points, loads that cut out, sources and batteries."""
    for state in network.states:
        yield from _collapses(index, state)
    yield from _cut_outs(index, network)
    results = {result.key: result for result in conditions}
    for condition in index.design.conditions:
        if condition.key in results:
            yield from _source(index, condition, results[condition.key])
    for use in uses:
        yield from _battery(index, use)


def _collapses(index: IndexedDesign, state: State) -> Iterator[Finding]:
    for column, collapse in sorted((state.high.collapses | state.low.collapses).items()):
        if state.overloaded[column]:  # a converter past its limit has a finding of its own
            continue
        condition = index.design.conditions[state.chosen[column]]
        load, largest_w = index.loads.get(collapse.load), collapse.largest_w()
        yield found(
            "no-operating-point", f"condition:{condition.key}",
            numbers=(Number(name="largest", value=largest_w, unit="W"), Number(name="wanted", value=collapse.wanted_w, unit="W")),
            condition=of_condition(condition), load=of_load(load)[0].lower() + of_load(load)[1:] if load else collapse.load,
            limit=watts(largest_w), power=watts(collapse.wanted_w),
        )  # fmt: skip


def _cut_outs(index: IndexedDesign, network: Network) -> Iterator[Finding]:
    """Said once a load, of the first condition of the design in which it is off."""
    first: dict[int, tuple[int, float]] = {}
    for state in network.states:
        behind = np.zeros(state.low.off.shape)  # a converter that is off has a finding of its own
        for part, is_off in zip(state.feeding.conversions, state.low.converters_off, strict=True):
            behind += state.feeds.at_loads(part.fed[:, None]) * is_off[None, :]
        source_v = state.feeds.at_loads(state.low.source_v)
        for row, column in np.argwhere((state.low.off > 0) & (behind == 0) & state.works[None, :]).tolist():
            found_at = (state.chosen[column], float(source_v[row, column]))
            first[row] = min(first.get(row, found_at), found_at)
    for row, (place, low_v) in sorted(first.items()):
        load, condition = index.design.loads[row], index.design.conditions[place]
        yield found(
            "load-cuts-out", f"load:{load.key}",
            numbers=(Number(name="minimum", value=load.min_v, unit="V"), Number(name="source", value=low_v, unit="V")),
            load=of_load(load), condition=of_condition(condition), minimum=volts(load.min_v), voltage=volts(low_v),
        )  # fmt: skip


def _source(index: IndexedDesign, condition: OperatingCondition, result: ConditionResult) -> Iterator[Finding]:
    if result.source is not None:
        yield from _margin(index, condition, result, result.source)
    elif engine_runs(condition.source_state):
        yield found(
            "source-missing",
            f"condition:{condition.key}",
            condition=of_condition(condition),
            state=source_words(condition.source_state),
        )


def _margin(
    index: IndexedDesign, condition: OperatingCondition, result: ConditionResult, source: AlternatorUse
) -> Iterator[Finding]:
    limit, taken_a = index.numbers["source-margin"], source.available_a - source.margin_a
    words = {
        "condition": of_condition(condition),
        "source": charging_words(index, condition),
        "available": amperes(source.available_a),
        "load": amperes(taken_a) + _for_charging(source),
        "how": source_words(condition.source_state),
    }
    numbers = (
        Number(name="load", value=taken_a, unit="A"),
        Number(name="available", value=source.available_a, unit="A"),
        Number(name="margin", value=source.margin_a, unit="A"),
    )
    if source.margin_a < 0:
        at_speed = condition.source_state is SourceState.AT_SPEED
        id_ = "source-deficit-at-speed" if at_speed else "source-deficit-at-idle"
        if not engine_runs(condition.source_state):
            id_ = "source-deficit-standing"
        yield found(id_, f"condition:{condition.key}", numbers=numbers, deficit=amperes(-source.margin_a), words=words)
    elif source.margin_a < limit * source.available_a * (1 - _SAME):
        yield found(
            "source-margin-low", f"condition:{condition.key}", numbers=numbers,
            margin=amperes(source.margin_a), limit=percent(limit), words=words,
        )  # fmt: skip


def _for_charging(source: AlternatorUse) -> str:
    if source.charging_a < 1e-6:
        return ""
    return f", {amperes(source.charging_a)} of it into converters that charge,"


def charging_words(index: IndexedDesign, condition: OperatingCondition) -> str:
    """What charges in a condition, by its kind: "alternator", "alternators together", "shore charger and solar charger"."""
    kinds = [index.nodes[key].kind for key in setting_of(index, condition).charging]
    words = tuple(kind_words(kind) for kind in dict.fromkeys(kinds))
    return f"{words[0]}s together" if len(words) == 1 < len(kinds) else listing(words)


def _battery(index: IndexedDesign, use: BatteryUse) -> Iterator[Finding]:
    limit_h = use.condition.min_hours
    standing_h = 24 * index.numbers["key-off-days"]
    if limit_h is None and use.condition.source_state is SourceState.KEY_OFF and use.time_h < standing_h:
        left_on = [load for load in (index.loads.get(one.load) for one in use.condition.uses) if load is not None]
        if left_on:
            yield found(
                "key-off-load-on", f"condition:{use.condition.key}", numbers=(Number(name="time", value=use.time_h, unit="h"),),
                condition=of_condition(use.condition), battery=of_node(use.battery), time=hours(use.time_h),
                loads=listing(tuple(of_load(load) for load in left_on)),
            )  # fmt: skip
    if limit_h is not None and use.time_h < limit_h * (1 - _SAME):
        yield found(
            "battery-time-short", f"condition:{use.condition.key}",
            numbers=(Number(name="time", value=use.time_h, unit="h"), Number(name="limit", value=limit_h, unit="h")),
            condition=of_condition(use.condition), battery=of_node(use.battery), time=hours(use.time_h), limit=hours(limit_h),
        )  # fmt: skip
