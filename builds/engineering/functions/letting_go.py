"""
What lets latching buttons go, as gates.

A rule that lets a button go does so in the very moment in which its condition comes to hold, so no state in which the
vehicle rests shows it: that button is off there already. Such a moment is a state of the schedule in which nothing is let
go. Every moment of a run is one of those: what was let go on the way there may as well have been pressed off.
"""

from collections.abc import Mapping
from dataclasses import replace

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.gates import TRUE, Literal
from builds.engineering.functions.vocabulary import ON

__all__ = ["left_on", "lets_go", "letting_nothing_go"]


def letting_nothing_go(compiled: CompiledSchedule) -> CompiledSchedule:
    """Return the schedule without what its rules let go, on the same gates."""
    return replace(compiled, releases=(), stable=TRUE)


def lets_go(compiled: CompiledSchedule, rule: int) -> Literal:
    """Return where a rule (by number) meets a button that it lets go: a state of :func:`letting_nothing_go`."""
    gates = compiled.gates
    return gates.any_of(
        gates.all_of((compiled.leaves[latch].literal(ON), compiled.holds[rule]))
        for other, latch in compiled.releases
        if other == rule
    )


def left_on(compiled: CompiledSchedule) -> dict[str, Literal]:
    """
    Return by key where each button that some rule lets go is still on once everything has let go in a moment.

    Buttons are let go one at a time, the first rule in schedule order that holds first, and each time all conditions are
    looked at anew. A button is worked out by itself where no condition reads it together with another one.
    """
    gates, releases = compiled.gates, compiled.releases
    alone = _alone(compiled)
    on = {latch: compiled.leaves[latch].literal(ON) for _, latch in releases}
    for latch in alone:
        on[latch] = gates.all_of((on[latch], *(-compiled.holds[rule] for rule, other in releases if other == latch)))
    together = [(rule, latch) for rule, latch in releases if latch not in alone]
    for _ in {latch for _, latch in together}:  # each time at most one of them is let go
        was = dict(on)
        leaves = {compiled.leaves[latch].literal(ON): literal for latch, literal in was.items() if latch not in alone}
        earlier: list[Literal] = []
        for rule, latch in together:
            active = gates.all_of((was[latch], gates.replaced(compiled.holds[rule], leaves)))
            goes = gates.all_of((active, *(-other for other in earlier)))
            on[latch] = gates.all_of((on[latch], -goes))
            earlier.append(active)
        if on == was:
            break
    return {compiled.schedule.inputs[latch].key: literal for latch, literal in on.items()}


def _alone(compiled: CompiledSchedule) -> frozenset[int]:
    """Buttons that no condition of another one's reads, and whose own conditions read no other one."""
    latches = {latch for _, latch in compiled.releases}
    read: Mapping[int, set[int]] = {latch: set() for latch in latches}
    for rule, latch in compiled.releases:
        read[latch] |= {one for one in compiled.gates.inputs_of((compiled.holds[rule],)) if one in latches}
    by_others = {one for latch, ones in read.items() for one in ones if one != latch}
    return frozenset(latch for latch in latches if read[latch] <= {latch} and latch not in by_others)
