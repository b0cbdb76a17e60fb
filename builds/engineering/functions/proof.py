"""
Claims proved over every reachable state, or refuted by the smallest counterexample.

Every setting of the inputs can be brought about, lost signals among them; a latching button can be on wherever no rule
lets it go; a timer can be anything its condition allows that some run leads to. A claim is broken by a state that
*certainly* breaks it. A claim that no state certainly breaks, but that some state leaves undecided because a signal is
lost, is proved, and the result says where it is undecided.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from builds.engineering.functions.appearances import output_literal
from builds.engineering.functions.compiled import CompiledSchedule, condition_literal, input_leaf
from builds.engineering.functions.conditions import Condition, InputIs, OutputIs, leaves
from builds.engineering.functions.evaluate import Outcome, evaluate
from builds.engineering.functions.every_state import Found, look_everywhere
from builds.engineering.functions.gates import Literal
from builds.engineering.functions.reachable import Trace, bring_about, learn, learn_never_done, play
from builds.engineering.functions.schedule import Claim
from builds.engineering.functions.settings import Setting, setting_of_numbers
from builds.engineering.functions.solving import StateSpace
from builds.engineering.functions.unrolled import search
from builds.engineering.functions.vocabulary import ClaimKind

__all__ = [
    "ClaimResult",
    "Counterexample",
    "SpaceInUse",
    "Verdict",
    "broken_literal",
    "claim_literal",
    "find_state",
    "outcomes_read",
    "prove_claim",
    "prove_claims",
]

_MOST_DOUBTED = 8
_LARGE = 500  # variables; measured, between one space for each question and one for all


class Verdict(StrEnum):
    """What became of a claim: it holds, a state breaks it, or the search could neither reach nor exclude one."""

    PROVED = "proved"
    REFUTED = "refuted"
    OPEN = "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class Counterexample:
    """
    A reachable state and how to bring it about.

    ``setting`` has the fewest inputs away from rest that any such state has, unless ``is_smallest`` is False: then some
    setting with fewer could be neither brought about nor excluded. ``trace`` starts at rest.
    """

    setting: Setting
    trace: Trace
    is_smallest: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimResult:
    """A claim with its verdict; ``undecided`` is the smallest state in which lost signals leave it open, if any."""

    claim: Claim
    verdict: Verdict
    counterexample: Counterexample | None = None
    undecided: Counterexample | None = None


class SpaceInUse:
    """
    The states of a schedule for a solver, opened anew when many questions have made the old space large.

    Questions that come together often rest on the same gates; those of a large space take longer.
    """

    def __init__(self, compiled: CompiledSchedule) -> None:
        self.compiled = compiled
        self.solved = 0
        self._space: StateSpace | None = None

    def __enter__(self) -> "SpaceInUse":
        return self

    def __exit__(self, *_: object) -> None:
        self._leave()

    def space(self) -> StateSpace:
        """Return a space for the next question."""
        if self._space is not None and self._space.size > _LARGE:
            self._leave()
        if self._space is None:
            self._space = StateSpace(self.compiled.gates, self.compiled.leaves, self.compiled.possible)
        return self._space

    def _leave(self) -> None:
        if self._space is not None:
            self.solved += self._space.solved
            self._space.close()
            self._space = None


def claim_literal(compiled: CompiledSchedule, condition: Condition, *, surely: bool) -> Literal:
    """Return where a condition over inputs and outputs is surely true, or possibly true."""
    by_key = compiled.reads

    def leaf(part: InputIs | OutputIs, sure: bool) -> Literal:
        if isinstance(part, OutputIs):
            return output_literal(compiled, part)
        return input_leaf(compiled.gates, by_key, part, sure)

    return condition_literal(compiled.gates, condition, leaf, surely=surely)


def broken_literal(compiled: CompiledSchedule, claim: Claim, *, surely: bool = True) -> Literal:
    """Return where a claim is surely broken, or where it is possibly broken."""
    condition = claim_literal(
        compiled, claim.condition, surely=surely if claim.kind is not ClaimKind.ALWAYS else not surely
    )
    match claim.kind:
        case ClaimKind.ALWAYS:
            return -condition
        case ClaimKind.NEVER:
            return condition
        case ClaimKind.WHENEVER:
            assert claim.then is not None
            return compiled.gates.all_of((condition, -claim_literal(compiled, claim.then, surely=not surely)))


def prove_claims(compiled: CompiledSchedule, claims: Iterable[Claim] | None = None) -> tuple[ClaimResult, ...]:
    """
    Return every claim with its verdict.

    Parameters
    ----------
    compiled : CompiledSchedule
        The schedule.
    claims : iterable of Claim, optional
        Claims with names as declared; the schedule's own if left out.

    Returns
    -------
    tuple of ClaimResult
        One per claim, in order. Two runs give the same.
    """
    with SpaceInUse(compiled) as spaces:
        return tuple(prove_claim(spaces, claim) for claim in (compiled.schedule.claims if claims is None else claims))


def prove_claim(spaces: SpaceInUse, claim: Claim) -> ClaimResult:
    """
    Return one claim with its verdict.

    Parameters
    ----------
    spaces : SpaceInUse
        Of the schedule.
    claim : Claim
        With names as declared.
    """
    verdict, found = find_state(spaces, (broken_literal(spaces.compiled, claim),))
    if verdict is Verdict.PROVED:
        return ClaimResult(claim=claim, verdict=verdict, undecided=_undecided(spaces, claim))
    return ClaimResult(claim=claim, verdict=verdict, counterexample=found)


def find_state(spaces: SpaceInUse, wanted: tuple[Literal, ...]) -> tuple[Verdict, Counterexample | None]:
    """
    Look for a reachable state in which all of ``wanted`` hold.

    Parameters
    ----------
    spaces : SpaceInUse
        Of the schedule.
    wanted : tuple of literals
        What has to hold.

    Returns
    -------
    tuple
        PROVED and None where no state has it; REFUTED with the smallest setting and its sequence; OPEN and None where a
        state could be neither brought about nor excluded.
    """
    compiled, space = spaces.compiled, spaces.space()
    doubted: list[Literal] = []
    while len(doubted) < _MOST_DOUBTED:
        state = space.smallest((*wanted, *doubted))
        if state is None:
            return (Verdict.OPEN if doubted else Verdict.PROVED), None
        if state.young and learn(space, state):
            continue
        trace = bring_about(space, compiled, state, wanted)
        if trace is None and learn_never_done(space, state):
            continue
        trace = trace or search(compiled, wanted, state.numbers)
        if trace is not None:
            found = Counterexample(
                setting=setting_of_numbers(compiled.schedule.inputs, state.numbers),
                trace=trace,
                is_smallest=not doubted,
            )
            return Verdict.REFUTED, found
        if not doubted and (everywhere := look_everywhere(compiled, wanted)) is not None:
            return _decided(compiled, everywhere)
        here = [one.literals[number] for one, number in zip(compiled.leaves, state.numbers, strict=True)]
        doubted.append(-compiled.gates.all_of(here))
    return Verdict.OPEN, None


def _decided(compiled: CompiledSchedule, found: Found) -> tuple[Verdict, Counterexample | None]:
    """What looking at every state came to."""
    if found.trace is None:
        return Verdict.PROVED, None
    setting = setting_of_numbers(compiled.schedule.inputs, found.numbers)
    return Verdict.REFUTED, Counterexample(setting=setting, trace=found.trace)


def _undecided(spaces: SpaceInUse, claim: Claim) -> Counterexample | None:
    """The smallest state in which lost signals leave a proved claim open."""
    possibly = broken_literal(spaces.compiled, claim, surely=False)
    return None if possibly == broken_literal(spaces.compiled, claim) else find_state(spaces, (possibly,))[1]


def outcomes_read(compiled: CompiledSchedule, claim: Claim, trace: Trace) -> tuple[Outcome, ...]:
    """Return what the channels that a claim speaks of do at the end of a sequence, in schedule order."""
    conditions = [claim.condition] if claim.then is None else [claim.condition, claim.then]
    read = {
        channel
        for condition in conditions
        for leaf in leaves(condition)
        if isinstance(leaf, OutputIs)
        for channel in compiled.names.members(leaf.target)
    }
    outcomes = evaluate(compiled, trace.steps[-1].setting) if trace.settled else play(compiled, trace).outcomes()
    return tuple(outcome for outcome in outcomes if outcome.channel in read)
