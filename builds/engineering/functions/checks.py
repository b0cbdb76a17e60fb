"""
What a good electrician would say of a function schedule.

A schedule whose names do not all stand for something is reported as that and nothing else: there is nothing to compute.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from builds.engineering.findings import Finding
from builds.engineering.functions.catalogue import found
from builds.engineering.functions.compiled import CompiledSchedule, compile_resolved
from builds.engineering.functions.faults import LanguageFault
from builds.engineering.functions.light_checks import check_heads, check_patterns
from builds.engineering.functions.loaded_files import LoadedFile, check_files
from builds.engineering.functions.part_checks import check_channels, check_inputs, check_timers
from builds.engineering.functions.printing import print_title
from builds.engineering.functions.proof import ClaimResult, SpaceInUse, Verdict, outcomes_read, prove_claim
from builds.engineering.functions.reachable import Trace
from builds.engineering.functions.resolving import resolve_schedule
from builds.engineering.functions.rule_checks import (
    check_outputs_driven,
    check_rules,
    check_ties,
    gates_to_sample,
    rule_wins,
)
from builds.engineering.functions.sampling import take_sample
from builds.engineering.functions.schedule import FunctionSchedule
from builds.engineering.functions.words import outcome_words, trace_sentence

__all__ = ["ScheduleReport", "check_schedule", "claim_finding", "fault_finding"]

_OUTCOMES_NAMED = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class ScheduleReport:
    """
    What was found: findings worst first, and every claim with its verdict.

    ``compiled`` is None where ``faults`` keep the schedule from being computed. ``solved`` counts questions to the solver.
    """

    findings: tuple[Finding, ...]
    claims: tuple[ClaimResult, ...] = ()
    faults: tuple[LanguageFault, ...] = ()
    compiled: CompiledSchedule | None = None
    solved: int = 0


def check_schedule(
    schedule: FunctionSchedule, *, load_keys: Iterable[str] | None = None, files: Iterable[LoadedFile] = ()
) -> ScheduleReport:
    """
    Return everything there is to say of a schedule.

    Parameters
    ----------
    schedule : FunctionSchedule
        As typed.
    load_keys : iterable of str, optional
        Keys of the design's loads, where there is a design.
    files : iterable of LoadedFile
        What is loaded into its devices.

    Returns
    -------
    ScheduleReport
        Two runs give the same.
    """
    resolved, faults = resolve_schedule(schedule)
    if faults:
        return ScheduleReport(findings=tuple(map(fault_finding, faults)), faults=faults)
    compiled = compile_resolved(resolved)
    with SpaceInUse(compiled) as spaces:
        results = tuple(prove_claim(spaces, claim) for claim in resolved.claims)
        findings = [
            *_claim_findings(compiled, results),
            *_solved_findings(spaces),
            *check_inputs(compiled),
            *check_channels(compiled, load_keys),
            *check_patterns(resolved),
            *check_files(resolved, files),
        ]
    ordered = tuple(sorted(findings, key=lambda finding: finding.sort_key))
    return ScheduleReport(findings=ordered, claims=results, compiled=compiled, solved=spaces.solved)


def fault_finding(fault: LanguageFault) -> Finding:
    """Return what is to be said of a fault in the text or the form of a schedule."""
    family, _, key = fault.subject.partition(":")
    place = f"Line {fault.place.line}, column {fault.place.column}" if fault.place.line else ""
    where = place or f"{family} {key}".capitalize()
    return found("schedule-fault", fault.subject or "functions:schedule", where=where, message=fault.message)


def _solved_findings(spaces: SpaceInUse) -> Iterator[Finding]:
    compiled = spaces.compiled
    if not spaces.space().some([one.literal(one.rest) for one in compiled.leaves]):
        yield found("given-breaks-rest", "given:rest")
    gates_to_sample(spaces)
    sample = take_sample(compiled)
    yield from check_rules(spaces, sample, rule_wins(spaces, sample))
    yield from check_outputs_driven(spaces, sample)
    yield from check_timers(spaces)
    yield from check_ties(spaces, sample)
    yield from check_heads(spaces, sample)


def _claim_findings(compiled: CompiledSchedule, results: Iterable[ClaimResult]) -> Iterator[Finding]:
    for result in results:
        finding = claim_finding(compiled, result)
        if finding is not None:
            yield finding


def claim_finding(compiled: CompiledSchedule, result: ClaimResult) -> Finding | None:
    """
    Return what is to be said of a claim's verdict; None where it is proved and never undecided.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    result : ClaimResult
        Of one of its claims.
    """
    claim, subject = print_title(result.claim.key), f"claim:{result.claim.key}"
    source = result.claim.basis
    if result.verdict is Verdict.OPEN:
        return found("claim-open", subject, source=source, claim=claim)
    if result.counterexample is not None:
        how = trace_sentence(compiled.schedule, result.counterexample.trace)
        what = _what(compiled, result, result.counterexample.trace)
        doubt = "" if result.counterexample.is_smallest else " (something nearer to rest was not excluded)"
        return found("claim-refuted", subject, source=source, claim=claim, how=how, what=what, doubt=doubt)
    if result.undecided is not None:
        how = trace_sentence(compiled.schedule, result.undecided.trace)
        return found("claim-undecided-when-lost", subject, source=source, claim=claim, how=how)
    return None


def _what(compiled: CompiledSchedule, result: ClaimResult, trace: Trace) -> str:
    outcomes = outcomes_read(compiled, result.claim, trace)
    if not outcomes:
        return ""
    said = "; ".join(outcome_words(compiled, outcome) for outcome in outcomes[:_OUTCOMES_NAMED])
    more = len(outcomes) - _OUTCOMES_NAMED
    return f": {said}" + (f"; and {more} more" if more > 0 else "")
