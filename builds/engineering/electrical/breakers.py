"""
What an opened circuit breaker does next, by the types of SAE J553.

Type 1 closes by itself as it cools and opens again: it cycles for as long as the fault lasts. Type 2 is held open by a
trickle through its own heater while power is there, and closes once power is gone. Type 3 stays open until somebody
presses it, and is trip-free: a hand that holds the button cannot keep it closed on a fault.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from builds.engineering.electrical.protection import Reset

__all__ = ["BreakerMoment", "BreakerStep", "breaker_steps"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakerMoment:
    """What surrounds a breaker for one step, each long enough for it to open on a fault or to cool."""

    powered: bool = True
    fault: bool = False
    pressed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakerStep:
    """A breaker at the end of a step: ``closed``, and whether it ``tripped`` in it."""

    closed: bool
    tripped: bool


def breaker_steps(reset: Reset, moments: Iterable[BreakerMoment]) -> Iterator[BreakerStep]:
    """
    Yield what a breaker that starts closed does, moment by moment.

    Parameters
    ----------
    reset : Reset
        Its type.
    moments : iterable of BreakerMoment
        In order.

    Yields
    ------
    BreakerStep
        One a moment. A breaker closes first, where its type lets it, and then opens again if the fault is still there.

    References
    ----------
    .. [1] SAE J553, "Circuit Breakers": types 1, 2 and 3 (read in a summary).

    Examples
    --------
    >>> fault = [BreakerMoment(fault=True)] * 3
    >>> [step.tripped for step in breaker_steps(Reset.ALONE, fault)]
    [True, True, True]
    >>> [step.tripped for step in breaker_steps(Reset.POWER_OFF, fault)]
    [True, False, False]
    """
    closed = True
    for moment in moments:
        closed = closed or _closes(reset, moment)
        tripped = closed and moment.powered and moment.fault
        closed = closed and not tripped
        yield BreakerStep(closed=closed, tripped=tripped)


def _closes(reset: Reset, moment: BreakerMoment) -> bool:
    if reset is Reset.ALONE:
        return True
    if reset is Reset.POWER_OFF:
        return not moment.powered
    return moment.pressed
