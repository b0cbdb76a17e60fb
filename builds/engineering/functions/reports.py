"""
What there is to say of a text as a function schedule, worked out once for each text.

A proof takes up to a second where a schedule is large, and nearly every edit of a build leaves its schedule alone. So the
report of a text is kept in memory under the text itself: equal texts give equal reports, and nothing can grow stale.

Several threads may hold one report. To evaluate a compiled schedule only reads its graph; to prove, plan or compare adds gates
to it, so whoever does that compiles the schedule for itself.
"""

from functools import lru_cache

from builds.engineering.functions.by_hand import HandStep, steps_by_hand
from builds.engineering.functions.checks import ScheduleReport, check_schedule, fault_finding
from builds.engineering.functions.compiled import compile_resolved
from builds.engineering.functions.faults import LanguageError
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.plan import TestPlan, plan_test

__all__ = ["hand_steps_of", "plan_of", "report_of"]

_MOST_KEPT = 32  # a report of 300 rules takes some 10 MB, one of a usual vehicle a tenth of that


@lru_cache(maxsize=_MOST_KEPT)
def report_of(text: str) -> ScheduleReport:
    """
    Return everything there is to say of a schedule by itself, without the design around it.

    Parameters
    ----------
    text : str
        A schedule; one that cannot be read has its faults as findings.
    """
    try:
        schedule = parse_schedule(text)
    except LanguageError as error:
        return ScheduleReport(findings=tuple(map(fault_finding, error.faults)), faults=error.faults)
    return check_schedule(schedule)


@lru_cache(maxsize=_MOST_KEPT)
def plan_of(text: str) -> TestPlan | None:
    """Return the test plan of a schedule; None where it cannot be read, or drives nothing."""
    compiled = report_of(text).compiled
    if compiled is None or not compiled.schedule.rules:
        return None
    return plan_test(compile_resolved(compiled.schedule))


@lru_cache(maxsize=_MOST_KEPT)
def hand_steps_of(text: str) -> tuple[HandStep, ...]:
    """Return the steps of a schedule's test plan as a hand works them; none where there is no plan."""
    plan, compiled = plan_of(text), report_of(text).compiled
    return () if plan is None or compiled is None else steps_by_hand(compiled, plan)
