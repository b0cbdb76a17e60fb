"""
What lamps that flash take together: mean, heat and peak, in step and out of step.

Lamps that share a clock are added moment by moment. What shares none may meet anyhow: its peaks add, and so do the roots of
its mean squares, which is the most that the sum can come to. **Mean** is for source and battery, **heat** (the root of the
mean square, over the worst window where a round is longer than the window) for fuse and conductor, **peak** for drop and
switching. A lamp that can be held on is sized as held on.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from builds.engineering.errors import OutOfRange
from builds.engineering.functions.patterns import FlashPattern, level_at
from builds.engineering.functions.vocabulary import DimMethod
from builds.engineering.ranges import check_at_least, check_count, check_within

__all__ = ["HEAT_WINDOW_MS", "FlashSum", "FlashingLoad", "flash_sum", "lit_ratio", "moments_of"]

# A fuse averages over about two seconds: common practice, no published source.
HEAT_WINDOW_MS = 2000
_LONGEST_ROUND_MS = 600_000
_MOST_EDGES = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class FlashingLoad:
    """
    A lamp: its full current, the pattern it shows (None is steady), how far it is dimmed and by which means.

    Lamps of one ``sync`` keep step, ``phase_ms`` after their clock; an empty one keeps step with nothing.
    """

    current_a: float
    pattern: FlashPattern | None = None
    phase_ms: int = 0
    sync: str = ""
    level_percent: int = 100
    dims_by: DimMethod = DimMethod.CURRENT
    can_be_steady: bool = False

    def __post_init__(self) -> None:
        check_at_least("current_a", self.current_a, 0.0)
        check_count("level_percent", self.level_percent, least=0)
        check_within("level_percent", self.level_percent, 0, 100)


@dataclass(frozen=True, slots=True, kw_only=True)
class FlashSum:
    """
    Currents of several lamps in one conductor.

    ``rms_a`` is over whole rounds, ``heat_a`` over the worst window where a round is longer than that, ``sizing_a`` the
    same with everything on that can be held on.
    """

    mean_a: float
    rms_a: float
    heat_a: float
    peak_a: float
    sizing_a: float


@dataclass(frozen=True, slots=True)
class _Wave:
    """A round of what keeps step: how long each stretch is, its mean, its mean square and its peak."""

    spans_ms: tuple[int, ...]
    mean_a: tuple[float, ...]
    square_a2: tuple[float, ...]
    peak_a: tuple[float, ...]

    @property
    def round_ms(self) -> int:
        return sum(self.spans_ms)

    def over_round(self, figures: Sequence[float]) -> float:
        return sum(span * figure for span, figure in zip(self.spans_ms, figures, strict=True)) / self.round_ms


def flash_sum(loads: Sequence[FlashingLoad], *, window_ms: int = HEAT_WINDOW_MS) -> FlashSum:
    """
    Return the currents of lamps that are on together.

    Parameters
    ----------
    loads : sequence of FlashingLoad
        In any order.
    window_ms : int, default 2000
        What a fuse averages over; rounds up to this long count by their mean square.

    Returns
    -------
    FlashSum
        Exact where all that flashes shares a clock; else ``rms_a``, ``heat_a``, ``peak_a`` and ``sizing_a`` are the most
        they can be, however the clocks drift.

    Raises
    ------
    OutOfRange
        If a clock's patterns come round together only after ten minutes.

    Examples
    --------
    >>> from builds.engineering.functions.patterns import FlashStep
    >>> blink = FlashPattern(key="b", steps=(FlashStep(duration_ms=300), FlashStep(duration_ms=300, level_percent=0)))
    >>> turns = [FlashingLoad(current_a=6.0, pattern=blink, phase_ms=ms, sync="bar") for ms in (0, 300)]
    >>> flash_sum(turns)
    FlashSum(mean_a=6.0, rms_a=6.0, heat_a=6.0, peak_a=6.0, sizing_a=6.0)
    >>> apart = flash_sum([FlashingLoad(current_a=6.0, pattern=blink) for _ in range(2)])
    >>> apart.mean_a, apart.peak_a, round(apart.rms_a, 3)
    (6.0, 12.0, 8.485)
    """
    check_count("window_ms", window_ms, least=1)
    waves = [_wave(group) for group in _in_step(loads)]
    held = [_wave(group) for group in _in_step([_held_on(load) for load in loads])]
    return FlashSum(
        mean_a=sum(wave.over_round(wave.mean_a) for wave in waves),
        rms_a=sum(math.sqrt(wave.over_round(wave.square_a2)) for wave in waves),
        heat_a=sum(math.sqrt(_worst_square_a2(wave, window_ms)) for wave in waves),
        peak_a=sum(max(wave.peak_a) for wave in waves),
        sizing_a=sum(math.sqrt(_worst_square_a2(wave, window_ms)) for wave in held),
    )


def lit_ratio(load: FlashingLoad, shown_percent: int) -> float:
    """
    Return what part of a lamp's current flows while it shows a step, at the height of its pulses.

    Parameters
    ----------
    load : FlashingLoad
        A lamp with its dimming.
    shown_percent : int
        Level of the step, 0 to 100. [%]

    Returns
    -------
    float
        The level where it dims by current; 1 where it dims by pulse width and is lit at all. [1]

    Examples
    --------
    >>> half = FlashingLoad(current_a=2.0, level_percent=50)
    >>> lit_ratio(half, 100)
    0.5
    """
    level = shown_percent * load.level_percent / 10_000
    return level if load.dims_by is DimMethod.CURRENT else float(level > 0)


def moments_of(loads: Sequence[FlashingLoad]) -> Iterator[tuple[float, ...]]:
    """
    Yield what each lamp of one clock takes in every stretch of their common round in which none of them changes.

    Parameters
    ----------
    loads : sequence of FlashingLoad
        Lamps that keep step with one another, each with a pattern.

    Yields
    ------
    tuple of float
        One current per lamp, in the same order, at the height of its pulses. [A]

    Raises
    ------
    OutOfRange
        If their patterns come round together only after ten minutes.

    Examples
    --------
    >>> from builds.engineering.functions.patterns import FlashStep
    >>> blink = FlashPattern(key="b", steps=(FlashStep(duration_ms=300), FlashStep(duration_ms=300, level_percent=0)))
    >>> turns = [FlashingLoad(current_a=6.0, pattern=blink, phase_ms=ms, sync="bar") for ms in (0, 300)]
    >>> list(moments_of(turns))
    [(6.0, 0.0), (0.0, 6.0)]
    """
    for start_ms in _round_edges(loads)[:-1]:
        yield tuple(load.current_a * lit_ratio(load, _shown_percent(load, start_ms)) for load in loads)


def _shown_percent(load: FlashingLoad, at_ms: int) -> int:
    return 100 if load.pattern is None else level_at(load.pattern, at_ms=at_ms, phase_ms=load.phase_ms)


def _held_on(load: FlashingLoad) -> FlashingLoad:
    return FlashingLoad(current_a=load.current_a) if load.can_be_steady else load


def _in_step(loads: Sequence[FlashingLoad]) -> Iterator[list[FlashingLoad]]:
    """What shares a clock, each lamp without one by itself; what is steady goes with the first, where it is exact."""
    steady = [load for load in loads if load.pattern is None]
    clocks: dict[object, list[FlashingLoad]] = {}
    for place, load in enumerate(loads):
        if load.pattern is not None:
            clocks.setdefault(load.sync or place, []).append(load)
    groups = list(clocks.values())
    if steady:
        groups[:1] = [steady + (groups[0] if groups else [])]
    yield from groups


def _wave(group: Sequence[FlashingLoad]) -> _Wave:
    edges = _round_edges(group)
    stretches = [_stretch(group, start_ms) for start_ms in edges[:-1]]
    mean_a, square_a2, peak_a = zip(*stretches, strict=True)
    return _Wave(tuple(later - start for start, later in pairwise(edges)), mean_a, square_a2, peak_a)


def _round_edges(group: Sequence[FlashingLoad]) -> list[int]:
    """Where something changes in the round of a clock, its start and its end included."""
    patterns = [load.pattern for load in group if load.pattern is not None]
    round_ms = math.lcm(*(pattern.period_ms for pattern in patterns)) if patterns else 1
    edges = sorted(_edges(group, round_ms)) if round_ms <= _LONGEST_ROUND_MS else []
    if not edges or len(edges) > _MOST_EDGES:
        keys = ", ".join(sorted({pattern.key for pattern in patterns}))
        raise OutOfRange("patterns of one clock", keys, "such that they come round together within ten minutes")
    return edges


def _edges(group: Sequence[FlashingLoad], round_ms: int) -> set[int]:
    edges = {0, round_ms}
    for load in group:
        if load.pattern is None:
            continue
        start_ms = load.phase_ms % load.pattern.period_ms - load.pattern.period_ms
        while start_ms < round_ms and len(edges) <= _MOST_EDGES:
            for step in load.pattern.steps:
                if 0 < start_ms < round_ms:
                    edges.add(start_ms)
                start_ms += step.duration_ms
    return edges


def _stretch(group: Sequence[FlashingLoad], at_ms: int) -> tuple[float, float, float]:
    """Mean, mean square and peak of a stretch in which no lamp changes; quick pulses are taken to fall together."""
    steady_a, pulses = 0.0, []
    for load in group:
        level = _shown_percent(load, at_ms) * load.level_percent / 10_000
        if load.dims_by is DimMethod.CURRENT or level in (0.0, 1.0):
            steady_a += load.current_a * level
        else:
            pulses.append((level, load.current_a))
    mean_a, square_a2, before = steady_a, 0.0, 0.0
    lit_a = steady_a + sum(current_a for _, current_a in pulses)
    peak_a = lit_a
    for level, current_a in sorted(pulses):  # all start together and end one after the other
        square_a2 += (level - before) * lit_a**2
        mean_a += level * current_a
        lit_a, before = lit_a - current_a, level
    return mean_a, square_a2 + (1.0 - before) * steady_a**2, peak_a


def _worst_square_a2(wave: _Wave, window_ms: int) -> float:
    """The largest mean square over any window, which begins or ends where something changes; over a round if that is short."""
    round_ms = wave.round_ms
    if round_ms <= window_ms or len(wave.spans_ms) == 1:
        return wave.over_round(wave.square_a2)
    starts = [0]
    sums = [0.0]
    for span, square in zip(wave.spans_ms * 2, wave.square_a2 * 2, strict=True):
        starts.append(starts[-1] + span)
        sums.append(sums[-1] + span * square)
    edges = starts[: len(wave.spans_ms)]
    begins = edges + [(edge - window_ms) % round_ms for edge in edges]
    return max(_until(starts, sums, begin + window_ms) - _until(starts, sums, begin) for begin in begins) / window_ms


def _until(starts: list[int], sums: list[float], at_ms: int) -> float:
    """The sum of squares up to a moment."""
    place = next(place for place, start in enumerate(starts) if start >= at_ms)
    if place == 0:
        return 0.0
    span = starts[place] - starts[place - 1]
    return sums[place] - (sums[place] - sums[place - 1]) * (starts[place] - at_ms) / span
