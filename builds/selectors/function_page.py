"""What the page of a build's function schedule prints beside its picture: claims, rules, findings, the chart, loaded files."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from builds.engineering.findings import Finding
from builds.engineering.functions.chart import ChartRow, operator_chart
from builds.engineering.functions.checks import ScheduleReport
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.printing import print_condition, print_effect, print_name, print_statement
from builds.engineering.functions.proof import ClaimResult, Verdict
from builds.engineering.functions.ready_claims import ready_claims
from builds.engineering.functions.reports import hand_steps_of, plan_of
from builds.engineering.functions.rewriting import statement_texts
from builds.engineering.functions.schedule import Claim, Rule
from builds.engineering.functions.words import listed
from builds.selectors.build_sheet import Sheet
from builds.selectors.loaded_files import newest_loadings
from builds.selectors.sheet_findings import FindingCard, cards_of

__all__ = ["FAMILIES", "FAMILY_WORDS", "ClaimRow", "RuleRow", "function_context", "plan_words"]

FAMILIES = ("input", "channel", "head", "pattern", "set", "given", "claim")
FAMILY_WORDS = {
    "input": "Inputs", "channel": "Outputs", "head": "Heads", "pattern": "Patterns", "set": "Sets", "given": "Givens",
    "claim": "Claims",
}  # fmt: skip
_VERDICTS = {
    Verdict.PROVED: ("pass", "Proved"), Verdict.REFUTED: ("blocking", "Refuted"), Verdict.OPEN: ("caution", "Open"),
}  # fmt: skip
_FUNCTIONS = 12


@dataclass(frozen=True, slots=True)
class ClaimRow:
    """A claim with its verdict; ``shown_by`` says that a state breaks it, which the picture can show."""

    key: str
    subject: str
    text: str
    state: str
    word: str
    why: str
    basis: str
    defers_to: str
    shown_by: bool


@dataclass(frozen=True, slots=True)
class RuleRow:
    """A rule as the form view lists it."""

    key: str
    subject: str
    priority: int
    does: str
    when: str
    if_lost: str
    marks: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class StatementRow:
    """Any other statement: its own text, and what was found about it."""

    subject: str
    key: str
    text: str


@dataclass(frozen=True, slots=True)
class OfferedClaim:
    """A ready claim that the schedule could have and has not."""

    title: str
    text: str
    statement: str
    basis: str
    defers_to: str
    missing: str


def function_context(sheet: Sheet, report: ScheduleReport, *, text: str) -> dict[str, Any]:
    """Return what the page prints beside the picture."""
    compiled = report.compiled
    cards = [card for card in cards_of(sheet) if _is_of_functions(card)]
    context: dict[str, Any] = {
        "claims": [], "rules": [], "statements": [], "ready": [], "chart": (), "plan_words": "",
        "function_cards": [card for card in cards if not card.subject.startswith("claim:")],
        "loadings": newest_loadings(sheet.build),
        "faults": report.faults,
    }  # fmt: skip
    if compiled is None:
        return context
    return context | {
        "claims": [_claim_row(result, report.findings) for result in report.claims],
        "rules": [_rule_row(rule, report.findings) for rule in compiled.schedule.rules],
        "statements": list(_statements(text)),
        "ready": list(_ready(compiled)),
        "chart": chart_rows(compiled),
        "plan_words": plan_words(text),
    }


def _is_of_functions(card: FindingCard) -> bool:
    return card.subject_address.startswith(f"{_FUNCTIONS} ·") or card.id == "file-not-loaded"


def _claim_row(result: ClaimResult, findings: tuple[Finding, ...]) -> ClaimRow:
    state, word = _VERDICTS[result.verdict]
    key = result.claim.key
    doubted = result.counterexample is not None and not result.counterexample.is_smallest
    why = next((one.message for one in findings if one.subject == f"claim:{key}" and one.id.startswith("claim-")), "")
    return ClaimRow(
        key=key,
        subject=f"claim:{key}",
        text=_claim_text(result.claim),
        state=state,
        word=word,
        why=f"{why} A smaller state that breaks it could not be excluded." if doubted else why,
        basis=result.claim.basis,
        defers_to=result.claim.defers_to,
        shown_by=result.counterexample is not None,
    )


def _claim_text(claim: Claim) -> str:
    then = f" then {print_condition(claim.then)}" if claim.then is not None else ""
    return f"{claim.kind.value} {print_condition(claim.condition)}{then}"


def _rule_row(rule: Rule, findings: tuple[Finding, ...]) -> RuleRow:
    subject = f"rule:{rule.key}"
    return RuleRow(
        key=rule.key,
        subject=subject,
        priority=rule.priority,
        does=f"{listed(map(print_name, rule.targets))} {print_effect(rule.effect)}",
        when=print_condition(rule.condition),
        if_lost=rule.fail.value,
        marks=tuple((one.severity.value, one.message) for one in findings if one.subject == subject),
    )


def _statements(text: str) -> Iterator[tuple[str, list[StatementRow]]]:
    by_family: dict[str, list[StatementRow]] = {family: [] for family in FAMILIES}
    for subject, (_, own) in statement_texts(text).items():
        family, _, key = subject.partition(":")
        if family in by_family and family != "claim":
            by_family[family].append(StatementRow(subject, key, " ".join(own.split())))
    yield from ((FAMILY_WORDS[family], rows) for family, rows in by_family.items() if rows)


def _ready(compiled: CompiledSchedule) -> Iterator[OfferedClaim]:
    known = {(claim.kind, claim.condition, claim.then) for claim in compiled.schedule.claims}
    names = {claim.key for claim in compiled.schedule.claims}
    for entry in ready_claims(compiled.schedule):
        if not entry.claims:
            yield OfferedClaim(entry.title, "", "", entry.basis, entry.defers_to, entry.missing)
        for claim in entry.claims:
            if (claim.kind, claim.condition, claim.then) not in known and claim.key not in names:
                statement = print_statement(claim)
                yield OfferedClaim(entry.title, _claim_text(claim), statement, entry.basis, entry.defers_to, "")


def chart_rows(compiled: CompiledSchedule) -> tuple[ChartRow, ...]:
    """Return the operator's chart, what is worked by hand first."""
    return operator_chart(compiled)


def plan_words(text: str) -> str:
    """Return how long the test of a schedule is, how short it could be, and what of it a hand cannot do."""
    plan = plan_of(text)
    if plan is None:
        return ""
    fleeting = sum(one.needs_instrument for one in hand_steps_of(text))
    largest = max((len(step.acts) for step in plan.steps), default=0)
    said = (
        f"{plan.settings} settings show {len(plan.goals)} things to be seen, changing controls {plan.moves} times, "
        f"{largest} at most in one step; no plan has fewer settings than {plan.at_least}."
    )
    if fleeting:
        said += f" {fleeting} of {len(plan.steps)} looks are shorter than a hand can time and need an instrument."
    return said
