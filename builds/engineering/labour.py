"""
Hours of work: what people spend (crew hours) and how long it takes (elapsed hours), kept apart.

Two people for three hours are six crew hours and three elapsed hours: the first is what labour costs, the second is what a
bay is held for.
"""

from collections.abc import Callable, Iterable
from typing import NamedTuple

from builds.engineering.design import Operation
from builds.engineering.ranges import check_count, check_within

__all__ = ["Hours", "hours_by", "hours_of", "total_hours"]


class Hours(NamedTuple):
    """Crew hours and elapsed hours of a piece of work, or of several done one after another."""

    crew_h: float
    elapsed_h: float

    def plus(self, other: "Hours") -> "Hours":
        """Return the hours of both, one after the other."""
        return Hours(crew_h=self.crew_h + other.crew_h, elapsed_h=self.elapsed_h + other.elapsed_h)


def hours_of(*, standard_h: float, quantity: int = 1, crew: int = 1) -> Hours:
    """
    Return the hours of one operation.

    Parameters
    ----------
    standard_h : float
        Time one piece takes its whole crew, 0 to 1000. [h]
    quantity : int, default 1
        How many pieces, at least 1.
    crew : int, default 1
        People at it at once, at least 1.

    Returns
    -------
    Hours
        crew = standard x quantity x crew, elapsed = standard x quantity.

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Examples
    --------
    >>> hours_of(standard_h=1.5, quantity=2, crew=2)
    Hours(crew_h=6.0, elapsed_h=3.0)
    """
    check_within("standard_h", standard_h, 0.0, 1000.0)
    check_count("quantity", quantity, least=1)
    check_count("crew", crew, least=1)
    elapsed_h = standard_h * quantity
    return Hours(crew_h=elapsed_h * crew, elapsed_h=elapsed_h)


def total_hours(operations: Iterable[Operation]) -> Hours:
    """
    Return the hours of several operations done one after another.

    Parameters
    ----------
    operations : iterable of Operation
        The work, in any order.

    Returns
    -------
    Hours
        Sums; what can be done side by side is the plan's business, not counted here.
    """
    each = [_hours_of_operation(operation) for operation in operations]
    return Hours(crew_h=sum(hours.crew_h for hours in each), elapsed_h=sum(hours.elapsed_h for hours in each))


def hours_by(operations: Iterable[Operation], group: Callable[[Operation], str]) -> dict[str, Hours]:
    """
    Return the hours of several operations by phase, skill or place.

    Parameters
    ----------
    operations : iterable of Operation
        The work.
    group : callable
        The word an operation is counted under.

    Returns
    -------
    dict of str to Hours
        One entry a word, in alphabetical order.

    Examples
    --------
    >>> hours_by([], lambda operation: operation.skill)
    {}
    """
    totals: dict[str, Hours] = {}
    for operation in operations:
        word, hours = group(operation), _hours_of_operation(operation)
        totals[word] = totals[word].plus(hours) if word in totals else hours
    return dict(sorted(totals.items()))


def _hours_of_operation(operation: Operation) -> Hours:
    return hours_of(standard_h=operation.standard_h, quantity=operation.quantity, crew=operation.crew)
