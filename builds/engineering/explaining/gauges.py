"""Workings of a proposed pair: every rule held against the conductor and the device proposed, and against the next smaller."""

from builds.engineering.errors import UnknownTableEntry
from builds.engineering.explaining.subject import Subject, table_source
from builds.engineering.explaining.values import Comparison, Number, Step, Working
from builds.engineering.proposing import Refusal, RuleCheck, SizingProposal, SizingRule

__all__ = ["proposal_working", "rule_text"]

_WORDS = {
    SizingRule.LOAD: "Conductor carries the load",
    SizingRule.DEVICE: "Conductor stands behind its device, with the buyer's margin",
    SizingRule.DROP: "Conductor's own resistance at 20 °C against what the drop rule leaves it",
    SizingRule.FAR_END: "Short at the far end opens the device",
    SizingRule.SMALLEST: "Smallest conductor this buyer allows",
    SizingRule.STOCKED: "On the shelf",
    SizingRule.LOADING: "Device: continuous current over the loading limit and over what heat leaves",
    SizingRule.CARRIES: "Device: everything at once over what heat leaves",
    SizingRule.BEHIND: "Device: larger than those behind it",
    SizingRule.BREAKING: "Device: breaks what a short draws",
    SizingRule.FEED: "Device: smaller than that of its feed",
    SizingRule.PLACE: "Rating of what it feeds",
}


def rule_text(rule: SizingRule) -> str:
    """Return a rule as a working names it."""
    return _WORDS[rule]


def proposal_working(subject: Subject, address: str) -> Working:
    """Return the working of what a circuit or run ought to be; ``address`` is "circuit:203" or "run:R4"."""
    proposal = subject.proposals.get(address)
    if proposal is None or not proposal.gauge:
        raise UnknownTableEntry("The proposed sizes of this build", address)
    family, _, key = address.partition(":")
    area = _area(subject, proposal)
    return Working(
        key=f"{family}-gauge:{key}",
        title=f"Proposed conductor and device of {family} {key}: {_pair(proposal)}",
        steps=(area, *(_held(check) for check in proposal.checks), *_refused(proposal)),
        result=area.value,
        unit="mm²",
        rule=_deciding(proposal),
        sources=(table_source("allowable_amperage"), table_source("device_ratings"), subject.area_source),
    )


def _pair(proposal: SizingProposal) -> str:
    device = f", {proposal.rating_a:g} A {proposal.family}" if proposal.rating_a else ""
    return f"{proposal.gauge}{device}"


def _area(subject: Subject, proposal: SizingProposal) -> Step:
    facts = subject.solved.circuits if proposal.subject.startswith("circuit:") else subject.solved.runs
    key = proposal.subject.partition(":")[2]
    wire = next(
        item.wire for item in facts if (item.circuit.number if hasattr(item, "circuit") else item.run.key) == key
    )
    area_mm2 = wire.choice.area_mm2[wire.choice.row_of[proposal.gauge]]
    number = Number(symbol="a", value=area_mm2, unit="mm²", words=f"row {proposal.gauge}")
    return Step(words="Its area", symbol="A", formula="a", numbers=(number,), value=area_mm2, unit="mm²")


def _held(check: RuleCheck) -> Comparison:
    return Comparison(
        words=_WORDS[check.rule] + (" (the buyer's part for feeds)" if check.soft else ""),
        value=check.value, limit=check.limit, unit=check.unit, at_most=check.at_most,
    )  # fmt: skip


def _refused(proposal: SizingProposal) -> list[Comparison]:
    found: list[tuple[str, Refusal | None]] = [("conductor", proposal.next_gauge), ("device", proposal.next_rating)]
    return [
        Comparison(
            words=f"Next smaller {name} on the shelf, {refusal.name}: {_WORDS[refusal.check.rule][0].lower()}{_WORDS[refusal.check.rule][1:]}",
            value=refusal.check.value, limit=refusal.check.limit, unit=refusal.check.unit, at_most=refusal.check.at_most,
        )
        for name, refusal in found
        if refusal is not None
    ]  # fmt: skip


def _deciding(proposal: SizingProposal) -> str:
    words = []
    if proposal.gauge_rule is not None:
        words.append(f"conductor decided by: {proposal.gauge_rule}")
    if proposal.rating_rule is not None:
        words.append(f"device decided by: {proposal.rating_rule}")
    if proposal.policy:
        words.append(proposal.policy)
    return "; ".join(words)
