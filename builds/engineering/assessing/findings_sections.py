"""Findings about drop rules of a part of the way, or of some conditions only."""

from collections.abc import Iterator

from builds.engineering.assessing.circuit_results import CircuitFacts
from builds.engineering.assessing.feed_drops import RunShare, thicker_feed
from builds.engineering.assessing.findings_circuits import thicker_wire
from builds.engineering.assessing.indexed import IndexedDesign
from builds.engineering.assessing.section_drops import SectionDrop
from builds.engineering.assessing.states import Network
from builds.engineering.assessing.words import of_circuit, of_condition, percent, volts
from builds.engineering.assessment import SectionResult
from builds.engineering.catalogue import found
from builds.engineering.findings import Finding, Number, ProposedFix

__all__ = ["section_findings", "section_results"]

_SAME = 1e-9


def section_results(drops: tuple[SectionDrop, ...]) -> tuple[SectionResult, ...]:
    """Return the worst of each rule, in the buyer's order."""
    worst: dict[str, SectionDrop] = {}
    for drop in drops:
        if drop.rule.key not in worst or drop.weight > worst[drop.rule.key].weight:
            worst[drop.rule.key] = drop
    return tuple(
        SectionResult(
            rule=key,
            start=drop.start,
            end=drop.end,
            circuit=drop.circuit.number,
            condition=drop.condition,
            drop_v=drop.drop_v,
            limit_v=drop.limit_v,
            base_v=drop.base_v,
        )
        for key, drop in worst.items()
    )


def section_findings(
    index: IndexedDesign, network: Network, circuits: tuple[CircuitFacts, ...], drops: tuple[SectionDrop, ...]
) -> Iterator[Finding]:
    """Yield the worst at each end where too much or nearly too much is lost, and the rules that nothing comes under."""
    facts_of = {facts.circuit.number: facts for facts in circuits if facts.known}
    worst: dict[str, SectionDrop] = {}
    for drop in drops:
        subject = f"node:{drop.end}" if drop.end else f"circuit:{drop.circuit.number}"
        if drop.circuit.number in facts_of and (subject not in worst or drop.weight > worst[subject].weight):
            worst[subject] = drop
    for subject, drop in worst.items():
        over = drop.weight > 1 + _SAME
        if over or drop.weight > 1 - index.numbers["near-margin"]:
            yield _lost(index, network, facts_of[drop.circuit.number], subject, drop, over=over)
    met = {drop.rule.key for drop in drops}
    for rule in index.rules_beside:
        if rule.key not in met:
            yield found("drop-rule-unmet", f"drop-rule:{rule.key}", source=rule.source, rule=rule.key)


def _lost(
    index: IndexedDesign, network: Network, facts: CircuitFacts, subject: str, drop: SectionDrop, *, over: bool
) -> Finding:
    rule, runs = drop.rule, network.elements.run_row
    shares = [RunShare(run, abs(float(drop.element_v[runs[run.key]]))) for run in index.design.runs]
    most = tuple(sorted((share for share in shares if share.drop_v > 0), key=lambda share: -share.drop_v))
    return found(
        "section-drop-over-limit" if over else "section-drop-near-limit", subject,
        numbers=(Number(name="drop", value=drop.drop_v, unit="V"), Number(name="limit", value=drop.limit_v, unit="V")),
        fix=_fix(index, network, facts, drop, most) if over else None, source=rule.source, rule=rule.key,
        where=_where(index, drop), drop=volts(drop.drop_v), condition=of_condition(index.conditions[drop.condition]),
        limit=volts(drop.limit_v), ratio=percent(rule.limit_ratio), base=f"{drop.base_v:g} V",
        most=f"run {most[0].run.key}, {volts(most[0].drop_v)}" if most else "the circuit's own wire",
    )  # fmt: skip


def _where(index: IndexedDesign, drop: SectionDrop) -> str:
    start = index.nodes[drop.start].name or drop.start
    if not drop.end:
        return f"Between {start} and the loads of {of_circuit(drop.circuit)}"
    return f"Between {start} and {index.nodes[drop.end].name or drop.end}, with {of_circuit(drop.circuit)} behind it,"


def _fix(
    index: IndexedDesign, network: Network, facts: CircuitFacts, drop: SectionDrop, shares: tuple[RunShare, ...]
) -> ProposedFix | None:
    own = thicker_wire(index, facts) if drop.own_v else None
    return own or thicker_feed(index, network, shares, drop_v=drop.drop_v, limit_v=drop.limit_v)
