"""
Two schedules compared by what they do: equal, or the smallest setting in which they differ.

Both are put on one graph with the inputs they share, so whatever they say alike becomes the same gate and needs no proof.
An output is equal where no reachable state makes it show different things; rules may be named, ordered and written as they
like. Where one schedule has an input or a position that the other lacks, the other does not react to it.

Every state is compared that the givens of either allow. A difference is looked for where both allow it; where there is
none, and the givens are not the same, in what only one of them allows.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from builds.engineering.functions.appearances import channel_logics, differ
from builds.engineering.functions.compiled import CompiledSchedule, Leaves, compile_schedule, new_leaves
from builds.engineering.functions.declared import DeclaredDifference, declared_differences
from builds.engineering.functions.gates import FALSE, TRUE, Gates, Literal
from builds.engineering.functions.letting_go import left_on, letting_nothing_go
from builds.engineering.functions.proof import Counterexample, SpaceInUse, Verdict, find_state
from builds.engineering.functions.reachable import Trace, play
from builds.engineering.functions.running import Run
from builds.engineering.functions.schedule import FunctionSchedule, Input
from builds.engineering.functions.settings import AT_REST
from builds.engineering.functions.vocabulary import LOST, ON, InputKind
from builds.engineering.functions.words import shown_words, trace_sentence

__all__ = ["Comparison", "OutputDifference", "Side", "compare_schedules"]


class Side(StrEnum):
    """Which of two schedules."""

    ONE = "one"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputDifference:
    """
    An output that does not do the same in both, or that could be neither shown equal nor different (``example`` None).

    ``what`` is the channel, or a latching button that is let go in one and not in the other. ``excluded_by`` says which side
    has a given that excludes the state: they differ only where that side says the vehicle never is.
    """

    what: str
    example: Counterexample | None
    how: str = ""
    one_shows: str = ""
    other_shows: str = ""
    excluded_by: Side | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """
    What two schedules do differently; keys that only one of them has are listed, not compared.

    ``declared`` is what they declare differently, a given that only one of them has among it. States that the givens of
    both exclude are not compared; ``has_givens_apart`` where they exclude different ones, and those were compared too.
    """

    equal: tuple[str, ...]
    different: tuple[OutputDifference, ...]
    only_in_one: tuple[str, ...]
    only_in_other: tuple[str, ...]
    declared: tuple[DeclaredDifference, ...] = ()
    has_givens_apart: bool = False

    @property
    def same_behaviour(self) -> bool:
        """Whether both have the same outputs, each always does the same, and controls are worked alike."""
        otherwise = any(one.is_worked_otherwise for one in self.declared)
        return not (self.different or self.only_in_one or self.only_in_other or otherwise)


def compare_schedules(one: FunctionSchedule, other: FunctionSchedule) -> Comparison:
    """
    Return where two schedules differ in what their outputs do.

    Parameters
    ----------
    one, other : FunctionSchedule
        Inputs and channels of the same key are taken to be the same thing.

    Returns
    -------
    Comparison
        By output, in the order of the first schedule; each difference with the smallest setting that shows it.

    Raises
    ------
    LanguageError
        If a name of either stands for nothing.
    """
    gates, leaves, inputs = _shared(one, other)
    first, second = (compile_schedule(schedule, gates=gates, leaves=leaves) for schedule in (one, other))
    joint = _joint(first, second, inputs, leaves)
    numbers = {channel.key: number for number, channel in enumerate(second.schedule.channels)}
    equal, different = [], []
    with _Search(joint, first, second) as search:
        for number, channel in enumerate(first.schedule.channels):
            if channel.key in numbers:
                found = _difference(search, (number, numbers[channel.key]))
                equal += [] if found else [channel.key]
                different += [found] if found else []
        different += _buttons(search)
    keys = {channel.key for channel in first.schedule.channels}
    return Comparison(
        equal=tuple(equal),
        different=tuple(different),
        only_in_one=tuple(channel.key for channel in first.schedule.channels if channel.key not in numbers),
        only_in_other=tuple(channel.key for channel in second.schedule.channels if channel.key not in keys),
        declared=declared_differences(first.schedule, second.schedule),
        has_givens_apart=first.allowed != second.allowed,
    )


def _shared(one: FunctionSchedule, other: FunctionSchedule) -> tuple[Gates, dict[str, Leaves], tuple[Input, ...]]:
    """A graph with leaves for the inputs of both; a control that has other positions in the two has all of them."""
    theirs = {part.key: part for part in other.inputs}
    inputs = [_both(part, theirs.pop(part.key, part)) for part in one.inputs] + list(theirs.values())
    gates = Gates()
    leaves = {
        part.key: new_leaves(gates, number=number, values=part.values, rest=part.rest)
        for number, part in enumerate(inputs)
    }
    return gates, leaves, tuple(inputs)


def _both(one: Input, other: Input) -> Input:
    if one.stands == other.stands:
        return one
    stands = tuple(dict.fromkeys((*one.stands, *other.stands)))
    return replace(one, kind=InputKind.SELECTOR, positions=stands)


def _joint(
    first: CompiledSchedule, second: CompiledSchedule, inputs: tuple[Input, ...], leaves: dict[str, Leaves]
) -> CompiledSchedule:
    """Both as one schedule without channels, to look for states in: a button is let go where either lets it go."""
    gates = first.gates
    places = {part.key: place for place, part in enumerate(inputs)}
    releases = [
        (offset + rule, places[compiled.schedule.inputs[latch].key])
        for offset, compiled in ((0, first), (len(first.holds), second))
        for rule, latch in compiled.releases
    ]
    return CompiledSchedule(
        schedule=FunctionSchedule(inputs=inputs),
        gates=gates,
        names=first.names,
        leaves=tuple(leaves.values()),
        holds=(*first.holds, *second.holds),
        channels=(),
        releases=tuple(releases),
        allowed=gates.all_of((first.allowed, second.allowed)),
        stable=gates.all_of((first.stable, second.stable)),
    )


class _Search:
    """
    The states of both schedules: those that the givens of both allow, and where they are not the same, of either.

    ``moments`` are those in which nothing has been let go yet; ``sides`` are the two with the inputs of both.
    """

    def __init__(self, joint: CompiledSchedule, first: CompiledSchedule, second: CompiledSchedule) -> None:
        gates = joint.gates
        self.first, self.second, self.joint = first, second, joint
        allowed = [joint.allowed]
        if first.allowed != second.allowed:
            allowed.append(gates.any_of((first.allowed, second.allowed)))
        self.spaces = [SpaceInUse(replace(joint, allowed=literal)) for literal in allowed]
        self.moments = [SpaceInUse(letting_nothing_go(spaces.compiled)) for spaces in self.spaces]
        rules = len(first.holds)
        self.sides = tuple(
            replace(joint, releases=tuple(pair for pair in joint.releases if (pair[0] < rules) == is_first))
            for is_first in (True, False)
        )

    def __enter__(self) -> "_Search":
        return self

    def __exit__(self, *_: object) -> None:
        for spaces in (*self.spaces, *self.moments):
            spaces.__exit__()

    def find(self, literal: Literal, *, moments: bool = False) -> tuple[Verdict, Counterexample | None]:
        """PROVED where no state makes it true; else the smallest that does, first among those that both allow."""
        verdict, example = Verdict.PROVED, None
        if literal == FALSE:
            return verdict, example
        for spaces in self.moments if moments else self.spaces:
            verdict, example = find_state(spaces, (literal,))
            if verdict is not Verdict.PROVED:
                break
        return verdict, example

    def excluded_by(self, example: Counterexample | None) -> Side | None:
        """Whose givens exclude a state."""
        if example is None:
            return None
        allowed = {Side.ONE: self.first.allowed, Side.OTHER: self.second.allowed}
        values = play(self.joint, example.trace, only=tuple(allowed.values())).values
        return next((side for side, literal in allowed.items() if not values[literal]), None)


def _difference(search: _Search, channel: tuple[int, int]) -> OutputDifference | None:
    first, second, joint = search.first, search.second, search.joint
    shows = channel_logics(first)[channel[0]].shows, channel_logics(second)[channel[1]].shows
    literal = differ(first.gates, *shows)
    verdict, example = search.find(literal)
    if verdict is Verdict.PROVED:
        return None
    key = first.schedule.channels[channel[0]].key
    kinds = first.schedule.channels[channel[0]].kind, second.schedule.channels[channel[1]].kind
    if example is None:
        return OutputDifference(what=key, example=None)
    values = play(joint, example.trace, only=tuple(one for side in shows for one in side.values())).values
    looks = [next(look for look, shown in side.items() if values[shown]) for side in shows]
    return OutputDifference(
        what=key,
        example=example,
        how=trace_sentence(joint.schedule, example.trace),
        one_shows=shown_words(first, looks[0], kinds[0]),
        other_shows=shown_words(second, looks[1], kinds[1]),
        excluded_by=search.excluded_by(example),
    )


def _buttons(search: _Search) -> Iterator[OutputDifference]:
    """Latching buttons of both that are let go in one where they are not in the other, if any output ever tells."""
    gates = search.joint.gates
    left = [left_on(side) for side in search.sides]
    shared = _latching(search.second) & left[0].keys() | _latching(search.first) & left[1].keys()
    for part in search.first.schedule.inputs:
        if part.key in shared:
            on = search.joint.leaves_of(part.key).literal(ON)
            one, other = (of.get(part.key, on) for of in left)
            apart = gates.any_of((gates.all_of((one, -other)), gates.all_of((other, -one))))
            verdict, example = search.find(apart, moments=True)
            if (
                verdict is not Verdict.PROVED
                and search.find(_told(search, part.key), moments=True)[0] is not Verdict.PROVED
            ):
                shown = example if example is not None and _parts(search, example.trace, part.key) else None
                how = "" if shown is None else trace_sentence(search.joint.schedule, shown.trace)
                yield OutputDifference(what=part.key, example=shown, how=how, excluded_by=search.excluded_by(shown))


def _latching(compiled: CompiledSchedule) -> set[str]:
    return {part.key for part in compiled.schedule.inputs if part.kind is InputKind.LATCHING}


def _told(search: _Search, key: str) -> Literal:
    """Where both rest, and outputs tell a button that is off in one schedule from the same button on in the other."""
    first, second, gates = search.first, search.second, search.joint.gates
    own = search.joint.leaves_of(key)
    off, on = ({own.literal(ON): literal, own.literal(LOST): FALSE} for literal in (FALSE, TRUE))
    numbers = {channel.key: number for number, channel in enumerate(second.schedule.channels)}
    pairs = [
        (logic.shows, channel_logics(second)[numbers[channel.key]].shows)
        for channel, logic in zip(first.schedule.channels, channel_logics(first), strict=True)
        if channel.key in numbers
    ]
    told = []
    for here, there in ((off, on), (on, off)):
        rests = gates.replaced(first.stable, here), gates.replaced(second.stable, there)
        for one, other in pairs:
            looks = [
                {look: gates.replaced(shown, leaves) for look, shown in side.items()}
                for side, leaves in ((one, here), (other, there))
            ]
            told.append(gates.all_of((*rests, differ(gates, *looks))))
    return gates.any_of(told)


def _parts(search: _Search, trace: Trace, key: str) -> bool:
    """Whether a button stands otherwise in the two after a sequence, or did on the way: the evaluator has the last word."""
    (number,) = (number for number, part in enumerate(search.joint.schedule.inputs) if part.key == key)
    runs = [Run.wake(side, AT_REST) for side in search.sides]
    for at_ms, setting in (*((step.at_ms, step.setting) for step in trace.steps), (trace.look_ms, None)):
        for run in runs:
            run.advance(at_ms)
            if setting is not None:
                run.set(setting)
        if runs[0].numbers[number] != runs[1].numbers[number]:
            return True
    return False
