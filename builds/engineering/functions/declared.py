"""What two schedules declare differently of the same inputs, channels and heads, and which givens only one of them has."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from builds.engineering.functions.printing import print_condition, print_name, print_statement, print_title
from builds.engineering.functions.schedule import Channel, FunctionSchedule, Head, Input

__all__ = ["DeclaredDifference", "declared_differences"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DeclaredDifference:
    """
    A statement that does not say the same in both; "" where one of them lacks it.

    ``is_worked_otherwise`` is set for an input of another kind: a button that stays on is not a switch, whatever both light.
    """

    what: str
    one_says: str
    other_says: str
    is_worked_otherwise: bool = False


def declared_differences(one: FunctionSchedule, other: FunctionSchedule) -> tuple[DeclaredDifference, ...]:
    """
    Return what two schedules declare differently: inputs, channels and heads by their keys, givens by what they exclude.

    Parameters
    ----------
    one, other : FunctionSchedule
        With names as declared.

    Returns
    -------
    tuple of DeclaredDifference
        In the order of the first schedule, then of the second. Channels that only one has are left to the comparison.
    """
    return (
        *_parts("input", one.inputs, other.inputs),
        *_parts("channel", one.channels, other.channels),
        *_parts("head", one.heads, other.heads),
        *_givens(one, other),
    )


def _parts(
    family: str, ones: Sequence[Input | Channel | Head], others: Sequence[Input | Channel | Head]
) -> Iterator[DeclaredDifference]:
    theirs = {part.key: part for part in others}
    for part in ones:
        other = theirs.pop(part.key, None)
        if other == part or (other is None and isinstance(part, Channel)):
            continue
        kinds = isinstance(part, Input) and isinstance(other, Input) and part.kind is not other.kind
        yield DeclaredDifference(
            what=f"{family} {print_name(part.key)}",
            one_says=_said(part),
            other_says="" if other is None else _said(other),
            is_worked_otherwise=kinds,
        )
    for part in theirs.values():
        if not isinstance(part, Channel):
            yield DeclaredDifference(what=f"{family} {print_name(part.key)}", one_says="", other_says=_said(part))


def _said(part: Input | Channel | Head) -> str:
    return print_statement(part).removeprefix(f"{type(part).__name__.lower()} {print_name(part.key)}: ")


def _givens(one: FunctionSchedule, other: FunctionSchedule) -> Iterator[DeclaredDifference]:
    ours, theirs = ({print_condition(given.condition): given.key for given in side.givens} for side in (one, other))
    for condition, key in ours.items():
        if condition not in theirs:
            yield DeclaredDifference(what=f"given {print_title(key)}", one_says=condition, other_says="")
    for condition, key in theirs.items():
        if condition not in ours:
            yield DeclaredDifference(what=f"given {print_title(key)}", one_says="", other_says=condition)
