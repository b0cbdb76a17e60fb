"""Proposals for circuits, judged with the feeds as they are in the design they were solved in."""

import math
from collections.abc import Iterator
from dataclasses import replace

from builds.engineering.assessing.circuit_results import CircuitFacts
from builds.engineering.assessing.devices import breaks_a
from builds.engineering.proposing.currents import Currents, widened
from builds.engineering.proposing.pair import Asked, propose_pair, rating_for
from builds.engineering.proposing.solved import Solved
from builds.engineering.proposing.values import RuleCheck, SizingProposal, SizingRule

__all__ = ["circuit_proposals", "circuit_ratings_a"]


def circuit_proposals(solved: Solved, currents: Currents, before: Solved) -> Iterator[SizingProposal]:
    """Yield the proposal of every fed circuit, in the design's order; what is there is judged as it stood ``before``."""
    stood = {facts.circuit.number: facts for facts in before.circuits}
    for facts in solved.circuits:
        asked = _asked(facts, currents, stood[facts.circuit.number])
        yield propose_pair(solved.index, replace(asked, unmet=tuple(_unmet(solved, facts))))


def circuit_ratings_a(solved: Solved, currents: Currents) -> dict[str, float]:
    """Return the device that would be proposed for each fed circuit, by number [A]."""
    ratings = ((facts, rating_for(solved.index, _asked(facts, currents, facts))) for facts in solved.circuits)
    return {facts.circuit.number: rating_a for facts, rating_a in ratings if rating_a is not None}


def _asked(facts: CircuitFacts, currents: Currents, was: CircuitFacts) -> Asked:
    return Asked(
        subject=f"circuit:{facts.circuit.number}",
        gauge=facts.circuit.gauge,
        family_now=facts.circuit.device_family,
        rating_now_a=facts.circuit.device_rating_a,
        wire=facts.wire,
        needs=widened(facts, currents),
        needs_now=replace(was.needs, current_a=was.sizing_a, continuous_a=was.continuous_a, most_drop_ohm=math.inf),
        drop_now=_drop(was),
        device=facts.device,
        owns=True,
    )


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
