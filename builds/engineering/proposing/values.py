"""What a sizing proposal says: the pair, the rule that asked for each half, every rule held against it, what was refused."""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from builds.engineering.findings import Change

__all__ = ["Refusal", "RuleCheck", "SizingProposal", "SizingRule"]


class SizingRule(StrEnum):
    """A rule that a conductor or a device must keep; the names of the first six are those an assessment gives."""

    LOAD = "load"
    DEVICE = "device"
    DROP = "drop"
    FAR_END = "far-end fault"
    SMALLEST = "smallest allowed"
    STOCKED = "stocked"
    LOADING = "continuous loading"
    CARRIES = "all at once"
    BEHIND = "devices behind it"
    BREAKING = "interrupting capacity"
    FEED = "device of its feed"
    PLACE = "rating of what it feeds"


class RuleCheck(NamedTuple):
    """
    One rule held against one choice: ``value`` at least ``limit``, or at most where ``at_most``, in ``unit``.

    ``soft`` marks one that only proposals follow: what is there does not break a rule by it.
    """

    rule: SizingRule
    value: float
    limit: float
    unit: str
    at_most: bool = False
    soft: bool = False

    @property
    def passed(self) -> bool:
        """Whether the rule lets it through; figures that agree to nine digits are equal."""
        if self.at_most:
            return self.value <= self.limit * (1 + 1e-9) + 1e-12
        return self.value >= self.limit * (1 - 1e-9)


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """The next smaller one on the shelf, and the rule it fails."""

    name: str
    check: RuleCheck


class SizingProposal(NamedTuple):
    """
    What one circuit or run ought to be.

    ``gauge`` is empty where no size on the shelf will do; ``gauge_rule`` is then the rule that none satisfies. ``family`` and
    ``rating_a`` are empty where it has and needs no device of its own. ``policy`` says in words why something was kept or
    rounded up although no rule asks for it. ``checks`` are the rules held against the pair, ``unmet`` those that no size can
    mend. ``now`` are the same rules held against what is there. ``copper_kg`` is the change of its conductor's copper.
    """

    subject: str
    gauge_now: str
    family_now: str
    rating_now_a: float | None
    gauge: str
    family: str
    rating_a: float | None
    gauge_rule: SizingRule | None
    rating_rule: SizingRule | None
    policy: str
    checks: tuple[RuleCheck, ...]
    unmet: tuple[RuleCheck, ...]
    now: tuple[RuleCheck, ...]
    next_gauge: Refusal | None
    next_rating: Refusal | None
    changes: tuple[Change, ...]
    ampacity_now_a: float | None
    ampacity_a: float | None
    own_mohm_now: float
    own_mohm: float
    current_a: float
    copper_kg: float

    @property
    def stands(self) -> bool:
        """Whether there is a pair, and every rule lets it through."""
        return bool(self.gauge) and all(check.passed or check.soft for check in self.checks)

    @property
    def needed(self) -> bool:
        """Whether what is there fails a rule that the proposal keeps."""
        return self.stands and bool(self.changes) and bool(self.broken)

    @property
    def broken(self) -> tuple[RuleCheck, ...]:
        """The rules that what is there fails."""
        return tuple(check for check in self.now if not check.passed and not check.soft)
