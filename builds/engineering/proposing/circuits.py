"""Proposals for circuits, judged with the feeds as they are in the design they were solved in."""

import math
from collections.abc import Iterator, Mapping

from builds.engineering.assessing.at_limit import Currents, sated
from builds.engineering.assessing.circuit_results import CircuitFacts, Needs
from builds.engineering.assessing.devices import Device, breaks_a, stand_in
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.electrical.conductors import resistance_ratio
from builds.engineering.proposing.pair import Asked, Kept
from builds.engineering.proposing.solved import Solved
from builds.engineering.proposing.values import RuleCheck, SizingRule

__all__ = ["circuit_unmet", "circuits_asked", "circuits_standing", "starved_circuits"]


def circuits_standing(before: Solved) -> dict[str, Asked]:
    """Return what is there of every fed circuit, by number: what is asked of it in some design is put in its ``needs``."""
    return {facts.circuit.number: _standing(facts) for facts in before.circuits}


def circuits_asked(
    here: Solved, currents: Currents | None, standing: Mapping[str, Asked], kept: Mapping[str, Kept], *, first: bool
) -> Iterator[tuple[CircuitFacts, Asked]]:
    """
    Yield every fed circuit with what is asked of it, in the design's order.

    What is asked is as it is ``here``. ``currents`` are of those that are starved here; at ``first`` those are given their
    part of the limit, whatever feeds that are yet to be mended leave of it.
    """
    starved = starved_circuits(here) if currents is not None else frozenset()
    collapsed = _collapsed(here) if starved else frozenset()
    for facts in here.circuits:
        number = facts.circuit.number
        needs = facts.needs if currents is None or number not in starved else sated(facts, currents)
        if number in collapsed or not facts.drop.condition:
            needs = _bounded(here.index, facts, needs)
        elif first and number in starved:
            needs = _bounded(here.index, facts, needs._replace(most_drop_ohm=math.inf))
        was = standing[number]
        yield facts, was.asking(needs, kept.get(was.subject))


def starved_circuits(solved: Solved) -> frozenset[str]:
    """Return the circuits, by number, that lose more than their limit or have no operating point: what they take is no guide."""
    over = {
        facts.circuit.number
        for facts in solved.circuits
        if facts.drop.condition and facts.drop.drop_v > facts.drop.rule.limit_ratio * facts.drop.rule.base_v
    }
    return _collapsed(solved) | over


def _collapsed(solved: Solved) -> frozenset[str]:
    """Circuits with something on in a condition that has no operating point: nothing there says what drop leaves them."""
    found: set[str] = set()
    for state in solved.network.states:
        if state.works.all():
            continue
        on = state.feeds.summed(solved.network.demand.on[:, list(state.chosen)])[:, ~state.works].max(axis=1).tolist()
        found.update(circuit.number for circuit, is_on in zip(state.feeding.circuits, on, strict=False) if is_on)
    return frozenset(found)


def _standing(was: CircuitFacts) -> Asked:
    return Asked(
        subject=f"circuit:{was.circuit.number}",
        gauge=was.circuit.gauge,
        family_now=was.circuit.device_family,
        rating_now_a=was.circuit.device_rating_a,
        wire=was.wire,
        needs=was.needs,
        needs_now=was.needs._replace(current_a=was.sizing_a, continuous_a=was.continuous_a, most_drop_ohm=math.inf),
        drop_now=_drop(was),
        device=_made(was),
        owns=True,
    )


def _made(was: CircuitFacts) -> Device:
    """Its device; one of a family no table has gives way to one whose figures are known."""
    if was.device.family is not None:
        return was.device
    return stand_in(was.device, was.nominal_v, was.prospective_a) or was.device


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
    return needs._replace(current_a=current_a, most_drop_ohm=min(needs.most_drop_ohm, most_ohm))


def _drop(facts: CircuitFacts) -> RuleCheck | None:
    drop = facts.drop
    if not drop.condition:
        return None
    limit_v = drop.rule.limit_ratio * drop.rule.base_v
    return RuleCheck(rule=SizingRule.DROP, value=drop.drop_v, limit=limit_v, unit="V", at_most=True)


def circuit_unmet(solved: Solved, facts: CircuitFacts) -> Iterator[RuleCheck]:
    """What another size of the circuit cannot mend: what its device breaks, and how it stands to its feed's."""
    guards = solved.feeders.guards(facts.circuit.panel)
    capacity_a, prospective_a = breaks_a(facts.device.name, facts.nominal_v), facts.prospective_a
    if capacity_a is not None and prospective_a > capacity_a:
        cited = solved.index.texts["backup-device"] == "cited"
        backed_a = min((breaks_a(guard.device_family, facts.nominal_v) or 0.0 for guard in guards), default=0.0)
        if not cited or backed_a < prospective_a:
            yield RuleCheck(rule=SizingRule.BREAKING, value=capacity_a, limit=prospective_a, unit="A")
    feed_a = sum(guard.device_rating_a or 0.0 for guard in guards)
    if guards and (proposed_a := facts.proposed_device().rating_a) >= feed_a:
        yield RuleCheck(rule=SizingRule.FEED, value=proposed_a, limit=feed_a, unit="A", at_most=True)
