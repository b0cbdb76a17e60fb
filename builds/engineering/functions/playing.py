"""
A schedule played by hand: controls are worked, time passes, and what every channel does is told.

A play is a sequence of settings, each with how long it stood before the next change. The first had stood for a long time,
unless the play begins as the module wakes. Once no timer runs any more, what came before makes no difference, and the play begins anew with the setting that stands.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

from builds.engineering.errors import OutOfRange
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.evaluate import Outcome
from builds.engineering.functions.patterns import FlashPattern, level_at
from builds.engineering.functions.reachable import Trace
from builds.engineering.functions.running import Run
from builds.engineering.functions.settings import AT_REST, Setting

__all__ = ["MOST_ACTS", "Act", "Played", "levels_at", "moments_of", "play", "play_of_trace"]

MOST_ACTS = 24
_LONG_MS = 48 * 3600 * 1000  # two timers of the longest kind one after the other
_MOST_EVENTS = 500


@dataclass(frozen=True, slots=True)
class Act:
    """The inputs stand at a setting for ``stood_ms``; what the first act of a play says of it counts after waking only."""

    setting: Setting
    stood_ms: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """
    Where a play has come to.

    ``setting`` has buttons that were let go off; ``next_ms`` says how long until a timer runs out, None where none runs.
    ``acts`` is the play shortened to what still matters, ``woken`` whether it begins as the module wakes.
    """

    setting: Setting
    outcomes: tuple[Outcome, ...]
    next_ms: int | None
    acts: tuple[Act, ...]
    woken: bool = False


def play(compiled: CompiledSchedule, acts: Sequence[Act], *, woken: bool = False) -> Played:
    """
    Return where a sequence of settings leads.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    acts : sequence of Act
        One or more.
    woken : bool, default False
        Whether the module wakes at the first of them, so that delays start there; else it has stood for a long time.

    Raises
    ------
    OutOfRange
        If there are none, or more than a play keeps.
    """
    if not 1 <= len(acts) <= MOST_ACTS:
        raise OutOfRange("acts", len(acts), f"from 1 to {MOST_ACTS}")
    if woken:
        run = Run.wake(compiled, acts[0].setting)
        run.advance(min(acts[0].stood_ms, _LONG_MS))
    else:
        run = _settled(compiled, acts[0].setting)
    for act in acts[1:]:
        run.set(act.setting)
        run.advance(run.now_ms + min(act.stood_ms, _LONG_MS))
    due_ms = run.next_event_ms()
    kept = tuple(acts) if due_ms is not None else (Act(run.setting),)
    return Played(
        setting=run.setting,
        outcomes=run.outcomes(),
        next_ms=None if due_ms is None else due_ms - run.now_ms,
        acts=kept,
        woken=woken and due_ms is not None,
    )


def _settled(compiled: CompiledSchedule, setting: Setting) -> Run:
    run = Run.wake(compiled, setting)
    for _ in range(_MOST_EVENTS):
        due_ms = run.next_event_ms()
        if due_ms is None:
            break
        run.advance(due_ms)
    return run


def play_of_trace(trace: Trace) -> tuple[Act, ...]:
    """Return a sequence that a proof found as a play that begins as the module wakes at rest; its end is what it shows."""
    starts = [0, *(step.at_ms for step in trace.steps)]
    ends = [*starts[1:], trace.look_ms]
    settings = [AT_REST, *(step.setting for step in trace.steps)]
    acts = tuple(Act(one, end - start) for one, start, end in zip(settings, starts, ends, strict=True))
    return acts[1:] if acts[0].stood_ms == 0 and len(acts) > MOST_ACTS else acts[:MOST_ACTS]


def moments_of(outcomes: Iterable[Outcome], *, most: int) -> tuple[int, ...]:
    """
    Return the first moments at which any flashing channel changes, from 0, on the clock they all keep.

    Parameters
    ----------
    outcomes : iterable of Outcome
        What the channels do.
    most : int
        How many at most.

    Returns
    -------
    tuple of int
        Milliseconds, rising; one alone where nothing flashes.
    """
    flashing = {(outcome.shows.steps, outcome.shows.phase_ms) for outcome in outcomes if outcome.shows.steps}
    if not flashing:
        return (0,)
    period_ms = max(sum(step.duration_ms for step in steps) for steps, _ in flashing)
    found: set[int] = {0}
    rounds = 1
    while len(found) < most and rounds <= most:
        found |= {at for steps, phase_ms in flashing for at in _changes(steps, phase_ms, rounds * period_ms)}
        rounds += 1
    return tuple(islice(sorted(found), most))


def _changes(steps: tuple[object, ...], phase_ms: int, until_ms: int) -> Iterator[int]:
    pattern = FlashPattern(key="shown", steps=steps)  # type: ignore[arg-type]
    at_ms = phase_ms % pattern.period_ms - pattern.period_ms
    while at_ms < until_ms:
        for step in pattern.steps:
            if 0 <= at_ms < until_ms:
                yield at_ms
            at_ms += step.duration_ms


def levels_at(outcomes: Iterable[Outcome], *, at_ms: int) -> tuple[int, ...]:
    """Return how bright every channel is at a moment of the clock, in percent; one per outcome, in order."""
    return tuple(_level(outcome, at_ms) for outcome in outcomes)


def _level(outcome: Outcome, at_ms: int) -> int:
    shows = outcome.shows
    if not shows.steps:
        return round(shows.level_percent)
    pattern = FlashPattern(key="shown", steps=shows.steps)
    return int(shows.level_percent * level_at(pattern, at_ms=at_ms, phase_ms=shows.phase_ms) // 100)
