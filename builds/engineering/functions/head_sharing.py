"""
What the driver of a shared head leaves its colours: all are lowered alike, so that what is lit at one moment takes the
head's maximum at most.

A driver shares the mean of its quick switching: a colour that is dimmed counts by its level, however the head dims.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from builds.engineering.functions.patterns import FlashPattern, FlashStep, most_together_ratio
from builds.engineering.functions.schedule import FunctionSchedule, Head
from builds.engineering.functions.vocabulary import EffectKind, HeadRule

__all__ = ["MOST_WAYS", "SharedHead", "shared_heads", "shared_ratio", "shares", "ways_together"]

MOST_WAYS = 2000  # every way in which the colours of a shared head meet is looked at by itself

Lit = tuple[tuple[FlashStep, ...], int, str, float]  # steps, phase, clock, current while lit


@dataclass(frozen=True, slots=True)
class SharedHead:
    """Numbers of a shared head's channels, in its order, and the most they may take together."""

    members: tuple[int, ...]
    max_current_a: float


def shares(head: Head) -> bool:
    """Return whether a head lowers its colours: it shares, and says what it may take."""
    return head.colours is HeadRule.SHARED and head.max_current_a > 0


def shared_heads(schedule: FunctionSchedule) -> tuple[SharedHead, ...]:
    """Return the heads of a schedule that lower their colours, in schedule order."""
    numbers = {channel.key: number for number, channel in enumerate(schedule.channels)}
    return tuple(
        SharedHead(tuple(numbers[channel] for channel in head.channels), head.max_current_a)
        for head in schedule.heads
        if shares(head)
    )


def shared_ratio(lit: Iterable[Lit], *, max_current_a: float) -> float:
    """
    Return what every lit colour of a shared head is lowered to.

    Parameters
    ----------
    lit : iterable of (steps, phase_ms, sync group, current_a)
        The colours that are lit, with what each takes while it is; no steps for a steady one.
    max_current_a : float
        The most the head may take, above 0. [A]

    Returns
    -------
    float
        A part of each colour's level, above 0; 1 where the maximum holds anyhow. [1]

    Examples
    --------
    >>> shared_ratio([((), 0, "", 4.0), ((), 0, "", 4.0)], max_current_a=6.0)
    0.75
    """
    together_a = most_together_ratio(
        tuple(
            (FlashPattern(key="shown", steps=steps) if steps else None, phase_ms, sync, current_a)
            for steps, phase_ms, sync, current_a in lit
        )
    )
    return min(1.0, max_current_a / together_a) if together_a else 1.0


def ways_together(schedule: FunctionSchedule) -> Iterator[tuple[Head, int]]:
    """Yield each head that lowers its colours with the number of ways in which they can meet, each dark or lit somehow."""
    members = {one.key: set(one.channels) for one in schedule.sets}
    for head in schedule.heads:
        if shares(head):
            ways = 1
            for channel in head.channels:
                rules = [
                    rule.effect
                    for rule in schedule.rules
                    if any(channel == target or channel in members.get(target, ()) for target in rule.targets)
                ]
                lights = {effect for effect in rules if effect.kind in (EffectKind.STEADY, EffectKind.FLASH)}
                ceilings = {effect.level_percent for effect in rules if effect.kind is EffectKind.DIM}
                ways *= 1 + len(lights) * (1 + len(ceilings))
            yield head, ways
