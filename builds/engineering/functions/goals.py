"""
What a test of a schedule has to show.

* Every rule wins: it holds, and an output tells.
* Every term of every rule's condition matters, both ways: it is true, and it is false, in a setting where it alone decides
  whether the rule holds, and an output tells. (Masking modified condition/decision coverage: the other terms may stand as
  they like, as long as they do not hide this one.) Its own signal is there: a lost one neither makes nor breaks it. A timer is
  a term too.

A step of a test either looks at a setting that has *settled*, or looks right after the inputs have changed from another
settled setting. For each timer a leaf says whether it *was* done before the change, so one set of goals serves both kinds
of step: a timer is done if what it watches holds and it was done before.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from builds.engineering.functions.appearances import channel_logics
from builds.engineering.functions.compiled import CompiledSchedule, input_literal
from builds.engineering.functions.conditions import (
    After,
    AllOf,
    AnyOf,
    Condition,
    ForAtLeast,
    ForAtMost,
    Not,
    children,
)
from builds.engineering.functions.gates import FALSE, TRUE, Literal
from builds.engineering.functions.observing import observed_literals
from builds.engineering.functions.printing import print_condition
from builds.engineering.functions.vocabulary import LOST, OFF, ON, EffectKind, FailState

__all__ = ["Before", "Goal", "GoalKind", "Term", "before_of", "button_seen", "goals_of", "terms_of"]


class GoalKind(StrEnum):
    """A rule wins; a term matters; a button is let go; two outputs are told apart; an input that is stuck is noticed."""

    WINS = "wins"
    MATTERS = "matters"
    LETS_GO = "lets go"
    APART = "apart"
    STUCK = "stuck"


@dataclass(frozen=True, slots=True)
class Goal:
    """
    Something to be shown, and where a step shows it.

    ``rule`` and ``term`` number rule and term, from 0; ``timer`` is the gate of a term that is a timer. ``latch`` is the
    number of a button that must have been on before.
    """

    kind: GoalKind
    literal: Literal
    rule: int
    term: int = -1
    value: bool = True
    text: str = ""
    timer: int = 0
    latch: int = -1


@dataclass(frozen=True, slots=True)
class Before:
    """Leaves that say how things stood before a step: ``settled`` that nothing changed, ``was`` which timers were done."""

    settled: Literal
    was: dict[int, Literal]


@dataclass(frozen=True, slots=True)
class Term:
    """One occurrence of a term: where it is true, and where it alone decides whether its rule holds."""

    part: Condition
    literal: Literal
    decides: Literal
    timer: int = 0


def before_of(compiled: CompiledSchedule) -> Before:
    """Return the leaves that say how things stood before a step; made once, for every timer of every term."""
    made = compiled.cache.get("before")
    if made is None:
        gates = compiled.gates
        _make_timers(compiled)
        made = compiled.cache["before"] = Before(gates.free(), {gate: gates.free() for gate in gates.timers})
    assert isinstance(made, Before)
    return made


def _make_timers(compiled: CompiledSchedule) -> None:
    """
    Make the gates of every timer on both rails.

    A condition that contradicts itself has become a constant, and the timers within it are on no graph yet; a term of it
    that is looked at by itself has them.
    """
    by_key = compiled.reads
    for rule in compiled.schedule.rules:
        waiting: list[Condition] = [rule.condition]
        while waiting:
            part = waiting.pop()
            waiting += children(part)
            if isinstance(part, ForAtLeast | ForAtMost | After):
                for sure in (True, False):
                    input_literal(compiled.gates, by_key, part, surely=sure)


def goals_of(compiled: CompiledSchedule) -> tuple[Goal, ...]:
    """
    Return the goals of every rule, in schedule order.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.

    Returns
    -------
    tuple of Goal
        One for winning and two for each term; some may be possible in no state.
    """
    observed = observed_literals(compiled)
    goals: list[Goal] = []
    for number, rule in enumerate(compiled.schedule.rules):
        if rule.effect.kind is not EffectKind.RELEASE:
            goals += _rule_goals(compiled, number, observed[number])
    for number, latch in compiled.releases:
        goals += _release_goals(compiled, number, latch)
    return tuple(goals)


def _rule_goals(compiled: CompiledSchedule, number: int, observed: Literal) -> Iterator[Goal]:
    gates = compiled.gates
    yield Goal(GoalKind.WINS, gates.all_of((compiled.holds[number], observed)), number)
    for place, term in enumerate(terms_of(compiled, number)):
        for value in (True, False):
            literal = gates.all_of((term.decides, term.literal if value else -term.literal, observed))
            yield Goal(GoalKind.MATTERS, literal, number, place, value, print_condition(term.part), term.timer)


def _release_goals(compiled: CompiledSchedule, number: int, latch: int) -> Iterator[Goal]:
    """
    Goals of a rule that lets a button go, told by what the button lights.

    Where the rule holds, the button was on before and is off now; where it does not, the button is on and a changed term
    would let it go. A condition that reads the button itself was looked at with it on.
    """
    gates, own = compiled.gates, compiled.leaves[latch]
    seen = button_seen(compiled, latch)
    holds, on, off = compiled.holds[number], own.literal(ON), own.literal(OFF)
    pressed = {on: TRUE, own.literal(LOST): FALSE}

    def then(literal: Literal) -> Literal:
        return gates.replaced(literal, pressed, timers="kept")

    yield Goal(GoalKind.LETS_GO, gates.all_of((then(holds), off, seen)), number, latch=latch)
    for place, term in enumerate(terms_of(compiled, number)):
        text = print_condition(term.part)
        for value in (True, False):
            here = (term.decides, term.literal if value else -term.literal)
            gone = gates.all_of((*map(then, (*here, holds)), off, seen))
            kept = gates.all_of((*here, -holds, on, seen))
            if gone != FALSE:
                yield Goal(GoalKind.MATTERS, gone, number, place, value, text, term.timer, latch)
            if kept != FALSE:
                yield Goal(GoalKind.MATTERS, kept, number, place, value, text, term.timer)


def button_seen(compiled: CompiledSchedule, latch: int) -> Literal:
    """Return where some output tells whether a button is on or off, everything else being as it is."""
    gates, own = compiled.gates, compiled.leaves[latch]
    on = {own.literal(ON): TRUE, own.literal(LOST): FALSE}
    off = {own.literal(ON): FALSE, own.literal(LOST): FALSE}
    return gates.any_of(
        gates.all_of((gates.replaced(shown, on, timers="kept"), -gates.replaced(shown, off, timers="kept")))
        for logic in channel_logics(compiled)
        for shown in logic.shows.values()
        if gates.support[abs(shown)] >> latch & 1
    )


def terms_of(compiled: CompiledSchedule, number: int) -> tuple[Term, ...]:
    """Return the terms of a rule's condition in reading order, a timer before what it times."""
    rule = compiled.schedule.rules[number]
    return tuple(_Terms(compiled).of(rule.condition, rule.fail is FailState.DOES_NOT_APPLY, TRUE))


class _Terms:
    def __init__(self, compiled: CompiledSchedule) -> None:
        self.gates = compiled.gates
        self.before = before_of(compiled)
        self.by_key = compiled.reads

    def literal(self, part: Condition, sure: bool) -> Literal:
        return input_literal(self.gates, self.by_key, part, surely=sure)

    def of(self, part: Condition, sure: bool, decides: Literal) -> Iterator[Term]:
        """The terms within a part, given where the part itself decides."""
        match part:
            case Not(term=term):
                yield from self.of(term, not sure, decides)
            case AllOf(terms=terms) | AnyOf(terms=terms):
                sides = [self.literal(term, sure) for term in terms]
                for place, term in enumerate(terms):
                    others = [side for at, side in enumerate(sides) if at != place]
                    quiet = others if isinstance(part, AllOf) else [-other for other in others]
                    yield from self.of(term, sure, self.gates.all_of((decides, *quiet)))
            case ForAtLeast() | ForAtMost() | After():
                yield Term(part, self.literal(part, sure), *self._timer_decides(part, sure, decides))
                through = self.gates.all_of((decides, self._passes(part, sure)))
                yield from self.of(part.term, sure if not isinstance(part, After) else not sure, through)
            case _:
                sides = [self.literal(part, surely) for surely in (True, False)]
                decided = self.gates.any_of((self.gates.all_of(sides), self.gates.all_of(-side for side in sides)))
                yield Term(part, self.literal(part, sure), self.gates.all_of((decides, decided)))

    def _timer(self, part: ForAtLeast | ForAtMost | After, sure: bool) -> Literal:
        """The gate behind a timed term; FALSE or TRUE where its condition is constant."""
        match part:
            case ForAtLeast(term=term, duration_ms=duration_ms):
                return self.gates.timer(self.literal(term, sure), duration_ms=duration_ms)
            case ForAtMost(term=term, duration_ms=duration_ms):
                return self.gates.timer(self.literal(term, not sure), duration_ms=duration_ms)
            case After(term=term, duration_ms=duration_ms):
                return self.gates.timer(-self.literal(term, sure), duration_ms=duration_ms, starts_done=True)

    def _passes(self, part: ForAtLeast | ForAtMost | After, sure: bool) -> Literal:
        """Where what is timed shows through its timer: a delay that was done, or settles; a window that has just opened."""
        timer = self._timer(part, sure)
        was = self.before.was.get(timer, timer if timer in (TRUE, FALSE) else FALSE)
        if isinstance(part, ForAtLeast):
            return self.gates.any_of((was, self.before.settled))
        return self.gates.all_of((-was, -self.before.settled))

    def _timer_decides(self, part: ForAtLeast | ForAtMost | After, sure: bool, decides: Literal) -> tuple[Literal, int]:
        """Where the timer, and not what it times, decides: what it watches holds, run out or not; and the timer."""
        timer = self._timer(part, sure)
        if timer in (TRUE, FALSE):
            return FALSE, 0
        return self.gates.all_of((decides, self.gates.timers[timer].held)), timer
