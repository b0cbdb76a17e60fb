"""
Conditions of rules and claims as trees.

Where a node keeps ``at``, it is the place in the text it was read from (0 when it comes from elsewhere); it takes no part
in equality, so that a tree read from text equals the same tree read from a form.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from builds.engineering.errors import OutOfRange
from builds.engineering.functions.vocabulary import ON, OutputState, Quantifier
from builds.engineering.ranges import check_choice, check_count

__all__ = [
    "After",
    "AllOf",
    "AnyOf",
    "Condition",
    "ForAtLeast",
    "ForAtMost",
    "InputIs",
    "Not",
    "OutputIs",
    "children",
    "depth_of",
    "leaves",
]

MAX_TIMER_MS = 24 * 3600 * 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class InputIs:
    """An input has one of these values; a bare name asks for "on". ``negated`` is "is not"."""

    input: str
    values: tuple[str, ...] = (ON,)
    negated: bool = False
    at: int = field(default=0, compare=False)
    value_at: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputIs:
    """A channel, or any, all or none of a set, is in a state; claims only. ``pattern`` may narrow "flashing"."""

    target: str
    state: OutputState
    quantifier: Quantifier = Quantifier.ONE
    pattern: str = ""
    negated: bool = False
    at: int = field(default=0, compare=False)
    value_at: int = field(default=0, compare=False)

    def __post_init__(self) -> None:
        check_choice("state", self.state, OutputState)
        check_choice("quantifier", self.quantifier, Quantifier)


@dataclass(frozen=True, slots=True, kw_only=True)
class Not:
    """The opposite."""

    term: "Condition"


@dataclass(frozen=True, slots=True, kw_only=True)
class AllOf:
    """Every term, two or more: ``and``."""

    terms: tuple["Condition", ...]

    def __post_init__(self) -> None:
        check_count("terms", len(self.terms), least=2)


@dataclass(frozen=True, slots=True, kw_only=True)
class AnyOf:
    """At least one term of two or more: ``or``."""

    terms: tuple["Condition", ...]

    def __post_init__(self) -> None:
        check_count("terms", len(self.terms), least=2)


@dataclass(frozen=True, slots=True, kw_only=True)
class ForAtLeast:
    """The term has held without a break for this long or longer."""

    term: "Condition"
    duration_ms: int

    def __post_init__(self) -> None:
        _check_duration(self.duration_ms)


@dataclass(frozen=True, slots=True, kw_only=True)
class ForAtMost:
    """The term holds, and has not yet held for this long."""

    term: "Condition"
    duration_ms: int

    def __post_init__(self) -> None:
        _check_duration(self.duration_ms)


@dataclass(frozen=True, slots=True, kw_only=True)
class After:
    """The term held, holds no more, and stopped holding less than this long ago: ``at most 10 s after …``."""

    term: "Condition"
    duration_ms: int

    def __post_init__(self) -> None:
        _check_duration(self.duration_ms)


Condition = InputIs | OutputIs | Not | AllOf | AnyOf | ForAtLeast | ForAtMost | After


def _check_duration(duration_ms: int) -> None:
    if not isinstance(duration_ms, int) or not 1 <= duration_ms <= MAX_TIMER_MS:
        raise OutOfRange("duration_ms", duration_ms, "from 1 ms to 24 h")


def children(condition: Condition) -> tuple[Condition, ...]:
    """Return the parts a condition is directly made of; none for a leaf."""
    match condition:
        case InputIs() | OutputIs():
            return ()
        case AllOf(terms=terms) | AnyOf(terms=terms):
            return terms
        case Not(term=term) | ForAtLeast(term=term) | ForAtMost(term=term) | After(term=term):
            return (term,)


def depth_of(condition: Condition) -> int:
    """Return how many levels of terms a condition has, 1 for a leaf; it does not recurse, so no tree is too deep for it."""
    depth, level = 0, [condition]
    while level:
        depth += 1
        level = [part for term in level for part in children(term)]
    return depth


def leaves(condition: Condition) -> Iterator[InputIs | OutputIs]:
    """Yield every occurrence of an input or output in a condition, in reading order."""
    if isinstance(condition, InputIs | OutputIs):
        yield condition
    for part in children(condition):
        yield from leaves(part)
