"""Findings about circuits: conductor and device, drop, far-end faults, what their devices break, how they stand to their feed."""

from collections.abc import Callable, Iterator
from functools import cache

from builds.engineering.assessing.at_limit import Currents, currents_of, sated
from builds.engineering.assessing.circuit_results import CircuitFacts, gauge_for
from builds.engineering.assessing.devices import breaks_a
from builds.engineering.assessing.feed_drops import run_shares, thicker_feed
from builds.engineering.assessing.findings_wires import Guarded, conductor_findings, device_findings, gauge_fix
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.run_results import Feeders
from builds.engineering.assessing.states import Network
from builds.engineering.assessing.words import amperes, gauge_words, listing, of_circuit, of_condition, percent, volts
from builds.engineering.catalogue import found
from builds.engineering.findings import Change, Finding, Number, ProposedFix

__all__ = ["circuit_findings", "interrupting_finding", "thicker_wire"]

_SAME = 1e-9


def circuit_findings(
    index: IndexedDesign, network: Network, circuits: tuple[CircuitFacts, ...], feeders: Feeders
) -> Iterator[Finding]:
    """Yield the findings about fed circuits."""
    at_limit = cache(
        lambda: currents_of(index, network)
    )  # asked for only where a starved circuit's device is to be chosen
    for facts in circuits:
        starved = facts.drop.drop_v > facts.drop.rule.limit_ratio * facts.drop.rule.base_v * (1 + _SAME)
        guarded = _guarded(facts, at_limit if starved else None)
        yield from conductor_findings(index, guarded)
        yield from device_findings(index, guarded)
        if facts.known:
            yield from _drop(index, network, facts)
            yield from _far_end(index, facts, guarded, feeders)
        yield from _against_feed(facts, feeders)
    yield from _interrupting(index, circuits, feeders)


def _guarded(facts: CircuitFacts, at_limit: Callable[[], Currents] | None) -> Guarded:
    return Guarded(
        part=facts.circuit,
        wire=facts.wire,
        device=facts.device,
        device_of="",
        sizing_a=facts.sizing_a,
        continuous_a=facts.continuous_a,
        nominal_v=facts.nominal_v,
        needs=facts.needs,
        prospective_a=facts.prospective_a,
        sated=(lambda: sated(facts, at_limit())) if at_limit is not None else None,
    )


def _drop(index: IndexedDesign, network: Network, facts: CircuitFacts) -> Iterator[Finding]:
    """A circuit with nothing on in any condition is judged when its load is used."""
    drop, rule = facts.drop, facts.drop.rule
    if not drop.condition:
        return
    limit_v = rule.limit_ratio * rule.base_v
    over = drop.drop_v > limit_v * (1 + _SAME)
    if not over and drop.drop_v <= limit_v * (1 - index.numbers["near-margin"]):
        return
    shares = run_shares(index, network, facts) if over else ()
    most = f", {volts(shares[0].drop_v)} of it run {shares[0].run.key}" if shares else ""
    yield found(
        "drop-over-limit" if over else "drop-near-limit", f"circuit:{facts.circuit.number}",
        numbers=(
            Number(name="drop", value=drop.drop_v, unit="V"),
            Number(name="limit", value=limit_v, unit="V"),
            Number(name="shared", value=drop.shared_v, unit="V"),
        ),
        fix=(thicker_wire(index, facts) or thicker_feed(index, network, shares, drop_v=drop.drop_v, limit_v=limit_v)) if over else None, source=rule.source,
        where=of_circuit(facts.circuit), drop=volts(drop.drop_v), load=index.loads[drop.load].name or drop.load,
        condition=of_condition(index.conditions[drop.condition]), ratio=percent(rule.limit_ratio), base=f"{rule.base_v:g} V",
        limit=volts(limit_v), shared=volts(drop.shared_v) + most,
    )  # fmt: skip


def thicker_wire(index: IndexedDesign, facts: CircuitFacts) -> ProposedFix | None:
    """Return a gauge that keeps the drop; None where the feed alone takes more than the limit or no size is large enough."""
    gauge, _ = gauge_for(index, facts.wire, facts.needs, facts.device)
    if not gauge or gauge == facts.circuit.gauge:
        return None
    change = Change(subject=f"circuit:{facts.circuit.number}", field="gauge", value=gauge)
    return ProposedFix(label=f"Use {gauge_words(gauge, index.design.conventions)}", changes=(change,))


def _far_end(index: IndexedDesign, facts: CircuitFacts, guarded: Guarded, feeders: Feeders) -> Iterator[Finding]:
    if facts.device.family is None:
        return
    needed_a = facts.device.family.far_end_multiple_ratio * facts.device.rating_a
    if facts.far_end_fault_a < needed_a * (1 - _SAME):
        yield found(
            "fault-not-cleared", guarded.subject,
            numbers=(Number(name="fault", value=facts.far_end_fault_a, unit="A"), Number(name="needed", value=needed_a, unit="A")),
            fix=None if _limited(index, facts, feeders, needed_a) else gauge_fix(index, guarded),
            where=guarded.where, current=amperes(facts.far_end_fault_a),
            device=amperes(facts.device.rating_a), needed=amperes(needed_a),
        )  # fmt: skip


def _limited(index: IndexedDesign, facts: CircuitFacts, feeders: Feeders, needed_a: float) -> bool:
    """Whether a converter feeds it that gives less than its device needs, whatever the wire."""
    source = index.nodes.get(feeders.root_of.get(facts.circuit.panel, facts.circuit.panel))
    return source is not None and source.converter is not None and source.converter.limit_a < needed_a * (1 - _SAME)


def _against_feed(facts: CircuitFacts, feeders: Feeders) -> Iterator[Finding]:
    guards = feeders.guards(facts.circuit.panel)
    feed_a = sum(guard.device_rating_a or 0.0 for guard in guards)
    if guards and facts.device.rating_a >= feed_a:
        yield found(
            "device-above-feed", f"circuit:{facts.circuit.number}",
            numbers=(Number(name="device", value=facts.device.rating_a, unit="A"), Number(name="feed", value=feed_a, unit="A")),
            where=of_circuit(facts.circuit), device=amperes(facts.device.rating_a),
            feed=amperes(feed_a), run=listing(tuple(guard.key for guard in guards)),
        )  # fmt: skip


def _interrupting(index: IndexedDesign, circuits: tuple[CircuitFacts, ...], feeders: Feeders) -> Iterator[Finding]:
    """Said once a panel and family: a short is the same behind each of its positions."""
    said: set[tuple[str, str]] = set()
    for facts in circuits:
        family = facts.device.name
        capacity_a = breaks_a(family, facts.nominal_v)
        if capacity_a is None or facts.prospective_a <= capacity_a or (facts.circuit.panel, family) in said:
            continue
        said.add((facts.circuit.panel, family))
        if not _backed_up(index, facts, feeders):
            yield interrupting_finding(
                f"node:{facts.circuit.panel}",
                f"Panel {facts.circuit.panel}",
                family,
                facts.prospective_a,
                capacity_a,
            )


def interrupting_finding(
    subject: str, where: str, family: str, prospective_a: float, capacity_a: float, fix: ProposedFix | None = None
) -> Finding:
    """Return the finding about devices that cannot break what a short behind them draws."""
    return found(
        "interrupting-capacity-low", subject,
        numbers=(Number(name="prospective", value=prospective_a, unit="A"), Number(name="capacity", value=capacity_a, unit="A")),
        fix=fix, where=where, current=amperes(prospective_a), family=family, capacity=amperes(capacity_a),
    )  # fmt: skip


def _backed_up(index: IndexedDesign, facts: CircuitFacts, feeders: Feeders) -> bool:
    """Whether the buyer cites back-up, and the feed has a device that breaks this short by itself."""
    guards = feeders.guards(facts.circuit.panel)
    if not guards or index.texts["backup-device"] != "cited":
        return False
    breaking_a = [breaks_a(guard.device_family, facts.nominal_v) or 0.0 for guard in guards]
    return min(breaking_a) >= facts.prospective_a
