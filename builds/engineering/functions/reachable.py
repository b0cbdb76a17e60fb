"""
Whether a state with timers can come about, and the settings and waits that bring it about.

Let the timers of a state that have run out be *done*, and those that have not although what they watch holds be *young*. A
done timer says that its condition held for its whole time. A young one says that its condition failed at some moment
within its time: a moment at which every done timer that lasts as long was counting. So a state can only be when for each
young timer there is a setting in which its condition fails while those of all done timers that last as long hold. Where
there is none, the conditions of some of those imply the young one's, and in every run these being done means that it is
done too: that is learnt. A delay that no state shows counting can never be done: that is learnt too. Where there is one for
each, the sequence is to hold the state's own setting and to visit each of them for an instant at the right moment before
the end. The evaluator then plays the sequence and has the last word.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.gates import Literal
from builds.engineering.functions.running import Run, TraceStep
from builds.engineering.functions.settings import AT_REST, setting_of_numbers
from builds.engineering.functions.solving import State, StateSpace

__all__ = ["Trace", "bring_about", "learn", "learn_never_done", "play"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """
    Settings with the moments from which they stand, and the moment to look; the module wakes at rest at 0 ms.

    ``settled`` says that it is one setting looked at after every timer that matters has run out.
    """

    steps: tuple[TraceStep, ...]
    look_ms: int
    settled: bool = False


def play(compiled: CompiledSchedule, trace: Trace, *, only: tuple[Literal, ...] = ()) -> Run:
    """
    Return a run that has gone through a sequence up to the moment to look.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    trace : Trace
        Settings and moments.
    only : tuple of literals
        What to follow, if not every rule.
    """
    run = Run.wake(compiled, AT_REST, only=only)
    for step in trace.steps:
        run.advance(step.at_ms)
        run.set(step.setting)
    run.advance(trace.look_ms)
    return run


def learn(space: StateSpace, state: State) -> bool:
    """
    Teach the space why a state with timers cannot be; False if nothing says so.

    Parameters
    ----------
    space : StateSpace
        Where it was found.
    state : State
        With its done and young timers.
    """
    learnt = False
    for young in state.young:
        longer = [done for done in state.done if done.duration_ms >= young.duration_ms]
        if not young.starts_done and all(done.starts_done for done in longer):
            continue  # the module may have woken within its time
        assumed = [-young.held, *(done.held for done in longer)]
        if not space.some(assumed):
            blamed = set(space.core(assumed))
            reasons = [done for done in longer if done.held in blamed]
            if young.starts_done or any(not done.starts_done for done in reasons):
                space.clause([young.gate, -young.held, *(-done.gate for done in reasons)])
                learnt = True
    return learnt


def learn_never_done(space: StateSpace, state: State) -> bool:
    """
    Teach the space which delays of a state can never run out; False if there are none.

    A delay that has run out was counting before: there was a moment at which what it watches held and it had not run out.
    Where no state has that (a rule lets the button go in the very moment it would count), it never runs out.

    Parameters
    ----------
    space : StateSpace
        Where the state was found.
    state : State
        With its done timers.
    """
    never = [done for done in state.done if not done.starts_done and not space.some([done.held, -done.gate])]
    for done in never:
        space.clause([-done.gate])
    return bool(never)


def bring_about(
    space: StateSpace, compiled: CompiledSchedule, state: State, wanted: tuple[Literal, ...]
) -> Trace | None:
    """
    Return a sequence after which all of ``wanted`` hold, as the evaluator confirms; None if none is found at once.

    Parameters
    ----------
    space : StateSpace
        Where the state was found.
    compiled : CompiledSchedule
        What the sequence is played on.
    state : State
        The state to bring about.
    wanted : tuple of literals
        What must hold at its end.
    """
    if not state.done and not state.young and not space.gates.timers_in((*wanted, space.possible)):
        return replace(_trace(compiled, [(0, state.numbers)], 0), settled=True)
    for trace in _traces(space, compiled, state):
        values = play(compiled, trace, only=wanted).values
        if all(values[literal] for literal in wanted):
            return trace
    return None


def _traces(space: StateSpace, compiled: CompiledSchedule, state: State) -> Iterator[Trace]:
    """Sequences worth playing, the plainest first."""
    timers = (*state.done, *state.young)
    longest_ms = max((timer.duration_ms for timer in timers), default=0)
    if not state.young:
        yield replace(_trace(compiled, [(0, state.numbers)], _settled_ms(compiled, state)), settled=True)
    needed_ms = max((done.duration_ms for done in state.done if not done.starts_done), default=0)
    if state.young and needed_ms < min(young.duration_ms for young in state.young):
        yield _trace(compiled, [(0, state.numbers)], needed_ms)
        numbers = _near(space, state.numbers, [-young.held for young in state.young])
        if numbers is not None:
            yield _trace(compiled, [(0, numbers), (1, state.numbers)], needed_ms + 1)
    before = [-young.held for young in state.young] + [done.held for done in state.done]
    if state.young and (numbers := _near(space, state.numbers, before)) is not None:
        held_ms = max((timer.duration_ms for timer in state.done), default=0)
        yield _trace(compiled, [(0, numbers), (held_ms, state.numbers)], held_ms)
    if state.young:
        yield from _visits(space, compiled, state, longest_ms)


def _settled_ms(compiled: CompiledSchedule, state: State) -> int:
    """When the last timer of a setting brought about at 0 ms has run out; one may wait for another."""
    run = Run.wake(compiled, AT_REST, only=tuple(timer.gate for timer in state.done))
    run.set(setting_of_numbers(compiled.schedule.inputs, state.numbers))
    while (event_ms := run.next_event_ms()) is not None:
        run.advance(event_ms)
    return run.now_ms


def _visits(space: StateSpace, compiled: CompiledSchedule, state: State, longest_ms: int) -> Iterator[Trace]:
    """Hold the state's own setting; within the time of each young timer, leave it for a millisecond."""
    end_ms = 2 * longest_ms + len(state.young) + 1
    steps = [(0, state.numbers)]
    for young in sorted(state.young, key=lambda timer: -timer.duration_ms):
        longer = [done.held for done in state.done if done.duration_ms >= young.duration_ms]
        numbers = _near(space, state.numbers, [-young.held, *longer])
        if numbers is None:
            return
        at_ms = max(end_ms - young.duration_ms, steps[-1][0])
        steps += [(at_ms, numbers), (at_ms + 1, state.numbers)]
    yield _trace(compiled, steps, end_ms)


def _near(space: StateSpace, numbers: tuple[int, ...], wanted: list[Literal]) -> tuple[int, ...] | None:
    """The numbers of a setting in which all of these hold, as like the given one as giving up blamed inputs makes it."""
    kept = [one.literals[number] for one, number in zip(space.leaves, numbers, strict=True)]
    while not space.some([*wanted, *kept]):
        blamed = set(space.core(kept))
        if not blamed:
            return None
        kept = [literal for literal in kept if literal not in blamed]
    return space.state().numbers


def _trace(compiled: CompiledSchedule, steps: list[tuple[int, tuple[int, ...]]], look_ms: int) -> Trace:
    inputs = compiled.schedule.inputs
    return Trace(
        steps=tuple(TraceStep(at_ms=at_ms, setting=setting_of_numbers(inputs, numbers)) for at_ms, numbers in steps),
        look_ms=look_ms,
    )
