"""Which shape stands at a thing of a drawing: the worst finding about it."""

from collections.abc import Iterable

from builds.engineering.assessment import Assessment
from builds.engineering.findings import Severity

__all__ = ["worst_finding"]


def worst_finding(assessment: Assessment | None, subjects: Iterable[str]) -> Severity | None:
    """Return the worst severity among the findings about any of ``subjects`` ("circuit:203", "run:R4"), or None."""
    wanted = set(subjects)
    found = [finding.severity for finding in (assessment.findings if assessment else ()) if finding.subject in wanted]
    return min(found, key=lambda severity: severity.rank, default=None)
