"""What the core reports about a design: a fact, its limit, how to mend it, and where the rule comes from."""

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Change", "Finding", "Number", "ProposedFix", "Severity"]


class Severity(StrEnum):
    """How much a finding weighs: blocking stops the work, a caution asks for a look, a note only tells."""

    BLOCKING = "blocking"
    CAUTION = "caution"
    NOTE = "note"

    @property
    def rank(self) -> int:
        """0 for the worst, so that a sort puts it first."""
        return list(Severity).index(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """A figure a finding rests on, as printed: "drop", 5.5, "%"."""

    name: str
    value: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One field of one part set to a new value; ``subject`` is "circuit:203", ``field`` a field of its dataclass."""

    subject: str
    field: str
    value: str | float | int


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposedFix:
    """A repair that can be applied as it stands; ``label`` is what its button says ("Use 12 gauge")."""

    label: str
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """
    Something about a design that a good electrician would say.

    ``id`` is stable and listed in the catalogue ("drop-over-limit"). ``subject`` is "family:key" with family one of
    circuit, run, node, load, condition, duty, segment, shed, operation, part, zone, or "build" alone.
    """

    id: str
    severity: Severity
    subject: str
    message: str
    numbers: tuple[Number, ...] = ()
    hint: str = ""
    source: str = ""
    fix: ProposedFix | None = None

    @property
    def sort_key(self) -> tuple[int, str, str]:
        """Worst first, then by subject and id, so that two runs give the same order."""
        return (self.severity.rank, self.subject, self.id)
