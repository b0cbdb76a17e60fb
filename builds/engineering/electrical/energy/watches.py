"""
What is waited for while nothing switches: voltages and charges that cross a level.

A crossing is found where a step ends on the other side, and also where a quantity turned on its way and touched the level
in between: its slope at both ends tells. The instant is then found by stepping to it, again and again, with a step as exact
as any other, so that it does not depend on how long the steps are.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from builds.engineering.electrical.energy.moments import Circumstances, Moment
from builds.engineering.electrical.energy.stages import CutOut, ShedRule
from builds.engineering.electrical.energy.steps import Numbers, Step

__all__ = ["INSTANT_S", "Crossing", "Readings", "Watch", "bend_s", "by_quantity", "first_crossing"]

INSTANT_S = 1e-4  # switching instants are found to a tenth of a millisecond
_NUDGE_S = 0.05
_S_PER_H = 3600.0
_NEAR_V, _NEAR_RATIO = 0.25, 0.02  # no quantity goes this far and back again within one step
_TRIES, _GUESSES = 80, 4


class Watch(NamedTuple):
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
    """The step that leads to the first instant at which a level was crossed, how it is there, and all watches crossed."""

    span_s: float
    step: Step
    there: "Readings"
    watches: tuple[Watch, ...]


class Readings:
    """A moment, and how everything that is watched moves then; that is only looked at where something is near its level."""

    __slots__ = ("_later", "_now", "_rate", "_state", "here")

    def __init__(self, now: Circumstances, state: Numbers, rate: Numbers) -> None:
        self._now, self._state, self._rate = now, state, rate
        self.here = now.moment(state)
        self._later: Moment | None = None

    def slope(self, watch: Watch) -> float:
        """Return how fast a watch comes nearer, per second."""
        if watch.is_charge:
            return -watch.sign * self._rate[watch.bank] / self._now.banks[watch.bank].capacity_ah / _S_PER_H
        if self._later is None:
            moved = [at + _NUDGE_S / _S_PER_H * rate for at, rate in zip(self._state, self._rate, strict=True)]
            self._later = self._now.moment(moved)
        return (watch.past(self._later) - watch.past(self.here)) / _NUDGE_S


def by_quantity(watches: Iterable[Watch]) -> list[list[Watch]]:
    """Return watches in lists, one for each quantity and way, that which is come to first at its head."""
    lists: dict[tuple[int, int, bool], list[Watch]] = {}
    for watch in watches:
        lists.setdefault((watch.bank, watch.sign, watch.is_charge), []).append(watch)
    return [sorted(together, key=lambda watch: watch.sign * watch.level) for together in lists.values()]


def bend_s(waiting: Sequence[Sequence[Watch]], here: Readings) -> float:
    """Return how long it is to the next level of a charge at the rate of now, and just beyond [s]; infinity without one."""
    soonest_s = math.inf
    for watch, *_ in waiting:
        if watch.is_charge:
            past, slope = watch.past(here.here), here.slope(watch)
            if past < 0.0 < slope:
                soonest_s = min(soonest_s, -past / slope)
    return soonest_s + INSTANT_S / 2


def first_crossing(
    waiting: Sequence[Sequence[Watch]],
    now: Circumstances,
    before: Readings,
    after: Readings,
    span_s: float,
    step: Step,
    redo: Callable[[float], Step],
) -> Crossing | None:
    """
    Return the first level crossed within a step, None where there is none.

    Parameters
    ----------
    waiting : sequence of sequence of Watch
        What is waited for, by quantity.
    now : Circumstances
        What holds during the step.
    before, after : Readings
        At its beginning and at its end.
    span_s : float
        Its length. [s]
    step : Step
        The step itself.
    redo : callable
        Makes a shorter step from the same beginning.
    """
    search = _Search(now, before, redo)
    for together in waiting:
        for watch in together:
            if watch.past(before.here) < 0.0:
                search.look(watch, after, span_s, step)
                break
    if search.found is None:
        return None
    at_s, reached, there = search.found
    crossed = [watch for one in waiting for watch in one if watch.past(before.here) < 0.0 <= watch.past(there.here)]
    return Crossing(at_s, reached, there, tuple(crossed))


class _Search:
    """The search within a step: the earliest crossing so far."""

    __slots__ = ("_before", "_now", "_redo", "found")

    def __init__(self, now: Circumstances, before: Readings, redo: Callable[[float], Step]) -> None:
        self._now, self._before, self._redo = now, before, redo
        self.found: tuple[float, Step, Readings] | None = None

    def _at(self, step: Step) -> Readings:
        return Readings(self._now, step.state, step.rate)

    def look(self, watch: Watch, after: Readings, span_s: float, step: Step) -> None:
        """Take a watch's crossing where it is the earliest so far."""
        until_s, until, end = span_s, step, after
        if watch.past(after.here) < 0.0:
            if not (_is_near(watch, self._before) or _is_near(watch, after)):
                return
            turn_s = _turn_s(watch, self._before, after, until_s)
            if turn_s is None:
                return
            until_s, until = turn_s, self._redo(turn_s)
            end = self._at(until)
            if watch.past(end.here) < 0.0:
                return
        if self.found is not None and self.found[0] <= until_s:
            until_s, until, end = self.found
            if watch.past(end.here) < 0.0:
                return
        self.found = self._locate(watch, end, until_s, until)

    def _locate(self, watch: Watch, end: Readings, until_s: float, step: Step) -> tuple[float, Step, Readings]:
        """
        Close in on a crossing.

        The first guess is the cubic through both ends with their slopes, then Newton's rule by the slope found there, aimed
        half an instant beyond; between the nearest points known on either side, and halfway between them every third time.
        """
        low_s, high_s = 0.0, until_s
        past, slope = watch.past(end.here), end.slope(watch)
        ends = (watch.past(self._before.here), past, self._before.slope(watch), slope)
        at_s = until_s * _cubic_root(*ends, until_s) + INSTANT_S / 2
        for turn in range(1, _TRIES):
            if high_s - low_s <= INSTANT_S or past == 0.0 or (0.0 < past <= slope * INSTANT_S):
                break
            if not low_s < at_s < high_s or turn % 3 == 0:
                at_s = (low_s + high_s) / 2
            tried = self._redo(at_s)
            there = self._at(tried)
            past, slope = watch.past(there.here), there.slope(watch)
            if past >= 0.0:
                high_s, step, end = at_s, tried, there
            else:
                low_s = at_s
            at_s = at_s - past / slope + INSTANT_S / 2 if slope > 0.0 else low_s
        return high_s, step, end


def _is_near(watch: Watch, readings: Readings) -> bool:
    return watch.past(readings.here) >= -(_NEAR_RATIO if watch.is_charge else _NEAR_V)


def _turn_s(watch: Watch, before: Readings, after: Readings, span_s: float) -> float | None:
    """Where a quantity that came nearer and went away again was nearest, if that can be near enough to matter."""
    begin, end = watch.past(before.here), watch.past(after.here)
    rising, falling = before.slope(watch), after.slope(watch)
    if rising <= 0.0 or falling >= 0.0:
        return None
    nearest = min(begin + rising * span_s, end - falling * span_s)  # it lies below both tangents if it bends one way
    if nearest < 0.0:
        return None
    return span_s * rising / (rising - falling)


def _cubic_root(begin: float, end: float, rising: float, falling: float, span_s: float) -> float:
    """Return about where, from 0 to 1, the cubic with these ends and slopes is 0: below 0 at its beginning, above at its end."""
    first, last = rising * span_s, falling * span_s
    square, cube = 3 * (end - begin) - 2 * first - last, first + last - 2 * (end - begin)
    at = begin / (begin - end)
    for _ in range(_GUESSES):
        slope = first + at * (2 * square + at * 3 * cube)
        if slope <= 0.0:
            break
        at = min(1.0, max(0.0, at - (begin + at * (first + at * (square + at * cube))) / slope))
    return at
