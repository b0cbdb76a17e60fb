"""What an entry of the catalogue of findings is, and the sources that many of them name."""

from dataclasses import dataclass

from builds.engineering.findings import Severity

__all__ = ["BLOCKING", "CAUTION", "NOTE", "SHOP", "TREE", "FindingKind", "kind"]

BLOCKING, CAUTION, NOTE = Severity.BLOCKING, Severity.CAUTION, Severity.NOTE
SHOP = "common practice, no published source"
TREE = "the power tree of this build"


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingKind:
    """One id: how much it weighs, its sentence as a template, what it means, how to mend it, whose rule it is."""

    id: str
    severity: Severity
    template: str
    meaning: str
    hint: str
    source: str


def kind(id_: str, severity: Severity, template: str, meaning: str, hint: str, source: str) -> FindingKind:
    """Return an entry; the names of its fields would be longer than its words."""
    return FindingKind(id=id_, severity=severity, template=template, meaning=meaning, hint=hint, source=source)
