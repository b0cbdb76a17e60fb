"""Inputs nobody reads, blinking wires and wavering figures, timers that chatter, channels switched in their way back."""

from collections.abc import Iterable, Iterator

from builds.engineering.findings import Finding, Number
from builds.engineering.functions.catalogue import found
from builds.engineering.functions.compiled import CompiledSchedule, input_literal
from builds.engineering.functions.conditions import (
    After,
    Condition,
    ForAtLeast,
    ForAtMost,
    InputIs,
    children,
    leaves,
)
from builds.engineering.functions.gates import FALSE, TRUE
from builds.engineering.functions.printing import print_condition, print_duration, print_name, print_title
from builds.engineering.functions.proof import SpaceInUse
from builds.engineering.functions.schedule import Input, WireSource
from builds.engineering.functions.vocabulary import LOST, ON, InputKind, SwitchedSide
from builds.engineering.functions.words import listed

__all__ = ["LONGEST_DARK_MS", "check_channels", "check_inputs", "check_timers", "restless"]

# A flasher at 60 a minute that is lit for 30 % of its cycle: both ends of the range are from memory, to be edited.
LONGEST_DARK_MS = 700


def restless(part: Input) -> bool:
    """Return whether an input goes on and off by itself: it blinks, or tells of a figure at its limit, and is not held."""
    if isinstance(part.source, WireSource) and part.source.blinking:
        return part.hold_ms is None or part.hold_ms < LONGEST_DARK_MS
    return part.means.is_threshold and part.hold_ms is None


def check_inputs(compiled: CompiledSchedule) -> Iterator[Finding]:
    """Yield what is to be said of inputs by themselves."""
    readers = _readers(compiled)
    for part in compiled.schedule.inputs:
        subject, name = f"input:{part.key}", print_name(part.key)
        if not readers[part.key] and not _is_let_go(compiled, part):
            yield found("input-unread", subject, input=name)
        if part.kind is InputKind.SIGNAL and part.source is None:
            yield found("input-without-source", subject, input=name)
        if restless(part):
            yield from _restless(part, readers[part.key])


def _restless(part: Input, readers: list[str]) -> Iterator[Finding]:
    subject, name = f"input:{part.key}", print_name(part.key)
    if isinstance(part.source, WireSource) and part.source.blinking:
        hold = "without holding it" if part.hold_ms is None else f"and holds it for {print_duration(part.hold_ms)}"
        numbers = (Number(name="dark", value=float(LONGEST_DARK_MS), unit="ms"),)
        dark = print_duration(LONGEST_DARK_MS)
        yield found("blinking-without-hold", subject, numbers=numbers, input=name, hold=hold, dark=dark)
    elif readers:
        words = ("rule " if len(readers) == 1 else "rules ") + listed(map(print_name, readers))
        yield found(
            "input-wavers", subject, input=name, rules=words, follow="follows" if len(readers) == 1 else "follow"
        )


def _readers(compiled: CompiledSchedule) -> dict[str, list[str]]:
    """By input, the rules that read it."""
    readers: dict[str, list[str]] = {part.key: [] for part in compiled.schedule.inputs}
    for rule in compiled.schedule.rules:
        for name in dict.fromkeys(leaf.input for leaf in leaves(rule.condition) if isinstance(leaf, InputIs)):
            readers[name].append(rule.key)
    return readers


def _is_let_go(compiled: CompiledSchedule, part: Input) -> bool:
    return any(compiled.schedule.inputs[latch].key == part.key for _, latch in compiled.releases)


def check_channels(compiled: CompiledSchedule, load_keys: Iterable[str] | None) -> Iterator[Finding]:
    """Yield what is to be said of channels by themselves; ``load_keys`` are the loads of the design, where it is known."""
    known = None if load_keys is None else set(load_keys)
    for channel in compiled.schedule.channels:
        subject, name = f"channel:{channel.key}", print_name(channel.key)
        if channel.side is SwitchedSide.LOW:
            yield found("channel-low-side", subject, channel=name)
        if known is not None and channel.load and channel.load not in known:
            yield found("channel-load-missing", subject, channel=name, load=channel.load)


def check_timers(spaces: SpaceInUse) -> Iterator[Finding]:
    """Yield a finding for every timer of a rule that a restless input starts anew by itself."""
    compiled = spaces.compiled
    unsteady = [(number, part) for number, part in enumerate(compiled.schedule.inputs) if restless(part)]
    for rule in compiled.schedule.rules:
        for timer in dict.fromkeys(_timers(rule.condition)):
            names = {leaf.input for leaf in leaves(timer) if isinstance(leaf, InputIs)}
            for number, part in unsteady:
                if part.key in names and _can_restart(spaces, timer, number):
                    yield found(
                        "timer-chatters",
                        f"rule:{rule.key}",
                        rule=print_title(rule.key),
                        timer=print_condition(timer),
                        input=print_name(part.key),
                    )


def _timers(condition: Condition) -> Iterator[ForAtLeast | ForAtMost | After]:
    if isinstance(condition, ForAtLeast | ForAtMost | After):
        yield condition
    for part in children(condition):
        yield from _timers(part)


def _can_restart(spaces: SpaceInUse, timer: ForAtLeast | ForAtMost | After, number: int) -> bool:
    """Whether, everything else standing still, the input going on and off turns what the timer watches on and off."""
    compiled = spaces.compiled
    by_key = compiled.reads
    watched = input_literal(compiled.gates, by_key, timer.term, surely=True)
    own = compiled.leaves[number]
    on = compiled.gates.replaced(watched, {own.literal(LOST): FALSE, own.literal(ON): TRUE})
    off = compiled.gates.replaced(watched, {own.literal(LOST): FALSE, own.literal(ON): FALSE})
    gates = compiled.gates
    changes = gates.any_of((gates.all_of((on, -off)), gates.all_of((-on, off))))
    return changes != FALSE and spaces.space().some([changes])
