"""
The drop that circuits' limits leave their feeds, as the most resistance that each run may have.

A feed has no drop rule of its own. Feeds and returns together may take the buyer's part of each circuit's limit, so each
run's resistance is scaled by what that part is of what they take now.
"""

from dataclasses import dataclass

import numpy as np

from builds.engineering.assessing.moments import Places
from builds.engineering.assessing.section_drops import SectionDrop, section_drops
from builds.engineering.assessing.solving import Flags, Floats
from builds.engineering.assessing.states import Case, State, case_of
from builds.engineering.assessing.topology import Group
from builds.engineering.design import DropRule
from builds.engineering.proposing.solved import Solved

__all__ = ["most_drop_ohm"]

_ALONE = 0.25  # of what is left of a limit one run may take for itself: a short one is not kept thick for nothing


def most_drop_ohm(solved: Solved) -> dict[str, float]:
    """Return, by run, the most resistance at 20 °C that circuits' drop limits leave it; infinite where nothing limits it [Ω]."""
    rows = solved.network.elements.run_row
    gauged = np.zeros(solved.network.elements.count, dtype=bool)
    for key, row in rows.items():
        gauged[row] = solved.network.run_wires[key].follows_temperature
    least = np.full(solved.network.elements.count, np.inf)
    for state in solved.network.states:
        if not state.chosen or not state.feeding.circuits:
            continue
        rules = solved.index.rules_in_use.values()
        lost = {case: _Lost.of_case(state, case, gauged) for case in {case_of(rule) for rule in rules}}
        for rule in rules:
            least = np.minimum(least, _ratios(solved, state, rule, lost[case_of(rule)]))
    for drop in section_drops(solved.index, solved.network):
        least = np.minimum(least, _section_ratios(solved, drop, gauged))
    ohm = {key: solved.network.run_wires[key].ohm for key in rows}
    return {key: float(least[row] * ohm[key]) if ohm[key] else np.inf for key, row in rows.items()}


def _section_ratios(solved: Solved, drop: SectionDrop, gauged: Flags) -> Floats:
    """The ratio by which the runs of a stretch must be scaled for its limit; where its circuit's wire is in it, it has its share."""
    share = 1.0 if drop.end else solved.index.numbers["feed-share"]
    runs_v = float(drop.element_v[gauged].sum())
    rest_v = drop.drop_v - drop.own_v - runs_v
    ratio = max(share * drop.limit_v - rest_v, 0.0) / runs_v if runs_v > 0 else np.inf
    return np.where(gauged & (np.abs(drop.element_v) > 0), ratio, np.inf)


@dataclass(frozen=True, slots=True)
class _Lost:
    """
    What is lost in one state at one case, whatever the rule.

    Circuits × columns of the case: ``gauged_v`` in runs that have a gauge, ``rest_v`` in all else on the way out and back.
    Of each element (row) ``own_v`` is its own; ``of`` says which condition each column belongs to.
    """

    of: Places
    gauged_v: Floats
    rest_v: Floats
    own_v: Floats

    @classmethod
    def of_case(cls, state: State, case: Case, gauged: Flags) -> "_Lost":
        feeding, current_a = state.feeding, state.drops[case].current_a
        element_ohm, _ = state.resistances.at(case.conductor_temp_c)
        parts: list[Floats] = []
        for ohm in (np.where(gauged, element_ohm, 0.0), np.where(gauged, 0.0, element_ohm)):
            out_v, home_v = feeding.feed_drop_v(ohm, current_a), feeding.rise_v(ohm, current_a)
            parts.append(out_v[feeding.panels.column] + home_v[feeding.returns.column])
        own_v = np.abs(state.through_a(current_a)).max(axis=1, initial=0.0) * element_ohm
        gauged_v, rest_v = parts
        return cls(state.moments_of(case).of, gauged_v, rest_v, own_v)


def _ratios(solved: Solved, state: State, rule: DropRule, lost: _Lost) -> Floats:
    """For each element the smallest ratio by which a rule's circuits behind it want the feeds' resistance scaled."""
    index, feeding = solved.index, state.feeding
    on = solved.network.demand.on[:, list(state.chosen)] * index.under_rule[rule.key][:, None]
    counts = ((state.feeds.summed(on) > 0) & state.works[None, :])[:, lost.of]
    budget_v = index.numbers["feed-share"] * rule.limit_ratio * rule.base_v
    left_v = np.maximum(budget_v - lost.rest_v, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(counts & (lost.gauged_v > 0), left_v / lost.gauged_v, np.inf).min(axis=1)
    each = np.minimum(
        _least_behind(feeding.supply_ways, feeding.panels, ratio),
        _least_behind(feeding.return_ways, feeding.returns, ratio),
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        over_v = left_v[counts].min(initial=np.inf) * (1 - 1 / each)
        may_grow = np.isfinite(each) & (each > 1) & (lost.own_v > 0)
        alone = np.where(may_grow, 1 + _ALONE * over_v / lost.own_v, 0.0)
    return np.asarray(np.maximum(each, alone))


def _least_behind(ways: Floats, group: Group, of_circuits: Floats) -> Floats:
    """For each element the least figure of the circuits whose panel, or ground, it is on the way of."""
    of_group = np.full(len(group.names), np.inf)
    np.minimum.at(of_group, group.column, of_circuits)
    return np.asarray(np.where(ways != 0, of_group[None, :], np.inf).min(axis=1, initial=np.inf))
