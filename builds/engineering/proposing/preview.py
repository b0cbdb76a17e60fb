"""What a set of changes does to the whole build, before anybody keeps it."""

from collections.abc import Iterable
from dataclasses import dataclass

from builds.engineering.assess import assess
from builds.engineering.assessment import Assessment
from builds.engineering.changes import apply_changes
from builds.engineering.design import Design
from builds.engineering.findings import Change, Finding

__all__ = ["Preview", "Shift", "preview"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """A circuit's drop before and after, in parts of the rule's base voltage; None where it has no figure."""

    number: str
    before_ratio: float | None
    after_ratio: float | None
    limit_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """The assessment after, the findings that go and those that come, and every circuit whose drop moves."""

    after: Assessment
    gone: tuple[Finding, ...]
    come: tuple[Finding, ...]
    drops: tuple[Shift, ...]


def preview(design: Design, before: Assessment, changes: Iterable[Change]) -> Preview:
    """
    Return what the changes would do.

    Parameters
    ----------
    design : Design
        The build as it stands.
    before : Assessment
        What the core says of it.
    changes : iterable of Change
        In the order they would be applied.

    Returns
    -------
    Preview
        Findings are the same where id and subject are.
    """
    after = assess(apply_changes(design, changes))
    was, now = ({(finding.id, finding.subject) for finding in side.findings} for side in (before, after))
    return Preview(
        after=after,
        gone=tuple(finding for finding in before.findings if (finding.id, finding.subject) not in now),
        come=tuple(finding for finding in after.findings if (finding.id, finding.subject) not in was),
        drops=tuple(_shifts(before, after)),
    )


def _shifts(before: Assessment, after: Assessment) -> Iterable[Shift]:
    was = {circuit.number: circuit for circuit in before.circuits}
    for circuit in after.circuits:
        old = was.get(circuit.number)
        if old is None or round(old.drop_ratio, 5) != round(circuit.drop_ratio, 5):
            yield Shift(
                number=circuit.number,
                before_ratio=old.drop_ratio if old else None,
                after_ratio=circuit.drop_ratio,
                limit_ratio=circuit.drop_limit_ratio,
            )
