"""Going on in spite of a blocking finding, with someone's name and reason."""

from datetime import datetime

from django.db import transaction

from builds.engineering.assessment import Assessment
from builds.engineering.findings import Finding, Severity
from builds.errors import BadInput, NotHere
from builds.models import Build, FindingOverride, Person
from builds.permissions import Action, check_may
from builds.services.actors import act_as
from builds.services.assessments import assess_build

__all__ = ["open_blocking", "record"]


def record(*, build: Build, finding_id: str, subject: str, reason: str, by: Person, at: datetime) -> FindingOverride:
    """
    Record why a blocking finding does not stop this build; it holds for the finding's words as they stand now.

    Raises BadInput without a reason, NotHere where no such finding is open.
    """
    check_may(by, Action.OVERRIDE_FINDING)
    if len(reason.strip()) < 5:  # a dot is not a reason
        raise BadInput({"reason": "Say why the build goes on in spite of this."})
    with transaction.atomic():
        act_as(by)
        locked = Build.objects.select_for_update().get(pk=build.pk)
        finding = _find(assess_build(locked), finding_id, subject)
        return FindingOverride.objects.create(
            build=locked, finding_id=finding.id, subject=finding.subject, design_version=locked.design_version,
            message=finding.message[:400], reason=reason.strip()[:400], by=by, at=at,
        )  # fmt: skip


def open_blocking(build: Build, assessment: Assessment) -> tuple[Finding, ...]:
    """Return the blocking findings without an override that was given for the same words."""
    given = set(build.overrides.values_list("finding_id", "subject", "message"))
    return tuple(item for item in assessment.blocking if (item.id, item.subject, item.message[:400]) not in given)


def _find(assessment: Assessment, finding_id: str, subject: str) -> Finding:
    for finding in assessment.findings:
        if (finding.id, finding.subject) == (finding_id, subject) and finding.severity is Severity.BLOCKING:
            return finding
    raise NotHere("This finding is no longer open.")
