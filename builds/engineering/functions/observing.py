"""
Where somebody looking at the outputs can tell whether a rule holds.

A rule is observed on a channel where the channel would show something else if the rule held instead of not holding, or
the other way round, everything else being as it is.
"""

from collections.abc import Iterator
from dataclasses import replace

from builds.engineering.functions.appearances import (
    Appearance,
    ChannelLogic,
    appearance_of,
    channel_logics,
    differ,
    shared_heads_of,
    shared_logics,
    shown_undriven,
)
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.gates import FALSE, TRUE, Literal
from builds.engineering.functions.head_sharing import SharedHead
from builds.engineering.functions.vocabulary import EffectKind

__all__ = ["observed_literals"]

Ceiling = tuple[int, Literal]


def observed_literals(compiled: CompiledSchedule) -> tuple[Literal, ...]:
    """Return for each rule where some channel tells whether it holds; a release tells nothing by itself."""
    gates = compiled.gates
    observed: list[list[Literal]] = [[] for _ in compiled.holds]
    shared = {member for head in shared_heads_of(compiled) for member in head.members}
    for head in shared_heads_of(compiled):
        for rule, literal in _on_shared_head(compiled, head):
            observed[rule].append(literal)
    for channel, logic in enumerate(channel_logics(compiled)):
        if channel in shared:
            continue
        for rule, literal in _on_channel(compiled, channel, logic):
            observed[rule].append(literal)
    return tuple(gates.any_of(literals) for literals in observed)


def _on_shared_head(compiled: CompiledSchedule, head: SharedHead) -> Iterator[tuple[int, Literal]]:
    """A rule is observed where some colour of the head would look otherwise with it than without: one lowers all."""
    gates = compiled.gates
    meeting = {
        rule
        for member in head.members
        for layer in (compiled.channels[member].drives, compiled.channels[member].cuts, compiled.channels[member].dims)
        for rule in layer
    }
    for rule in sorted(meeting):
        holding = [
            replace(compiled, holds=(*compiled.holds[:rule], constant, *compiled.holds[rule + 1 :]))
            for constant in (TRUE, FALSE)
        ]
        with_it, without_it = (shared_logics(one, head) for one in holding)
        pairs = zip(with_it, without_it, strict=True)
        yield rule, gates.any_of(differ(gates, one.shows, other.shows) for one, other in pairs)


def _on_channel(compiled: CompiledSchedule, channel: int, logic: ChannelLogic) -> Iterator[tuple[int, Literal]]:
    rules, undriven = compiled.channels[channel], shown_undriven(compiled.schedule.channels[channel].job)
    gates = compiled.gates
    ceilings = _ceilings(compiled, logic)
    shown = gates.all_of((-logic.cut, -logic.displaced))
    none_above: Literal = TRUE
    for place, rule in enumerate(rules.drives):
        changed = [
            gates.all_of((dimmed, _differs(compiled, rules.drives[place:], ceiling, undriven)))
            for ceiling, dimmed in ceilings
        ]
        yield rule, gates.all_of((none_above, shown, gates.any_of(changed)))
        none_above = gates.all_of((none_above, -compiled.holds[rule]))
    yield from _cuts(compiled, channel, logic, undriven)
    yield from _dims(compiled, channel, logic)


def _ceilings(compiled: CompiledSchedule, logic: ChannelLogic) -> list[Ceiling]:
    undimmed = compiled.gates.all_of(-win for _, win in logic.dims)
    rules = compiled.schedule.rules
    return [(100, undimmed), *((rules[rule].effect.level_percent, win) for rule, win in logic.dims)]


def _differs(compiled: CompiledSchedule, ranked: tuple[int, ...], ceiling: int, undriven: Appearance) -> Literal:
    """Where the first rule of these shows something else than what shows without it, under a ceiling."""
    first, *below = (appearance_of(compiled, compiled.schedule.rules[rule].effect, ceiling) for rule in ranked)
    differs: Literal = FALSE if undriven == first else TRUE
    for rule, look in zip(reversed(ranked[1:]), reversed(below), strict=True):
        holds = compiled.holds[rule]
        differs = compiled.gates.any_of((holds, differs)) if look != first else compiled.gates.all_of((-holds, differs))
    return differs


def _cuts(
    compiled: CompiledSchedule, channel: int, logic: ChannelLogic, undriven: Appearance
) -> Iterator[tuple[int, Literal]]:
    """An inhibit is observed where it alone cuts a channel that would show something."""
    gates, cuts = compiled.gates, compiled.channels[channel].cuts
    rules = compiled.schedule.rules
    showing = gates.any_of(
        win for rule, win in logic.wins if appearance_of(compiled, rules[rule].effect, 100) != undriven
    )
    for rule in cuts:
        others = [-compiled.holds[other] for other in cuts if other != rule]
        yield rule, gates.all_of((*others, -logic.displaced, showing))


def _dims(compiled: CompiledSchedule, channel: int, logic: ChannelLogic) -> Iterator[tuple[int, Literal]]:
    """A dim is observed where it sets the ceiling of something lit that would be brighter or darker without it."""
    gates, rules = compiled.gates, compiled.schedule.rules
    dims = compiled.channels[channel].dims
    none_above: Literal = TRUE
    for place, rule in enumerate(dims):
        level = rules[rule].effect.level_percent
        changed = []
        for drive, win in logic.wins:
            effect = rules[drive].effect
            if effect.kind in (EffectKind.STEADY, EffectKind.FLASH):
                changed.append(
                    gates.all_of((win, _level_changes(compiled, dims[place + 1 :], effect.level_percent, level)))
                )
        yield rule, gates.all_of((none_above, logic.lit, gates.any_of(changed)))
        none_above = gates.all_of((none_above, -compiled.holds[rule]))


def _level_changes(compiled: CompiledSchedule, below: tuple[int, ...], own: int, ceiling: int) -> Literal:
    """Where something of its own level looks different under a ceiling than under the next one below."""
    gates, rules = compiled.gates, compiled.schedule.rules
    changes: Literal = TRUE if min(own, ceiling) != own else FALSE
    for rule in reversed(below):
        holds = compiled.holds[rule]
        differs = min(own, rules[rule].effect.level_percent) != min(own, ceiling)
        changes = gates.any_of((holds, changes)) if differs else gates.all_of((-holds, changes))
    return changes
