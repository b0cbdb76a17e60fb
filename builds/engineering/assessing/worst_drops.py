"""
The voltage lost between a battery's posts and each circuit's loads and back, judged by every rule its loads come under.

Judged at the condition's lowest source voltage, at the conductor temperature and with the current that the rule names.
The worst is the one that takes most of its own limit, so 0.3 V of a radio's 0.2 V weighs more than 0.6 V of a lamp's 1.2 V.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from builds.engineering.assessing.indexed import GENERAL_CLASS, IndexedDesign
from builds.engineering.assessing.moments import Moments, Places
from builds.engineering.assessing.solving import Flags, Floats, Solved
from builds.engineering.assessing.states import Case, Network, State, case_of
from builds.engineering.design import Circuit, DropRule, Load
from builds.engineering.electrical.conductors import resistance_ratio

__all__ = ["WorstDrop", "load_growth", "worst_drops"]

_IN_HAND = (
    0.998  # a proposed gauge leaves this much of the limit: a thicker wire lets its neighbours take a little more
)


class WorstDrop(NamedTuple):
    """
    A circuit's worst drop: under which rule, in which condition (empty where nothing is on in any), at which load.

    ``shared_v`` is lost outside the circuit's own wire. ``most_own_ohm`` is the most resistance at 20 °C that every rule
    leaves the circuit's own wire: 0 where the rest alone is over a limit, infinite where nothing limits it. ``column`` is that
    of the rule's drop case in its state.
    """

    drop_v: float
    shared_v: float
    load_v: float
    rule: DropRule
    condition: str
    load: str
    most_own_ohm: float
    column: int = 0


@dataclass(frozen=True, slots=True)
class _Lost:
    """
    What circuits lose in one state at one case, whatever the rule: drop, own part and voltage left, circuits × columns of
    the case. ``alive`` (circuits × conditions) tells which are fed in a condition that works; ``growth`` is :func:`load_growth`.
    """

    moments: Moments
    alive: Flags
    solved: Solved
    drop_v: Floats
    own_v: Floats
    growth: Callable[[float], Floats]

    @classmethod
    def of(cls, network: Network, state: State, case: Case) -> "_Lost":
        solved, moments = state.drops[case], state.moments_of(case)
        post_v = moments.spread(state.low.source_v) - state.before_post_v(solved.current_a, case.conductor_temp_c)
        own_ohm = state.resistances.own_ohm[:, None] * resistance_ratio(temperature_c=case.conductor_temp_c)
        return cls(
            moments,
            state.works[None, :] & ~state.dead,
            solved,
            post_v - solved.voltage_v,
            own_ohm * solved.current_a,
            load_growth(network, state, case, solved, post_v),
        )


@dataclass(frozen=True, slots=True)
class _Judged:
    """
    One rule in one state: drop, own part and allowed resistance, circuits × columns of its drop case; ``counts`` where it
    applies; ``on`` is loads × columns, ``of`` the condition of each.
    """

    state: State
    rule: DropRule
    on: Floats
    of: Places
    counts: Flags
    drop_v: Floats
    own_v: Floats
    load_v: Floats
    most_own_ohm: Floats


def worst_drops(index: IndexedDesign, network: Network) -> dict[str, WorstDrop]:
    """Return the worst drop of every fed circuit, by number."""
    worst: dict[str, WorstDrop] = {}
    least_ohm: dict[str, float] = {}
    for state in network.states:
        lost = {case: _Lost.of(network, state, case) for case in {case_of(r) for r in index.rules_in_use.values()}}
        for rule in index.rules_in_use.values():
            for number, drop in _worst_of(index, _judge(index, network, state, rule, lost[case_of(rule)])):
                if number not in worst or _weight(drop) > _weight(worst[number]):
                    worst[number] = drop
                least_ohm[number] = min(least_ohm.get(number, np.inf), drop.most_own_ohm)
    for state in network.states:
        for circuit in state.feeding.circuits:
            if circuit.number not in worst:
                worst[circuit.number] = _alone(index, network, circuit)
    return {
        number: drop
        if number not in least_ohm or drop.most_own_ohm == least_ohm[number]
        else drop._replace(most_own_ohm=least_ohm[number])
        for number, drop in worst.items()
    }


def _weight(drop: WorstDrop) -> float:
    return drop.drop_v / (drop.rule.limit_ratio * drop.rule.base_v)


def _judge(index: IndexedDesign, network: Network, state: State, rule: DropRule, lost: _Lost) -> _Judged:
    solved, moments = lost.solved, lost.moments
    on = network.demand.on[:, list(state.chosen)] * index.under_rule[rule.key][:, None]
    counts = (state.feeds.summed(on) > 0) & lost.alive
    if moments.apart:
        on, counts = moments.spread(on), counts[:, moments.of]
    limit_v = rule.limit_ratio * rule.base_v * _IN_HAND
    growth = lost.growth(limit_v)
    ratio = resistance_ratio(temperature_c=rule.conductor_temp_c)
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        most_own = (limit_v - (lost.drop_v - lost.own_v) * growth) / (solved.current_a * growth * ratio)
    most_own_ohm = np.where(counts & (solved.current_a > 0), np.maximum(most_own, 0.0), np.inf)
    return _Judged(state, rule, on, moments.of, counts, lost.drop_v, lost.own_v, solved.voltage_v, most_own_ohm)


def load_growth(
    network: Network, state: State, case: Case, solved: Solved, post_v: Floats
) -> Callable[[float], Floats]:
    """
    Return how much more each circuit takes at most, circuits × columns, when it loses no more than some volts.

    A wire thick enough lets a resistive load see more and so take more: at most in the proportion of the voltages.
    """
    follows = _resistive_part(network, state, case, solved)
    now_v = np.maximum(solved.voltage_v, 1.0)
    return lambda lost_v: 1.0 + (np.maximum(1.0, (post_v - lost_v) / now_v) - 1.0) * follows


def _resistive_part(network: Network, state: State, case: Case, solved: Solved) -> Floats:
    """How much of each circuit's current follows its voltage, circuits × columns of the drop case."""
    demand, moments = network.demand, state.moments_of(case)
    factor = moments.level if moments.apart else demand.drop_factor(case.current)[:, list(state.chosen)]
    on = factor * (1.0 - moments.spread(state.low.off))
    follows_a = state.feeds.summed(demand.lit.conductance_s * on) * solved.voltage_v
    return np.asarray(np.clip(follows_a / np.maximum(solved.current_a, 1e-9), 0.0, 1.0))


def _worst_of(index: IndexedDesign, judged: _Judged) -> Iterator[tuple[str, WorstDrop]]:
    if not judged.counts.any():
        return
    weighed = np.where(judged.counts, judged.drop_v, -1.0)
    columns = weighed.argmax(axis=1)
    rows, on = np.arange(len(columns)), judged.on.tolist()
    drop_v, own_v = judged.drop_v[rows, columns].tolist(), judged.own_v[rows, columns].tolist()
    load_v, most_own_ohm = judged.load_v[rows, columns].tolist(), judged.most_own_ohm.min(axis=1).tolist()
    worst_at = columns.tolist()
    conditions = [index.design.conditions[judged.state.chosen[of]].key for of in judged.of.tolist()]
    for row in np.flatnonzero(judged.counts.any(axis=1)).tolist():
        number, column = judged.state.feeding.circuits[row].number, worst_at[row]
        load = next(load.key for load in index.loads_of[number] if on[index.load_row[load.key]][column] > 0)
        shared_v = drop_v[row] - own_v[row]
        yield (
            number,
            WorstDrop(
                drop_v[row],
                shared_v,
                load_v[row],
                judged.rule,
                conditions[column],
                load,  # the first that comes under the rule and is on
                most_own_ohm[row],
                column,
            ),
        )


def _alone(index: IndexedDesign, network: Network, circuit: Circuit) -> WorstDrop:
    """A circuit with nothing on in any condition: the drop of its loads alone, over its own wire only."""
    loads = index.loads_of.get(circuit.number, ())
    rule = index.drop_rule(loads[0]) if loads else index.drop_rules[GENERAL_CLASS]
    ohm = network.circuit_wires[circuit.number].ohm * resistance_ratio(temperature_c=rule.conductor_temp_c)
    drop_v = ohm * _data_sheet_a(loads)
    return WorstDrop(drop_v, 0.0, rule.base_v - drop_v, rule, "", loads[0].key if loads else "", np.inf)


def _data_sheet_a(loads: tuple[Load, ...]) -> float:
    return sum(load.current_a * load.quantity for load in loads)
