"""Proposals for circuits, judged with the feeds as they are in the design they were solved in."""

import math
from collections.abc import Iterator
from dataclasses import replace

from builds.engineering.assessing.circuit_results import CircuitFacts, Needs
from builds.engineering.assessing.devices import breaks_a
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.electrical.conductors import resistance_ratio
from builds.engineering.proposing.currents import Currents, widened
from builds.engineering.proposing.pair import Asked, propose_pair, rating_for
from builds.engineering.proposing.solved import Solved
from builds.engineering.proposing.values import RuleCheck, SizingProposal, SizingRule

__all__ = ["circuit_proposals", "circuit_ratings_a"]


def circuit_proposals(
    solved: Solved, currents: Currents, before: Solved, only: frozenset[str] | None = None
) -> Iterator[SizingProposal]:
    """
    Yield the proposal of every fed circuit, or of some by number, in the design's order.

    What is asked of a circuit is as it is in ``solved``; what is there is that of ``before``.
    """
    stood = {facts.circuit.number: facts for facts in before.circuits}
    collapsed = _collapsed(solved)
    for facts in solved.circuits:
        number = facts.circuit.number
        if only is None or number in only:
            asked = _asked(solved.index, facts, currents, stood[number], bounded=number in collapsed)
            yield propose_pair(solved.index, asked, tuple(_unmet(solved, facts)))


def circuit_ratings_a(solved: Solved, currents: Currents) -> dict[str, float]:
    """Return the device that would be proposed for each fed circuit, by number [A]."""
    ratings = (
        (facts, rating_for(solved.index, _asked(solved.index, facts, currents, facts, bounded=False)))
        for facts in solved.circuits
    )
    return {facts.circuit.number: rating_a for facts, rating_a in ratings if rating_a is not None}


def _collapsed(solved: Solved) -> frozenset[str]:
    """Circuits with something on in a condition that has no operating point: nothing there says what drop leaves them."""
    found: set[str] = set()
    for state in solved.network.states:
        if state.works.all():
            continue
        on = state.feeds.summed(solved.network.demand.on[:, list(state.chosen)])[:, ~state.works].max(axis=1).tolist()
        found.update(circuit.number for circuit, is_on in zip(state.feeding.circuits, on, strict=False) if is_on)
    return frozenset(found)


def _asked(index: IndexedDesign, facts: CircuitFacts, currents: Currents, was: CircuitFacts, *, bounded: bool) -> Asked:
    needs = widened(facts, currents)
    return Asked(
        subject=f"circuit:{was.circuit.number}",
        gauge=was.circuit.gauge,
        family_now=was.circuit.device_family,
        rating_now_a=was.circuit.device_rating_a,
        wire=was.wire,
        needs=_bounded(index, facts, needs) if bounded or not facts.drop.condition else needs,
        needs_now=replace(was.needs, current_a=was.sizing_a, continuous_a=was.continuous_a, most_drop_ohm=math.inf),
        drop_now=_drop(was),
        device=was.device,
        owns=True,
    )


def _bounded(index: IndexedDesign, facts: CircuitFacts, needs: Needs) -> Needs:
    """
    Return the needs with a bound on the drop where a condition gives none: nothing on, or no operating point.

    The wire may then take what feeds and returns leave of the limit, at the data sheets' currents where they are more.
    """
    loads = index.loads_of.get(facts.circuit.number, ())
    current_a = max(needs.current_a, sum(load.current_a * load.quantity for load in loads))
    if not current_a:
        return needs
    rule = facts.drop.rule
    own_v = (1 - index.numbers["feed-share"]) * rule.limit_ratio * rule.base_v
    most_ohm = own_v / current_a / resistance_ratio(temperature_c=rule.conductor_temp_c)
    return replace(needs, current_a=current_a, most_drop_ohm=min(needs.most_drop_ohm, most_ohm))


def _drop(facts: CircuitFacts) -> RuleCheck | None:
    drop = facts.drop
    if not drop.condition:
        return None
    limit_v = drop.rule.limit_ratio * drop.rule.base_v
    return RuleCheck(rule=SizingRule.DROP, value=drop.drop_v, limit=limit_v, unit="V", at_most=True)


def _unmet(solved: Solved, facts: CircuitFacts) -> Iterator[RuleCheck]:
    """What another size of the circuit cannot mend: what its device breaks, and how it stands to its feed's."""
    guards = solved.feeders.guards(facts.circuit.panel)
    capacity_a, prospective_a = breaks_a(facts.device.name, facts.nominal_v), facts.result.prospective_a
    if capacity_a is not None and prospective_a > capacity_a:
        cited = solved.index.texts["backup-device"] == "cited"
        backed_a = min((breaks_a(guard.device_family, facts.nominal_v) or 0.0 for guard in guards), default=0.0)
        if not cited or backed_a < prospective_a:
            yield RuleCheck(rule=SizingRule.BREAKING, value=capacity_a, limit=prospective_a, unit="A")
    feed_a = sum(guard.device_rating_a or 0.0 for guard in guards)
    if guards and facts.result.proposed_rating_a >= feed_a:
        yield RuleCheck(
            rule=SizingRule.FEED, value=facts.result.proposed_rating_a, limit=feed_a, unit="A", at_most=True
        )
