"""
What is waited for while nothing switches: voltages and charges that cross a level.

A crossing is found where a step ends on the other side, and also where a quantity turned on its way and touched the level
in between: its slope at both ends tells. The instant is then found by stepping to it, again and again, with a step as exact
as any other, so that it does not depend on how long the steps are.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from builds.engineering.electrical.energy.moments import Circumstances, Moment
from builds.engineering.electrical.energy.stages import CutOut, ShedRule
from builds.engineering.electrical.energy.steps import Floats, Step

__all__ = ["INSTANT_S", "Crossing", "Readings", "Watch", "first_crossing"]

INSTANT_S = 1e-4  # switching instants are found to a tenth of a millisecond
_NUDGE_S = 0.05
_NEAR_V, _NEAR_RATIO = 0.25, 0.02  # no quantity goes this far and back again within one step
_TRIES = 80


@dataclass(frozen=True, slots=True)
class Watch:
    """A quantity of a battery, its level, and 1 where going above it counts, -1 where going below does."""

    of: ShedRule | CutOut | None
    bank: int
    level: float
    sign: int
    is_charge: bool = False

    def past(self, moment: Moment) -> float:
        """Return how far past its level the quantity is; below 0 it has not come to it."""
        values = moment.charge_ratio if self.is_charge else moment.bank_v
        return self.sign * (values[self.bank] - self.level)


@dataclass(frozen=True, slots=True)
class Crossing:
    """The step that leads to the first instant at which a level was crossed, and all watches whose level was."""

    span_s: float
    step: Step
    watches: tuple[Watch, ...] = ()


class Readings:
    """A moment, and how everything that is watched moves then; that is only looked at where something is near its level."""

    __slots__ = ("_later", "_now", "_rate", "_state", "here")

    def __init__(self, now: Circumstances, state: Floats, rate: Floats) -> None:
        self._now, self._state, self._rate = now, state, rate
        self.here = now.moment(state)
        self._later: Moment | None = None

    def slope(self, watch: Watch) -> float:
        """Return how fast a watch comes nearer, per second."""
        if self._later is None:
            self._later = self._now.moment(self._state + _NUDGE_S * self._rate)
        return (watch.past(self._later) - watch.past(self.here)) / _NUDGE_S


def first_crossing(
    watches: Sequence[Watch],
    now: Circumstances,
    before: Readings,
    after: Readings,
    span_s: float,
    redo: Callable[[float], Step],
) -> Crossing | None:
    """
    Return the first level crossed within a step, None where there is none.

    Parameters
    ----------
    watches : sequence of Watch
        What is waited for.
    now : Circumstances
        What holds during the step.
    before, after : Readings
        At its beginning and at its end.
    span_s : float
        Its length. [s]
    redo : callable
        Makes a shorter step from the same beginning.
    """
    found: Crossing | None = None
    for watch in watches:
        begin, end, until_s = watch.past(before.here), watch.past(after.here), span_s
        if begin >= 0.0:
            continue
        if end < 0.0:
            near = _NEAR_RATIO if watch.is_charge else _NEAR_V
            if begin < -near and end < -near:
                continue
            turn_s = _turn_s(begin, end, before.slope(watch), after.slope(watch), span_s)
            if turn_s is None:
                continue
            until_s, end = turn_s, watch.past(now.moment(redo(turn_s).state))
            if end < 0.0:
                continue
        if found is None:
            found = _locate(watch, now, (begin, end), until_s, redo)
        elif found.span_s > INSTANT_S and watch.past(now.moment(redo(found.span_s - INSTANT_S).state)) >= 0.0:
            found = _locate(watch, now, (begin, end), min(until_s, found.span_s), redo)
    if found is None:
        return None
    there = now.moment(found.step.state)
    crossed = [watch for watch in watches if watch.past(before.here) < 0.0 <= watch.past(there)]
    return Crossing(found.span_s, found.step, tuple(crossed))


def _turn_s(begin: float, end: float, rising: float, falling: float, span_s: float) -> float | None:
    """Where a quantity that came nearer and went away again was nearest, if that can be near enough to matter."""
    if rising <= 0.0 or falling >= 0.0:
        return None
    nearest = min(begin + rising * span_s, end - falling * span_s)  # it lies below both tangents if it bends one way
    if nearest < 0.0:
        return None
    return span_s * rising / (rising - falling)


def _locate(
    watch: Watch, now: Circumstances, ends: tuple[float, float], until_s: float, redo: Callable[[float], Step]
) -> Crossing:
    """Close in on the crossing from both sides (regula falsi, the end that stays counted half)."""
    (low_s, high_s), (low, high) = (0.0, until_s), ends
    step = redo(high_s)
    high = watch.past(now.moment(step.state))
    kept = 0
    for _ in range(_TRIES):
        if high_s - low_s <= INSTANT_S or high == 0.0:
            break
        middle_s = low_s + (high_s - low_s) * min(max(low / (low - high), 0.01), 0.99) if high > low else low_s
        middle_step = redo(middle_s)
        middle = watch.past(now.moment(middle_step.state))
        if middle >= 0.0:
            high_s, high, step = middle_s, middle, middle_step
            low, kept = (low / 2 if kept > 0 else low), 1
        else:
            low_s, low = middle_s, middle
            high, kept = (high / 2 if kept < 0 else high), -1
    return Crossing(high_s, step)
