"""The proposed sizes of a build as rows: what is there, what is proposed, which rule decided, what would change."""

from dataclasses import dataclass

from builds.engineering.assessing.words import amperes, device_word, gauge_words
from builds.engineering.design import Circuit, Conventions, Run
from builds.engineering.proposing import Refusal, RuleCheck, SizingProposal, SizingRule
from builds.selectors.build_sheet import Sheet
from builds.selectors.sheet_findings import row_id

__all__ = ["SizeGroup", "SizeRow", "check_words", "rule_words", "size_groups"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeRow:
    """One circuit or run as its line shows it."""

    subject: str
    element_id: str
    address: str
    working: str
    anchor: str
    name: str
    now: str
    proposed: str
    rating_now_a: float | None
    rating_a: float | None
    family: str
    rules: tuple[str, ...]
    shifts: tuple[str, ...]
    broken: tuple[str, ...]
    unmet: tuple[str, ...]
    chosen: bool
    may_choose: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeGroup:
    """Rows of one standing."""

    key: str
    name: str
    words: str
    mark: str
    rows: tuple[SizeRow, ...]


_RULE_WORDS = {
    SizingRule.LOAD: "carries the load",
    SizingRule.DEVICE: "stands behind its device",
    SizingRule.DROP: "drop",
    SizingRule.FAR_END: "a short at the far end opens the device",
    SizingRule.SMALLEST: "smallest this buyer allows",
    SizingRule.STOCKED: "what is on the shelf",
    SizingRule.LOADING: "continuous loading",
    SizingRule.CARRIES: "everything on at once",
    SizingRule.BEHIND: "larger than the devices behind it",
    SizingRule.BREAKING: "what the device can break",
    SizingRule.FEED: "smaller than the device of its feed",
    SizingRule.PLACE: "rating of what it feeds",
}


def rule_words(rule: SizingRule) -> str:
    """Return a rule as a row names it."""
    return _RULE_WORDS[rule]


def check_words(check: RuleCheck) -> str:
    """Return a rule with its figure and its limit: "carries the load: 24.8 A of 30 A"."""
    return f"{rule_words(check.rule)}: {_figure(check.value, check.unit)}, {'at most' if check.at_most else 'at least'} {_figure(check.limit, check.unit)}"


def _figure(value: float, unit: str) -> str:
    if unit == "A":
        return amperes(value)
    return f"{value:.3g} {unit}" if value < 999.5 else f"{value:,.0f} {unit}"


def size_groups(sheet: Sheet, proposals: tuple[SizingProposal, ...], chosen: frozenset[str] | None) -> list[SizeGroup]:
    """Return the rows by standing; ``chosen`` are ticked, by default those that break a rule as they are."""
    parts = _parts(sheet)
    rows: dict[str, list[SizeRow]] = {"needed": [], "other": [], "none": [], "same": []}
    for proposal in proposals:
        standing = _standing(proposal)
        ticked = proposal.subject in chosen if chosen is not None else standing == "needed"
        rows[standing].append(_row(sheet, proposal, parts[proposal.subject], chosen=ticked and standing != "none"))
    return [
        SizeGroup(key=key, name=name, words=words, mark=mark, rows=tuple(rows[key]))
        for key, name, words, mark in _GROUPS
        if rows[key]
    ]


_GROUPS = (
    ("needed", "Breaks a rule as it is", "ticked to begin with", "defective"),
    (
        "none",
        "Nothing on the shelf will do",
        "another way, a smaller bundle, a cooler place or another family",
        "blocking",
    ),
    ("other", "Would be another size", "what is there keeps the rules; the smallest that does is another", ""),
    ("same", "Is what would be proposed", "nothing to change", "pass"),
)


def _standing(proposal: SizingProposal) -> str:
    if not proposal.stands:
        return "none"
    if proposal.needed:
        return "needed"
    return "other" if proposal.changes else "same"


def _parts(sheet: Sheet) -> dict[str, Circuit | Run]:
    found: dict[str, Circuit | Run] = {f"circuit:{circuit.number}": circuit for circuit in sheet.design.circuits}
    return found | {f"run:{run.key}": run for run in sheet.design.runs}


def _row(sheet: Sheet, proposal: SizingProposal, part: Circuit | Run, *, chosen: bool) -> SizeRow:
    conventions = sheet.design.conventions
    key = proposal.subject.partition(":")[2]
    return SizeRow(
        subject=proposal.subject,
        element_id=f"size-{row_id(proposal.subject)}",
        address=key,
        working=f"{proposal.subject.partition(':')[0]}-gauge" if proposal.gauge else "",
        anchor=row_id(proposal.subject),
        name=part.legend if isinstance(part, Circuit) else f"{part.from_node} → {part.to_node}",
        now=_pair(proposal.gauge_now, proposal.family_now, proposal.rating_now_a, conventions),
        proposed=_pair(proposal.gauge, proposal.family, proposal.rating_a, conventions)
        if proposal.gauge
        else "no size",
        rating_now_a=proposal.rating_now_a,
        rating_a=proposal.rating_a,
        family=proposal.family,
        rules=tuple(_decided(proposal, conventions)),
        shifts=tuple(_shifts(sheet, proposal)),
        broken=tuple(check_words(check) for check in proposal.broken),
        unmet=tuple(check_words(check) for check in proposal.unmet),
        chosen=chosen,
        may_choose=proposal.stands and bool(proposal.changes),
    )


def _pair(gauge: str, family: str, rating_a: float | None, conventions: Conventions) -> str:
    words = gauge_words(gauge, conventions)
    return f"{words}, {rating_a:g} A {device_word(family)}" if rating_a else words


def _decided(proposal: SizingProposal, conventions: Conventions) -> list[str]:
    words = []
    # where a policy kept the conductor, no rule decided it
    soft = proposal.next_gauge is not None and proposal.next_gauge.check.soft
    if proposal.gauge_rule is not None and not (proposal.policy and soft):
        words.append(f"Conductor: {rule_words(proposal.gauge_rule)}{_refused(proposal.next_gauge, conventions)}")
    if proposal.rating_rule is not None:
        words.append(f"Device: {rule_words(proposal.rating_rule)}{_refused(proposal.next_rating, None)}")
    if proposal.policy:
        words.append(proposal.policy[0].upper() + proposal.policy[1:])
    return words


def _refused(refusal: Refusal | None, conventions: Conventions | None) -> str:
    if refusal is None:
        return ""
    name = gauge_words(refusal.name, conventions) if conventions else refusal.name
    return f"; {name} fails: {check_words(refusal.check)}"


def _shifts(sheet: Sheet, proposal: SizingProposal) -> list[str]:
    if not proposal.changes or not proposal.gauge:
        return []
    words = []
    if proposal.ampacity_a is not None and proposal.ampacity_a != proposal.ampacity_now_a:
        before = amperes(proposal.ampacity_now_a) if proposal.ampacity_now_a is not None else "not known"
        words.append(f"carries {before} → {amperes(proposal.ampacity_a)}")
    before_v, after_v = (proposal.current_a * mohm / 1000 for mohm in (proposal.own_mohm_now, proposal.own_mohm))
    if f"{before_v:.2f}" != f"{after_v:.2f}":
        words.append(f"own drop {before_v:.2f} → {after_v:.2f} V")
    measures = sheet.measures
    copper = measures.mass(proposal.copper_kg)
    if abs(copper) >= 0.05:
        words.append(f"copper {copper:+.1f} {measures.mass_unit}".replace("-", "−"))
    return words
