"""
Flash patterns as timed steps, and the rates people quote of them.

Duty, flash rate and pulse rate are three figures. A quick burst of pulses is seen as one flash: four pulses within 255 ms
and then 745 ms of dark are 60 flashes a minute, with 15.7 pulses a second inside the burst.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from builds.engineering.errors import OutOfRange, UnknownTableEntry
from builds.engineering.ranges import check_count, check_key
from builds.engineering.tables.loader import load_table

__all__ = [
    "FUSION_GAP_MS",
    "FlashFigures",
    "FlashLimit",
    "FlashPattern",
    "FlashStep",
    "flash_figures",
    "flash_limit",
    "flash_limit_names",
    "level_at",
    "most_together_ratio",
]

# Darkness up to this long does not part two flashes (8 a second): common practice, no published source.
FUSION_GAP_MS = 125
_MAX_STEP_MS = 10_000
_MAX_STEPS = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class FlashStep:
    """One step of a pattern: how bright, 0 for dark, and how long."""

    duration_ms: int
    level_percent: int = 100

    def __post_init__(self) -> None:
        if not isinstance(self.duration_ms, int) or not 1 <= self.duration_ms <= _MAX_STEP_MS:
            raise OutOfRange("duration_ms", self.duration_ms, "from 1 ms to 10 s")
        check_count("level_percent", self.level_percent, least=0, most=100)


@dataclass(frozen=True, slots=True, kw_only=True)
class FlashPattern:
    """Timed steps that repeat; at least one lit and one dark. ``limit`` names the rates it has to keep to."""

    key: str
    steps: tuple[FlashStep, ...]
    limit: str = ""

    def __post_init__(self) -> None:
        check_key("key", self.key)
        check_count("steps", len(self.steps), least=2, most=_MAX_STEPS)
        lit = [step.level_percent > 0 for step in self.steps]
        if all(lit) or not any(lit):
            raise OutOfRange("lights", "never dark" if all(lit) else "never lit", "at least one lit and one dark step")

    @property
    def period_ms(self) -> int:
        """How long one round takes."""
        return sum(step.duration_ms for step in self.steps)


@dataclass(frozen=True, slots=True, kw_only=True)
class FlashFigures:
    """
    What a pattern comes to.

    ``duty_ratio`` is the lit part of the time, a dimmed step counted by its level. A flash is a pulse, or several that no
    gap longer than the fusion gap parts. ``pulse_rate_hz`` is the rate inside a burst, None where every flash is one
    pulse. ``slowest`` and ``fastest`` are the rates of its longest and shortest stretch from flash to flash: they differ
    where flashes follow one another unevenly.
    """

    period_ms: int
    duty_ratio: float
    flashes_per_min: float
    pulses_per_min: float
    pulse_rate_hz: float | None
    slowest_per_min: float
    fastest_per_min: float

    @property
    def is_even(self) -> bool:
        """Whether flashes follow one another at one rate."""
        return self.slowest_per_min == self.fastest_per_min


@dataclass(frozen=True, slots=True, kw_only=True)
class FlashLimit:
    """Rates that a standard or a buyer allows, both ends included."""

    key: str
    use: str
    least_per_min: float
    most_per_min: float
    source: str
    status: str


def flash_figures(pattern: FlashPattern) -> FlashFigures:
    """
    Return duty and rates of a pattern.

    Parameters
    ----------
    pattern : FlashPattern
        Timed steps.

    Returns
    -------
    FlashFigures
        Flash rate, duty and pulse rate apart.

    Examples
    --------
    >>> def steps(*durations):
    ...     return tuple(
    ...         FlashStep(duration_ms=ms, level_percent=0 if number % 2 else 100) for number, ms in enumerate(durations)
    ...     )
    >>> figures = flash_figures(FlashPattern(key="uneven", steps=steps(200, 250, 200, 250, 200, 850)))
    >>> round(figures.flashes_per_min, 2), round(figures.duty_ratio, 4), figures.is_even
    (92.31, 0.3077, False)

    References
    ----------
    .. [1] NHTSA interpretation letters GF006498 (the uneven pattern) and nht94-2.4 (the burst seen as one flash).
    """
    pulses = _pulses(pattern)
    flashes = _flashes(pulses, pattern.period_ms)
    starts = [flash[0][0] for flash in flashes]
    gaps_ms = [later - start for start, later in zip(starts, [*starts[1:], starts[0] + pattern.period_ms], strict=True)]
    per_min = 60_000 / pattern.period_ms
    return FlashFigures(
        period_ms=pattern.period_ms,
        duty_ratio=sum(step.duration_ms * step.level_percent for step in pattern.steps) / (100 * pattern.period_ms),
        flashes_per_min=len(flashes) * per_min,
        pulses_per_min=len(pulses) * per_min,
        pulse_rate_hz=max(filter(None, map(_burst_rate_hz, flashes)), default=None),
        slowest_per_min=60_000 / max(gaps_ms),
        fastest_per_min=60_000 / min(gaps_ms),
    )


def _pulses(pattern: FlashPattern) -> list[tuple[int, int]]:
    """Start and end of each lit stretch, the first one starting after a dark step; ends may pass the period."""
    steps = pattern.steps
    first = next(i for i, step in enumerate(steps) if step.level_percent and not steps[i - 1].level_percent)
    pulses: list[tuple[int, int]] = []
    now_ms = sum(step.duration_ms for step in steps[:first])
    was_lit = False
    for step in steps[first:] + steps[:first]:
        if step.level_percent:
            start_ms = pulses.pop()[0] if was_lit else now_ms
            pulses.append((start_ms, now_ms + step.duration_ms))
        was_lit = step.level_percent > 0
        now_ms += step.duration_ms
    return pulses


def _flashes(pulses: list[tuple[int, int]], period_ms: int) -> list[list[tuple[int, int]]]:
    """Pulses grouped where no long darkness parts them, round the end of the period too."""
    flashes = [[pulses[0]]]
    for pulse in pulses[1:]:
        if pulse[0] - flashes[-1][-1][1] > FUSION_GAP_MS:
            flashes.append([pulse])
        else:
            flashes[-1].append(pulse)
    wraps = pulses[0][0] + period_ms - pulses[-1][1] <= FUSION_GAP_MS
    if wraps and len(flashes) > 1:
        last = flashes.pop()
        flashes[0] = [(start - period_ms, end - period_ms) for start, end in last] + flashes[0]
    return flashes


def _burst_rate_hz(flash: list[tuple[int, int]]) -> float | None:
    if len(flash) == 1:
        return None
    return len(flash) * 1000 / (flash[-1][1] - flash[0][0])


def level_at(pattern: FlashPattern, *, at_ms: int, phase_ms: int = 0) -> int:
    """
    Return how bright a pattern is at a moment of its sync group's clock.

    Parameters
    ----------
    pattern : FlashPattern
        Timed steps.
    at_ms : int
        The group's clock.
    phase_ms : int, default 0
        How much later than its group this one starts.

    Returns
    -------
    int
        Level in percent, 0 for dark.
    """
    place_ms = (at_ms - phase_ms) % pattern.period_ms
    for step in pattern.steps:
        if place_ms < step.duration_ms:
            return step.level_percent
        place_ms -= step.duration_ms
    raise AssertionError("a place within the period lies in one of its steps")


def most_together_ratio(lit: tuple[tuple[FlashPattern | None, int, str, float], ...]) -> float:
    """
    Return the largest sum of weights that is lit at one moment.

    Parameters
    ----------
    lit : tuple of (pattern, phase_ms, sync group, weight)
        A pattern of None is steady. Patterns of one sync group and one period keep step; all others may meet anyhow.

    Returns
    -------
    float
        At most the sum of all weights; in the weights' own unit.

    Examples
    --------
    >>> blink = FlashPattern(key="b", steps=(FlashStep(duration_ms=250), FlashStep(duration_ms=250, level_percent=0)))
    >>> most_together_ratio(((blink, 0, "all", 2.0), (blink, 250, "all", 3.0)))
    3.0
    >>> most_together_ratio(((blink, 0, "", 2.0), (blink, 250, "", 3.0)))
    5.0
    """
    total = 0.0
    for group in _in_step(lit):
        total += max(
            sum(weight for pattern, phase_ms, _, weight in group if _is_lit(pattern, moment_ms, phase_ms))
            for moment_ms in _starts(group)
        )
    return total


def _in_step(
    lit: tuple[tuple[FlashPattern | None, int, str, float], ...],
) -> Iterator[list[tuple[FlashPattern | None, int, str, float]]]:
    groups: dict[tuple[str, int, int], list[tuple[FlashPattern | None, int, str, float]]] = {}
    for number, member in enumerate(lit):
        pattern, _, sync, _ = member
        keeps_step = pattern is not None and sync
        key = (sync, pattern.period_ms, 0) if keeps_step and pattern is not None else ("", 0, number + 1)
        groups.setdefault(key, []).append(member)
    yield from groups.values()


def _is_lit(pattern: FlashPattern | None, moment_ms: int, phase_ms: int) -> bool:
    return pattern is None or level_at(pattern, at_ms=moment_ms, phase_ms=phase_ms) > 0


def _starts(group: list[tuple[FlashPattern | None, int, str, float]]) -> set[int]:
    """Moments at which something of the group lights up: the most is lit at one of them."""
    moments = {0}
    for pattern, phase_ms, _, _ in group:
        if pattern is not None:
            moments |= {start + phase_ms for start, _ in _pulses(pattern)}
    return moments


@cache
def _limits() -> dict[str, FlashLimit]:
    return {
        row["limit"]: FlashLimit(
            key=row["limit"],
            use=row["use"],
            least_per_min=float(row["least_per_min"]),
            most_per_min=float(row["most_per_min"]),
            source=row["source"],
            status=row["status"],
        )
        for row in load_table("flash_rate_limits").rows
    }


def flash_limit_names() -> tuple[str, ...]:
    """Return the names of the table of flash rate limits."""
    return tuple(_limits())


def flash_limit(key: str) -> FlashLimit:
    """
    Return the rates a standard or specification allows.

    Parameters
    ----------
    key : str
        Its name in the table of flash rate limits.

    Returns
    -------
    FlashLimit
        Both ends, where they are from, and how far that can be relied on.

    Raises
    ------
    UnknownTableEntry
        If the table has no such limit.
    """
    limits = _limits()
    if key not in limits:
        raise UnknownTableEntry("The table of flash rate limits", key, ", ".join(limits))
    return limits[key]
